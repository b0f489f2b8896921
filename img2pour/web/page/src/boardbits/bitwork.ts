/** What each bit does in the pockets of each colour. */

import type { Row } from "../api";
import { chip, h } from "../dom";
import type { Page } from "../page";
import { millilitres, num, percent, said, text } from "../panel/figures";
import { block } from "../panel/keeping";
import { table } from "../panel/table";

export function bitWorkBlock(page: Page): HTMLElement {
  return block(
    page,
    "",
    ["parts"],
    ({ parts }) => parts.work,
    (work) => (work && work.rows.length > 0 ? [bitWork(page, work.rows)] : []),
  );
}

function bitWork(page: Page, rows: Row[]): HTMLElement {
  const listed = table<Row>(
    {
      caption: "Bit after bit in the pockets of each colour, the widest first",
      first: "Colour",
      name: (row) => named(page, text(row, "colour")),
    },
    rows,
    [
      { head: "Bit", show: (row) => text(row, "bit") },
      { head: "Takes out", show: (row) => said(num(row, "removed_ml"), millilitres), number: true },
      { head: "Share", show: (row) => said(num(row, "removed_percent"), percent), number: true },
      { head: "Passes", show: (row) => said(num(row, "passes"), String), number: true },
      { head: "Minutes", show: (row) => said(num(row, "minutes"), minutes), number: true },
    ],
  );
  return h("details", { class: "more" }, h("summary", {}, "What each bit does"), listed);
}

const minutes = (value: number): string => (value < 1 ? "under 1" : String(Math.round(value)));

function named(page: Page, name: string): Node {
  const colour = page.store.drawn?.colours.find((one) => one.name === name);
  return h("span", { class: "named" }, colour ? chip(colour.hex) : null, name);
}
