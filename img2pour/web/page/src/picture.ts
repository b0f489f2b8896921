/** Step 1: the upright picture with its handles, and beside it what becomes of it. */

import type { Point, Section } from "./api";
import {
  cropCorners,
  cropFrame,
  cropMoved,
  mirrored,
  pointText,
  readCorners,
  turned,
  withCrop,
} from "./cutting";
import { button, freshId, h } from "./dom";
import { faultLine, switchField } from "./fields";
import { type Grip, Handles } from "./handles";
import { isSheet } from "./homography";
import "./picture.css";
import type { Page } from "./page";
import { Result } from "./result";
import { measuredChanges, readMeasured, scaleField } from "./scale";
import { straightenField } from "./straighten";

type Tool = "look" | "corners" | "crop" | "measure";

const TOOLS: [Tool, string, string][] = [
  ["look", "Look", "The picture as it came."],
  ["corners", "Corners", "Put the four handles on the corners of the sheet or of the artwork."],
  ["crop", "Crop", "What lies inside the frame is kept."],
  ["measure", "Measure", "Put two points on it and type what you measured between them."],
];
const CORNERS = [
  "Upper left corner",
  "Upper right corner",
  "Lower right corner",
  "Lower left corner",
];
const SIDES = ["Crop, upper left", "Crop, upper right", "Crop, lower right", "Crop, lower left"];

export function mount(host: HTMLElement, page: Page): void {
  new PictureStep(host, page);
}

class PictureStep {
  private tool: Tool = "look";
  private readonly image = h("img", { class: "pane-image", alt: "The picture as it came" });
  private readonly handles = new Handles(this.image, () => this.draw());
  private readonly result: Result;
  private readonly hint = h("p", { class: "hint pane-hint" });
  private readonly panes = h("div", { class: "panes" });
  private readonly tools: Record<string, HTMLButtonElement> = {};
  private readonly length = h("input", { type: "text", class: "input", id: freshId("length") });
  private readonly lengthField: HTMLElement;
  private readonly unCrop: HTMLButtonElement;
  private points: [Point, Point] | null = null;

  constructor(
    host: HTMLElement,
    private readonly page: Page,
  ) {
    this.result = new Result(page, this.image);
    this.lengthField = this.measureField();
    this.unCrop = button("Keep all of it", () =>
      this.frame("Crop taken away", (touches) => withCrop(touches, null)),
    );
    const bar = h("div", { class: "segments", role: "group", "aria-label": "Tool" });
    for (const [tool, word] of TOOLS) {
      const press = button(word, () => this.use(tool), { class: "button segment" });
      this.tools[tool] = press;
      bar.append(press);
    }
    const source = h("figure", { class: "pane-frame" });
    source.append(this.handles.element, h("figcaption", { class: "pane-name" }, "As it came"));
    this.panes.append(source, this.result.element);
    host.append(bar, this.hint, this.panes, this.lengthField, this.unCrop, ...this.settings());
    page.store.watch(["state", "parts"], () => this.draw());
    page.store.watch(["open"], () => {
      this.image.removeAttribute("src");
      delete this.image.dataset.job;
      this.use("look");
    });
  }

  private get touches(): Section[] {
    return this.page.edit.list("touch");
  }

  private frame(label: string, made: (touches: Section[]) => Section[]): Promise<boolean> {
    return this.page.edit.follow(label, () => [{ path: "touch", value: made(this.touches) }]);
  }

  private settings(): HTMLElement[] {
    const turns = h("div", { class: "row turns", role: "group", "aria-label": "Turn and mirror" });
    turns.append(
      button("Turn left", () => this.frame("Turned left", (touches) => turned(touches, 270))),
      button("Turn right", () => this.frame("Turned right", (touches) => turned(touches, 90))),
      button("Mirror", () => this.frame("Mirrored", mirrored)),
    );
    const light = switchField(
      this.page,
      {
        path: "photo.light",
        label: "Even out shadows and paper tone",
        step: "Light",
      },
      "auto",
      "off",
    );
    return [
      straightenField(this.page, () => this.use("corners")),
      turns,
      faultLine(this.page, "touch"),
      light,
      scaleField(this.page, (yes) => this.use(yes ? "measure" : "look")),
    ];
  }

