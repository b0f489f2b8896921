/** The 3D view on the page: asked for by a button, turned by hand, keys or buttons. */

import { ApiError } from "../api";
import { button, fill, h } from "../dom";
import type { Page } from "../page";
import { planOf } from "../pours/plan";
import { dragged, FROM_CORNER, moved, standWords, stepped, type Move, type Stand } from "./camera";
import { getBoard } from "./fetch";
import { byHand } from "./hand";
import { boardInWords } from "./inwords";
import type { View3D } from "./scene";

const KEYS: Record<string, Move> = {
  ArrowLeft: "left",
  ArrowRight: "right",
  ArrowUp: "up",
  ArrowDown: "down",
  "+": "nearer",
  "=": "nearer",
  "-": "farther",
  "0": "corner",
};
const MOST_TIMES = 6;
const NO_WEBGL = "This browser cannot draw in three dimensions.";

export class Solid {
  readonly element = h("div", { class: "solid stack" });
  private readonly stage = h("div", { class: "solid-stage" });
  private readonly status = h("p", { class: "hint solid-status" });
  private readonly controls = h("div", { class: "solid-controls", hidden: true });
  private readonly ask = button("Show the board in the round", () => void this.open(), {
    class: "button button-main",
    id: "solid-open",
  });
  private view: View3D | null = null;
  private canvas: HTMLCanvasElement | null = null;
  private stand: Stand = FROM_CORNER;
  private isFinished = true;
  private times = 1;
  private shownRevision: number | null = null;
  private turn = 0;

  constructor(private readonly page: Page) {
    this.element.append(this.ask, this.status, this.stage, this.controls);
    this.drawControls();
    page.store.watch(["state", "parts"], () => this.follow());
    page.store.watch(["open"], () => this.close());
    new ResizeObserver(() => this.view?.fit()).observe(this.stage);
    const themes = new MutationObserver(() => this.takeTheme());
    themes.observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
  }

  /** Say whether the view is of the job as it stands. */
  private follow(): void {
    const { state, partRevision } = this.page.store.now;
    const plan = planOf(this.page.store.now);
    const isReady = state !== null && plan !== null && partRevision.plan === state.revision;
    this.ask.setAttribute("aria-disabled", String(!isReady));
    if (this.view === null) {
      this.status.textContent = plan === null ? "It can be shown when the pours are planned." : "";
      this.ask.hidden = false;
      return;
    }
    const isOld = state !== null && this.shownRevision !== state.revision;
    this.ask.hidden = !isOld;
    this.ask.textContent = isOld ? "Show it as it is now" : "Show the board in the round";
    this.status.textContent = isOld ? "The job has changed since this was drawn." : "";
  }

  private async open(): Promise<void> {
    const { state } = this.page.store.now;
    const plan = planOf(this.page.store.now);
    const design = this.page.store.now.parts.design;
    if (!state || !plan || !design?.board || this.ask.getAttribute("aria-disabled") === "true") {
      this.page.say("The board can be shown when the pours are planned.");
      return;
    }
    const turn = ++this.turn;
    if (!hasWebGl()) {
      fill(this.stage, boardInWords(this.page, NO_WEBGL));
      this.ask.hidden = true;
      return;
    }
    this.tell("The board is carved. This takes a few seconds.");
    try {
      const [scene, glb, face, mesh] = await Promise.all([
        import("./scene"),
        import("./glb"),
        import("./face"),
        getBoard(this.page, state),
      ]);
      if (turn !== this.turn) return;
      const last = plan.stages.at(-1);
      const { width_mm, height_mm } = design.board;
      this.close();
      this.turn = turn;
      const canvas = this.makeCanvas();
      fill(this.stage, canvas);
      this.view = scene.openView(canvas, {
        width_mm,
        height_mm,
        wood: plan.wood_hex,
        mesh: glb.readGlb(mesh),
        face: face.facePicture(last?.look ?? [], width_mm, height_mm),
      });
      this.shownRevision = state.revision;
      this.start();
    } catch (why) {
      if (turn === this.turn) this.fail(why);
    }
  }

  private start(): void {
    this.controls.hidden = false;
    this.status.textContent = "";
    this.ask.hidden = true;
    this.takeTheme();
    this.view?.fit();
    this.draw();
    this.canvas?.focus({ preventScroll: true });
    this.page.say("The board is shown. Arrow keys turn it, plus and minus come nearer.");
    this.follow();
  }

  private fail(why: unknown): void {
    const words = why instanceof ApiError || why instanceof Error ? why.message : String(why);
    this.tell(`The board cannot be shown: ${words}`);
    if (this.view === null) fill(this.stage, boardInWords(this.page, "It could not be drawn."));
  }

