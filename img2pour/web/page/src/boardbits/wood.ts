/** The wood and the depth of the pockets. */

import { h, svg } from "../dom";
import type { Page } from "../page";
import { choiceField, switchField, textField } from "../fields";
import { choice, numberField } from "../panel/choice";

export function woodFields(page: Page): HTMLElement {
  return h(
    "div",
    { class: "wood" },
    h(
      "div",
      { class: "fields" },
      textField(page, { path: "board.thickness", label: "Thickness", example: "3/4 in" }),
      textField(page, {
        path: "carving.depth",
        label: "Depth of a pocket",
        hint: "below the carved face",
      }),
      textField(page, {
        path: "carving.surface",
        label: "Taken off at the end",
        hint: "the design shows after that",
      }),
      choiceField(
        page,
        { path: "board.species", label: "Wood", hint: "for how it moves with moisture" },
        () => (page.store.now.tables?.species ?? []).map((name) => [name, name]),
      ),
    ),
    grainChoice(page),
    moreOfWood(page),
  );
}

function grainChoice(page: Page): HTMLElement {
  return choice(page, { path: "board.grain", label: "The grain runs" }, [
    { value: "horizontal", title: "Across", words: "left to right", picture: grain(false) },
    { value: "vertical", title: "Upwards", words: "bottom to top", picture: grain(true) },
  ]);
}

function grain(upright: boolean): SVGSVGElement {
  const lines = "M4 9c8-3 16 3 32 0M4 16c10 3 20-3 32 0M4 23c8-3 18 3 32 0";
  return svg(
    "svg",
    { class: "choice-picture", viewBox: "0 0 40 32", "aria-hidden": "true" },
    svg("rect", { x: 1, y: 1, width: 38, height: 30, rx: 2 }),
    svg("path", { d: lines, transform: upright ? "rotate(90 20 16)" : "" }),
  );
}

function moreOfWood(page: Page): HTMLElement {
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "More about the wood"),
    h(
      "div",
      { class: "fields" },
      numberField(page, { path: "board.moisture_from", label: "Moisture now", hint: "in percent" }),
      numberField(page, {
        path: "board.moisture_to",
        label: "Moisture it may come to",
        hint: "in percent",
      }),
      textField(page, {
        path: "carving.rim",
        label: "Kept along the board's edge",
        hint: "so that no pocket runs off the board",
      }),
      textField(page, {
        path: "blank.margin",
        label: "Wood around the board",
        hint: "for clamps and pins; cut off last",
      }),
    ),
    switchField(
      page,
      { path: "board.quarter_sawn", label: "Quarter sawn: the growth rings stand upright" },
      true,
      false,
    ),
  );
}
