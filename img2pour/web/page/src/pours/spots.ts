/** Lists of small places; each leads to its point on the picture. */

import type { Point } from "../api";
import { button, h, svg } from "../dom";
import type { Page } from "../page";

export interface Spot {
  xy: Point;
  words: string;
}

const FIRST = 20;
const AROUND_MM = 12;
const LAYER = "spots";

/** A list to open; while it is open its places are marked. Null where there is nothing to list. */
export function spotList(page: Page, title: string, spots: readonly Spot[]): HTMLElement | null {
  // Lists are made anew with each plan, and closed: what an older one marked is gone.
  page.board.layer(LAYER).replaceChildren();
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
  const details = h(
    "details",
    { class: "more", on: { toggle: () => mark(page, details.open ? spots : []) } },
    h("summary", {}, title),
    list,
    rest.length > 0 ? more : null,
  );
  return details;
}

/** One list is marked at a time. */
function mark(page: Page, spots: readonly Spot[]): void {
  page.board
    .layer(LAYER)
    .replaceChildren(
      ...spots.map(({ xy: [x, y] }) =>
        svg(
          "g",
          { transform: `translate(${x} ${y})` },
          svg("path", { class: "spot-mark to-size", d: "M0 -7L7 0L0 7L-7 0Z" }),
        ),
      ),
    );
}

function row(page: Page, spot: Spot): HTMLElement {
  const go = button(spot.words, () => page.board.goTo(spot.xy, AROUND_MM), {
    class: "button button-quiet spot",
    "aria-label": `Go to ${spot.words}`,
  });
  return h("li", {}, go);
}
