/** Lists of small places; each leads to its point on the picture. */

import type { Point } from "../api";
import { button, h } from "../dom";
import type { Page } from "../page";

export interface Spot {
  xy: Point;
  words: string;
}

const FIRST = 20;
const AROUND_MM = 12;

/** A list to open; null where there is nothing to list. */
export function spotList(page: Page, title: string, spots: readonly Spot[]): HTMLElement | null {
  if (spots.length === 0) return null;
  const list = h("ul", { class: "spots" });
  const show = (some: readonly Spot[]): void => list.append(...some.map((spot) => row(page, spot)));
  show(spots.slice(0, FIRST));
  const rest = spots.slice(FIRST);
  const more = button(`Show ${rest.length} more`, () => {
    more.remove();
    show(rest);
    list.children[FIRST]?.querySelector("button")?.focus();
  });
  return h(
    "details",
    { class: "more" },
    h("summary", {}, title),
    list,
    rest.length > 0 ? more : null,
  );
}

function row(page: Page, spot: Spot): HTMLElement {
  const go = button(spot.words, () => page.board.goTo(spot.xy, AROUND_MM), {
    class: "button button-quiet spot",
    "aria-label": `Go to ${spot.words}`,
  });
  return h("li", {}, go);
}
