/** Tables that scroll sideways within themselves, with a heading for every row. */

import { h, type Child } from "../dom";

export interface Column<T> {
  head: string;
  show: (row: T) => Child;
  /** Figures stand to the right. */
  number?: boolean;
  /** The heading is heard, not seen: what stands below speaks for itself. */
  isHeadUnseen?: boolean;
}

export interface TableWords<T> {
  caption: string;
  /** Heading of the first column. */
  first: string;
  name: (row: T) => Child;
  rowClass?: (row: T) => string;
}

const side = <T>(column: Column<T>): string => (column.number ? "number" : "");

const heading = <T>(column: Column<T>): Node | string =>
  column.isHeadUnseen ? h("span", { class: "unseen" }, column.head) : column.head;

/** The roles are told: a row that is set as a card stays a row for those who hear the page. */
const cell = <T>(column: Column<T>, row: T): HTMLElement =>
  h(
    "td",
    { role: "cell", class: side(column), "data-head": column.isHeadUnseen ? null : column.head },
    column.show(row),
  );

export function table<T>(
  words: TableWords<T>,
  rows: readonly T[],
  columns: readonly Column<T>[],
): HTMLElement {
  const head = h(
    "tr",
    { role: "row" },
    h("th", { scope: "col", role: "columnheader" }, words.first),
    ...columns.map((one) =>
      h("th", { scope: "col", role: "columnheader", class: side(one) }, heading(one)),
    ),
  );
  const body = rows.map((row) =>
    h(
      "tr",
      { role: "row", class: words.rowClass?.(row) },
      h("th", { scope: "row", role: "rowheader" }, words.name(row)),
      ...columns.map((one) => cell(one, row)),
    ),
  );
  return h(
    "div",
    { class: "scroll", role: "region", "aria-label": words.caption, tabindex: 0 },
    h(
      "table",
      { class: "table stacked", role: "table" },
      h("caption", { class: "hint" }, words.caption),
      h("thead", { role: "rowgroup" }, head),
      h("tbody", { role: "rowgroup" }, ...body),
    ),
  );
}
