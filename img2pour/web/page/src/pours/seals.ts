/** Against bleed: the kinds of seal side by side, and where the edge stays bare. */

import type { PlanPart, Row } from "../api";
import { button, h } from "../dom";
import { choiceField, textField } from "../fields";
import type { Page } from "../page";
import {
  count,
  days,
  gap,
  millilitres,
  money,
  num,
  said,
  span,
  text,
  unitsOf,
} from "../panel/figures";
import { block } from "../panel/keeping";
import { table, type Column } from "../panel/table";
import { planOf } from "./plan";
import { spotList, type Spot } from "./spots";

const WORDS: Record<string, string> = {
  band: "a channel of clear along every edge",
  flood: "whole pockets filled with clear",
  "flood board": "the whole face filled with clear",
  brush: "a thin coat brushed on",
  none: "nothing",
};

export function sealBlock(page: Page): HTMLElement {
  const told = block(page, "stack", ["parts"], planOf, (plan) =>
    plan ? [sealTable(page, plan), ...spots(page, plan)] : [],
  );
  return h("div", { class: "stack" }, told, settings(page));
}

function sealTable(page: Page, plan: PlanPart): HTMLElement {
  const units = unitsOf(page.store);
  const columns: Column<Row>[] = [
    { head: "Resin", show: (row) => said(num(row, "volume_ml"), millilitres), number: true },
    { head: "Costs", show: (row) => said(num(row, "cost"), money), number: true },
    { head: "Waiting", show: (row) => said(num(row, "days"), days), number: true },
    {
      head: "Edge left bare",
      show: (row) => said(num(row, "unsealed_mm"), (mm) => span(mm, units)),
      number: true,
    },
    { head: "Use it", isHeadUnseen: true, show: (row) => useButton(page, row) },
  ];
  return table(
    {
      caption: "What each kind would take; the one in use is marked",
      first: "Seal",
      name: sealName,
      rowClass: (row) => (row["chosen"] === true ? "chosen-row" : ""),
    },
    plan.seals,
    columns,
  );
}

const sealName = (row: Row): Node =>
  h(
    "span",
    { class: "choice-words" },
    h("strong", {}, text(row, "kind")),
    h("span", { class: "hint" }, WORDS[text(row, "kind")] ?? ""),
  );

function useButton(page: Page, row: Row): HTMLElement {
  const kind = text(row, "kind");
  const isUsed = row["chosen"] === true;
  return button(
    isUsed ? "In use" : "Use",
    () => {
      if (!isUsed) void page.edit.set(`Seal: ${kind}`, "seal.kind", kind);
    },
    {
      id: `seal-${kind.replace(" ", "-")}`,
      "aria-pressed": String(isUsed),
      "aria-label": isUsed ? `In use: ${kind}` : `Use ${kind}`,
    },
  );
}

function spots(page: Page, plan: PlanPart): (HTMLElement | null)[] {
  const units = unitsOf(page.store);
  const bare = plan.unsealed.map(({ xy, length_mm }): Spot => ({
    xy,
    words: span(length_mm, units),
  }));
  const thin = plan.thin_wood.flatMap(spotOf);
  return [
    spotList(page, `Edge that stays bare: ${count(bare.length, "place")} to brush by hand`, bare),
    spotList(page, `Wood that the seal leaves too thin to stand: ${thin.length}`, thin),
  ];
}

/** A row with a drawing point and a width. */
export function spotOf(row: Row): Spot[] {
  const { xy } = row;
  if (!Array.isArray(xy) || xy.length !== 2) return [];
  const width = said(num(row, "width_mm"), gap);
  const pour = text(row, "pour");
  return [{ xy: [Number(xy[0]), Number(xy[1])], words: pour ? `${pour}, ${width}` : width }];
}

function settings(page: Page): HTMLElement {
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "Settings of the seal"),
    h(
      "div",
      { class: "fields" },
      textField(page, { path: "seal.border", label: "Clear left beside the colour" }),
      textField(page, { path: "seal.bit", label: "Bit for the channel" }),
      choiceField(page, { path: "seal.coat_of", label: "A brushed coat is made of" }, [
        ["resin", "resin"],
        ["shellac", "shellac"],
      ]),
    ),
  );
}
