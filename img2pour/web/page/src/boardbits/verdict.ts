/** Can it be carved? The word, large, and what stays of each colour. */

import type { CheckPart, Row } from "../api";
import { chip, fill, h } from "../dom";
import type { Page } from "../page";
import { gap, millilitres, num, percent, said, text } from "../panel/figures";
import { table, type Column } from "../panel/table";

const COLUMNS: Column<Row>[] = [
  { head: "Kept", show: (row) => said(num(row, "kept_percent"), percent), number: true },
  { head: "Regions lost", show: (row) => String(num(row, "islands_lost") ?? ""), number: true },
  { head: "Narrow places", show: narrowPlaces, number: true },
  {
    head: "Thinnest stroke",
    show: (row) => said(num(row, "thinnest_stroke_mm"), gap),
    number: true,
  },
  { head: "Thinnest wall", show: (row) => said(num(row, "thinnest_wall_mm"), gap), number: true },
  { head: "Pockets hold", show: (row) => said(num(row, "volume_ml"), millilitres), number: true },
];

export function verdictBlock(page: Page): HTMLElement {
  const host = h("div", { class: "verdict" });
  let told = "";
  page.store.watch(["parts"], ({ parts }) => {
    fill(host, ...(parts.check ? verdict(page, parts.check) : [waiting()]));
    const now = parts.check ? sentence(parts.check) : "";
    if (now !== "" && told !== "" && now !== told) page.say(now);
    told = now;
  });
  return host;
}

const waiting = (): HTMLElement =>
  h("p", { class: "hint" }, "The verdict comes when the bits have been tried on every region.");

function verdict(page: Page, check: CheckPart): HTMLElement[] {
  const kind = check.accepted ? "verdict-word good" : "verdict-word bad";
  return [
    h(
      "p",
      { class: kind },
      h("span", { class: "verdict-sign", "aria-hidden": "true" }, check.accepted ? "✓" : "!"),
      h("strong", {}, check.word),
      h("span", { class: "hint" }, `${percent(check.lost_percent)} of the pours is lost`),
    ),
    table(
      {
        caption: "What the bits keep of each colour, at the finished face",
        first: "Colour",
        name: (row) => named(page, row),
      },
      check.colours,
      COLUMNS,
    ),
  ];
}

const sentence = (check: CheckPart): string =>
  `Verdict: ${check.word}, ${percent(check.lost_percent)} lost.`;

function named(page: Page, row: Row): Node {
  const name = text(row, "name") || text(row, "colour");
  const colour = page.store.drawn?.colours.find((one) => one.name === name);
  return h("span", { class: "named" }, colour ? chip(colour.hex) : null, name);
}

function narrowPlaces(row: Row): string {
  const necks = num(row, "necks") ?? 0;
  return String(necks + (num(row, "ends") ?? 0));
}
