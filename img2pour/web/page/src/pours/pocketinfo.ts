/** What a pocket takes: its millilitres, depth and floor, after a click on the picture. */

import { type AtPoint, ApiError, type Point } from "../api";
import { chip, fill, h, svg } from "../dom";
import type { Page } from "../page";
import { bigFigures } from "../panel/bigfigures";
import { fluidOunces, millilitres, num, span, text, unitsOf, type Units } from "../panel/figures";
import { planOf } from "./plan";

const ASKED_LAYER = "asked";

/** While a stage is shown, picks on the picture ask what lies there. */
export function pocketInfo(page: Page): HTMLElement {
  const host = h("div", { class: "pocket-info", id: "pocket-info" });
  let letGo: (() => void) | null = null;
  let asked = 0;

  async function ask(xy: Point): Promise<void> {
    const { open, selection } = page.store.now;
    if (open === null || selection.stage === null) return;
    const turn = ++asked;
    try {
      const found = await page.api.at(open, xy, selection.stage);
      if (turn === asked) tell(page, host, found, xy);
    } catch (why) {
      if (!(why instanceof ApiError)) throw why;
      page.say(why.message);
    }
  }

  page.store.watch(["selection"], ({ selection }) => {
    if (selection.stage !== null) letGo ??= page.board.claimPicks(({ xy }) => void ask(xy));
    else {
      letGo?.();
      letGo = null;
      page.board.setCaption("pocket", "");
      page.board.layer(ASKED_LAYER).replaceChildren();
      fill(host, hint());
    }
  });
  return host;
}

const hint = (): HTMLElement =>
  h("p", { class: "hint" }, "Show a stage, then pick a pocket on the picture: it tells what it takes.");

function tell(page: Page, host: HTMLElement, found: AtPoint, xy: Point): void {
  const units = unitsOf(page.store);
  const { pocket } = found;
  const words = pocket ? sentence(found, units) : bare(found);
  page.board.setCaption("pocket", words);
  page.say(words);
  ring(page, xy);
  if (!pocket) {
    fill(host, h("p", { class: "note" }, words));
    return;
  }
  const place = found.fill ? text(found.fill, "place") : "";
  const hex = hexOf(page, pocket.pour, pocket.stage);
  fill(
    host,
    h(
      "div",
      { class: "note" },
      h("p", { class: "named" }, hex ? chip(hex) : null, h("strong", {}, title(found, place))),
      bigFigures([
        { label: "It takes", value: millilitres(mlOf(found)), note: fluidOunces(mlOf(found)) },
        { label: "Depth", value: span(pocket.depth_mm, units), note: "below the carved face" },
        { label: "Floor", value: span(pocket.floor_mm, units), note: "above the machine's bed" },
      ]),
      how(found, units),
    ),
  );
}

const mlOf = ({ fill: filled, pocket }: AtPoint): number =>
  (filled && num(filled, "ml")) ?? pocket?.ml ?? 0;

const title = (found: AtPoint, place: string): string =>
  `${found.pocket?.pour ?? ""}, stage ${found.pocket?.stage ?? ""}${place ? `, pocket ${place}` : ""}`;

function sentence(found: AtPoint, units: Units): string {
  const { pocket } = found;
  if (!pocket) return "";
  const place = found.fill ? text(found.fill, "place") : "";
  return (
    `${title(found, place)}: ${millilitres(mlOf(found))}, ${span(pocket.depth_mm, units)} deep, ` +
    `floor ${span(pocket.floor_mm, units)} above the bed.`
  );
}

const bare = (found: AtPoint): string =>
  found.colour
    ? `No pocket of this stage here: ${found.colour}.`
    : "No pocket of this stage here.";

function how(found: AtPoint, units: Units): HTMLElement | null {
  const lines: string[] = [];
  if (found.fill?.["syringe"] === true) lines.push("fill it from a syringe");
  const dam_mm = found.fill ? num(found.fill, "dam_mm") : null;
  if (dam_mm) lines.push(`it needs a dam of ${span(dam_mm, units)} along the board's edge`);
  return lines.length > 0 ? h("p", {}, `How: ${lines.join("; ")}.`) : null;
}

function hexOf(page: Page, pour: string, stage: number): string | null {
  const plan = planOf(page.store.now);
  const pockets = plan?.stages.find((one) => one.number === stage)?.pockets ?? [];
  return pockets.find((pocket) => pocket.pour === pour)?.hex ?? null;
}

/** Mark the point that was asked about, without moving the picture. */
function ring(page: Page, [cx, cy]: Point): void {
  const dot = svg("circle", { class: "asked", cx, cy, r: 5 * page.board.zoom.unit });
  page.board.layer(ASKED_LAYER).replaceChildren(dot);
}
