/** Tables that scroll sideways within themselves, with a heading for every row. */

import { h, type Child } from "../dom";

export interface Column<T> {
  head: string;
  show: (row: T) => Child;
  /** Figures stand to the right. */
  number?: boolean;
}

export interface TableWords<T> {
  caption: string;
  /** Heading of the first column. */
  first: string;
  name: (row: T) => Child;
  rowClass?: (row: T) => string;
}

export function table<T>(
  words: TableWords<T>,
  rows: readonly T[],
  columns: readonly Column<T>[],
): HTMLElement {
  const side = (column: Column<T>): string => (column.number ? "number" : "");
  const head = h(
    "tr",
    {},
    h("th", { scope: "col" }, words.first),
    ...columns.map((one) => h("th", { scope: "col", class: side(one) }, one.head)),
  );
  const body = rows.map((row) =>
    h(
      "tr",
      { class: words.rowClass?.(row) },
      h("th", { scope: "row" }, words.name(row)),
      ...columns.map((one) => h("td", { class: side(one) }, one.show(row))),
    ),
  );
  return h(
    "div",
    { class: "scroll", role: "region", "aria-label": words.caption, tabindex: 0 },
    h(
      "table",
      { class: "table" },
      h("caption", { class: "hint" }, words.caption),
      h("thead", {}, head),
      h("tbody", {}, ...body),
    ),
  );
}