  private tell(words: string): void {
    this.status.textContent = words;
    this.page.say(words);
  }

  private close(): void {
    this.turn += 1;
    this.view?.close();
    this.view = null;
    this.canvas = null;
    this.shownRevision = null;
    this.controls.hidden = true;
    fill(this.stage);
    this.follow();
  }

  private makeCanvas(): HTMLCanvasElement {
    const canvas = h("canvas", {
      class: "solid-canvas",
      tabindex: 0,
      role: "img",
      on: {
        keydown: (event) => this.key(event),
        wheel: (event) => this.wheel(event),
      },
    });
    this.canvas = canvas;
    byHand(canvas, {
      drag: (dx, dy) => this.put(dragged(this.stand, dx, dy)),
      pinch: (factor) => this.put(stepped(this.stand, 1 / factor)),
    });
    return canvas;
  }

  private key(event: KeyboardEvent): void {
    const move = KEYS[event.key];
    if (move === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    this.step(move);
  }

  /** The wheel comes nearer only where the picture has the focus: else the page scrolls. */
  private wheel(event: WheelEvent): void {
    if (document.activeElement !== this.canvas && !event.ctrlKey) return;
    event.preventDefault();
    this.put(stepped(this.stand, Math.exp(event.deltaY / 600)));
  }

  private step(move: Move): void {
    this.put(moved(this.stand, move));
    this.page.say(`The board ${standWords(this.stand)}.`);
  }

  private put(stand: Stand): void {
    this.stand = stand;
    this.draw();
  }

  private draw(): void {
    this.view?.stand(this.stand);
    this.view?.show(this.isFinished, this.times);
    const what = this.isFinished ? "The finished board" : "The carved board";
    const deep = !this.isFinished && this.times > 1 ? `, depths ${this.times} times` : "";
    this.canvas?.setAttribute("aria-label", `${what}${deep}, ${standWords(this.stand)}`);
  }

  private takeTheme(): void {
    const ground = getComputedStyle(document.documentElement).getPropertyValue("--sunk").trim();
    if (ground) this.view?.ground(ground);
  }

  private drawControls(): void {
    this.controls.append(this.kinds(), this.turners(), this.depths());
  }

  private kinds(): HTMLElement {
    const finished = button("Finished", () => pick(true), { "aria-pressed": "true" });
    const carved = button("Carved", () => pick(false), { "aria-pressed": "false" });
    const pick = (isFinished: boolean): void => {
      this.isFinished = isFinished;
      finished.setAttribute("aria-pressed", String(isFinished));
      carved.setAttribute("aria-pressed", String(!isFinished));
      this.slider.disabled = isFinished;
      this.draw();
    };
    return h(
      "div",
      { class: "button-row", role: "group", "aria-label": "Show it" },
      finished,
      carved,
    );
  }

  private turners(): HTMLElement {
    const moves: [string, Move, string][] = [
      ["←", "left", "Turn left"],
      ["→", "right", "Turn right"],
      ["↑", "up", "Look from higher"],
      ["↓", "down", "Look from lower"],
      ["+", "nearer", "Nearer"],
      ["−", "farther", "Farther"],
    ];
    return h(
      "div",
      { class: "button-row", role: "group", "aria-label": "Turn it" },
      ...moves.map(([sign, move, words]) =>
        button(sign, () => this.step(move), { "aria-label": words, title: words }),
      ),
      button("From above", () => this.step("above")),
      button("As it was", () => this.step("corner")),
    );
  }

  private readonly slider = h("input", {
    type: "range",
    id: "solid-depth",
    class: "slider",
    min: 1,
    max: MOST_TIMES,
    step: 0.5,
    value: 1,
    disabled: true,
    on: { input: () => this.deeper() },
  });
  private readonly depthWords = h(
    "output",
    { class: "slider-words", for: "solid-depth" },
    "true depth",
  );

  private depths(): HTMLElement {
    return h(
      "div",
      { class: "stepper" },
      h("label", { class: "label", for: "solid-depth" }, "Depth of the carved pockets"),
      this.depthWords,
      this.slider,
    );
  }

  private deeper(): void {
    this.times = Number(this.slider.value);
    const words = this.times === 1 ? "true depth" : `${this.times} times as deep as it is`;
    this.depthWords.textContent = words;
    this.slider.setAttribute("aria-valuetext", words);
    this.draw();
  }
}

function hasWebGl(): boolean {
  return document.createElement("canvas").getContext("webgl2") !== null;
}
