/** Large figures in a row, to be read from a step away. */

import { h } from "../dom";

export interface Figure {
  label: string;
  value: string;
  note?: string;
}

export function bigFigures(figures: readonly Figure[]): HTMLElement {
  const items = figures.map(({ label, value, note }) =>
    h(
      "div",
      { class: "big-figure" },
      h("dt", {}, label),
      h("dd", {}, h("span", { class: "big-value" }, value), note ? h("small", {}, note) : null),
    ),
  );
  return h("dl", { class: "big-figures" }, ...items);
}
