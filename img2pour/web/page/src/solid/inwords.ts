/** The board in words, where it cannot be drawn. */

import { h } from "../dom";
import type { Page } from "../page";
import { span, unitsOf } from "../panel/figures";
import { planOf } from "../pours/plan";

export function boardInWords(page: Page, why: string): HTMLElement {
  const units = unitsOf(page.store);
  const board = page.store.drawn?.board;
  const pockets = planOf(page.store.now)?.stages.flatMap((stage) => stage.pockets) ?? [];
  const lines = pockets.map(
    (pocket) =>
      `${pocket.pour}: ${span(pocket.depth_mm, units)} deep, its floor ` +
      `${span(pocket.floor_mm, units)} above the bed`,
  );
  return h(
    "div",
    { class: "note" },
    h("p", {}, `${why} In words:`),
    board ? h("p", {}, `A board ${board.text}, ${span(board.thickness_mm, units)} thick.`) : null,
    h("ul", {}, ...lines.map((line) => h("li", {}, line))),
    h("p", {}, "The files hold board.glb, which other programs show."),
  );
}
