/** What a pocket takes: its millilitres, depth and floor, after a click on the picture. */

import { type AtPoint, ApiError, type Point } from "../api";
import { button, chip, fill, h, svg } from "../dom";
import type { Page } from "../page";
import { bigFigures, type Figure } from "../panel/bigfigures";
import { fluidOunces, millilitres, num, span, text, unitsOf, type Units } from "../panel/figures";
import { planOf } from "./plan";

const ASKED_LAYER = "asked";

/** While a stage is shown, picks on the picture tell under it what lies there. */
export function pocketInfo(page: Page): void {
  const host = h("section", { class: "pocket-told", "aria-label": "Picked pocket", hidden: true });
  const idle = h(
    "p",
    { class: "picked-idle pocket-idle" },
    "Press a pocket to see what it takes. By keys: arrows move the crosshair, Enter picks.",
  );
  page.board.tray.append(idle, host);
  new PocketInfo(page, host);
}

class PocketInfo {
  private letGo: (() => void) | null = null;
  private asked = 0;

  constructor(
    private readonly page: Page,
    private readonly host: HTMLElement,
  ) {
    host.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.leave();
    });
    let stage: number | null = null;
    page.store.watch(["selection"], ({ selection }) => {
      if (selection.stage === stage) return;
      stage = selection.stage;
      this.close();
      this.listen(stage !== null);
    });
  }

  private listen(isShown: boolean): void {
    this.page.board.tray.classList.toggle("stage-mode", isShown);
    if (isShown) this.letGo ??= this.page.board.claimPicks(({ xy }) => void this.ask(xy));
    else {
      this.letGo?.();
      this.letGo = null;
    }
  }

  private async ask(xy: Point): Promise<void> {
    const { open, selection } = this.page.store.now;
    if (open === null || selection.stage === null) return;
    const turn = ++this.asked;
    try {
      const found = await this.page.api.at(open, xy, selection.stage);
      if (turn === this.asked) this.tell(found, xy);
    } catch (why) {
      if (!(why instanceof ApiError)) throw why;
      this.page.say(why.message);
    }
  }

  private tell(found: AtPoint, [cx, cy]: Point): void {
    const units = unitsOf(this.page.store);
    this.page.say(found.pocket ? sentence(found, units) : NO_POCKET);
    const r = 5 * this.page.board.zoom.unit;
    this.page.board
      .layer(ASKED_LAYER)
      .replaceChildren(svg("circle", { class: "asked", cx, cy, r }));
    const close = button("Close", () => this.leave(), { class: "button button-quiet" });
    const hex = found.pocket && hexOf(this.page, found.pocket.pour, found.pocket.stage);
    fill(
      this.host,
      h(
        "p",
        { class: "pocket-title" },
        hex ? chip(hex) : null,
        h("strong", {}, found.pocket ? title(found) : NO_POCKET),
        close,
      ),
      found.pocket ? figures(found, units) : null,
    );
    this.host.hidden = false;
    this.page.board.tray.classList.add("told");
  }

  private leave(): void {
    this.close();
    document.getElementById("drawing")?.focus({ preventScroll: true });
  }

  private close(): void {
    this.asked += 1;
    this.host.hidden = true;
    fill(this.host);
    this.page.board.tray.classList.remove("told");
    this.page.board.layer(ASKED_LAYER).replaceChildren();
  }
}

const NO_POCKET = "No pocket of this stage here.";

function figures(found: AtPoint, units: Units): HTMLElement | null {
  const { pocket, fill: filled } = found;
  if (pocket === null) return null;
  const told: Figure[] = [
    { label: "It takes", value: millilitres(mlOf(found)), note: fluidOunces(mlOf(found)) },
    { label: "Depth", value: span(pocket.depth_mm, units), note: "below the carved face" },
    { label: "Floor", value: span(pocket.floor_mm, units), note: "above the bed" },
  ];
  if (filled?.["syringe"] === true) told.push({ label: "Fill it", value: "syringe" });
  const dam_mm = filled ? num(filled, "dam_mm") : null;
  if (dam_mm) told.push({ label: "Dam", value: span(dam_mm, units), note: "at the board's edge" });
  return bigFigures(told);
}

const mlOf = ({ fill: filled, pocket }: AtPoint): number =>
  (filled && num(filled, "ml")) ?? pocket?.ml ?? 0;

function title({ pocket, fill: filled }: AtPoint): string {
  const place = filled ? text(filled, "place") : "";
  return `${pocket?.pour ?? ""}, stage ${pocket?.stage ?? ""}${place ? `, pocket ${place}` : ""}`;
}

function sentence(found: AtPoint, units: Units): string {
  const { pocket } = found;
  if (!pocket) return "";
  return (
    `${title(found)}: ${millilitres(mlOf(found))}, ${span(pocket.depth_mm, units)} deep, ` +
    `floor ${span(pocket.floor_mm, units)} above the bed.`
  );
}

function hexOf(page: Page, pour: string, stage: number): string | null {
  const plan = planOf(page.store.now);
  const pockets = plan?.stages.find((one) => one.number === stage)?.pockets ?? [];
  return pockets.find((pocket) => pocket.pour === pour)?.hex ?? null;
}