  private use(tool: Tool): void {
    this.tool = tool;
    for (const [name] of TOOLS) {
      this.tools[name]?.setAttribute("aria-pressed", String(name === tool));
    }
    this.hint.textContent = TOOLS.find(([name]) => name === tool)?.[2] ?? "";
    this.panes.classList.toggle("panes-look", tool === "look");
    this.handles.show(null);
    this.draw();
  }

  private draw(): void {
    const { state, parts } = this.page.store.now;
    const picture = state?.picture ?? null;
    if (state === null || picture === null) {
      this.image.removeAttribute("src");
      return;
    }
    // The picture itself never changes, so its address stays that of the first revision seen.
    const { brought } = this.page.store.now;
    if (parts.source !== undefined) {
      if (this.image.dataset.job !== state.id) {
        this.image.dataset.job = state.id;
        this.image.src = this.page.api.url.source(state.id, state.revision);
      }
    } else if (brought !== null) this.image.src = brought;
    this.handles.setSize(picture.width_px, picture.height_px);
    this.result.setRatio(picture.width_px, picture.height_px);
    this.handles.show(this.grip(picture.width_px, picture.height_px));
    this.lengthField.hidden = this.tool !== "measure";
    this.unCrop.hidden =
      this.tool !== "crop" || !this.touches.some((touch) => touch.action === "crop");
  }

  private grip(width: number, height: number): Grip | null {
    if (this.tool === "corners") return this.cornerGrip(width, height);
    if (this.tool === "crop") return this.cropGrip(width, height);
    if (this.tool === "measure") return this.measureGrip(width, height);
    return null;
  }

  /** The corners of the sheet: those given, which may not be worked in yet, or those found. */
  private get corners(): Point[] | null {
    const given = readCorners(this.page.edit.value("photo.straighten"));
    return given ?? this.page.store.now.parts.source?.corners_px ?? null;
  }

  private cornerGrip(width: number, height: number): Grip {
    const at = this.corners ?? inset(width, height);
    return {
      names: CORNERS,
      at,
      closed: true,
      moved: (index, to, before) => {
        const after = before.map((point, i) => (i === index ? to : point));
        return isSheet(after) ? after : before;
      },
      moving: (corners) => this.result.showWarped(corners, width, height),
      done: (corners) =>
        this.page.edit.set("Corners", "photo.straighten", corners.map(pointText).join(" ")),
    };
  }

  private cropGrip(width: number, height: number): Grip {
    const frame = cropFrame(this.corners, width, height);
    return {
      names: SIDES,
      at: cropCorners(this.touches, frame),
      closed: true,
      moved: (index, to, before) => cropMoved(index, to, before, frame),
      moving: (at) => this.result.showWarped(at, width, height),
      done: (at) => this.frame("Crop", (touches) => withCrop(touches, at)),
    };
  }

  private measureGrip(width: number, height: number): Grip {
    const known = readMeasured(this.page.edit.value("photo.measure"));
    const at = known?.points ??
      this.points ?? [
        [width * 0.25, height / 2],
        [width * 0.75, height / 2],
      ];
    this.points = at as [Point, Point];
    if (known !== null && document.activeElement !== this.length) this.length.value = known.length;
    return {
      names: ["First point", "Second point"],
      at,
      closed: false,
      moved: (index, to, before) => before.map((point, i) => (i === index ? to : point)),
      done: (points) => {
        this.points = points as [Point, Point];
        return this.measure();
      },
    };
  }

  private measureField(): HTMLElement {
    this.length.placeholder = "7 1/2 in";
    this.length.autocomplete = "off";
    this.length.addEventListener("change", () => void this.measure());
    const label = h("label", { class: "label", for: this.length.id }, "Between the two points");
    const fault = faultLine(this.page, "photo.measure", this.length);
    return h("div", { class: "field" }, label, this.length, fault);
  }

  /** Send the two points, once their length is typed. */
  private async measure(): Promise<boolean> {
    const length = this.length.value.trim();
    if (this.points === null || !length) return false;
    const text = `${this.points.map(pointText).join(" ")} =${length}`;
    return this.page.edit.apply("Measured length", measuredChanges(text));
  }
}

function inset(width: number, height: number): Point[] {
  const [x, y] = [width * 0.06, height * 0.06];
  return [
    [x, y],
    [width - x, y],
    [width - x, height - y],
    [x, height - y],
  ];
}
