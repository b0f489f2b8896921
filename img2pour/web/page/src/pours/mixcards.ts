/** What to mix for each pour: a line to see at a glance, opened for the large figures. */

import type { PlanPart, Row, Stage } from "../api";
import { chip, h } from "../dom";
import type { Page } from "../page";
import { grams, millilitres, num, rows, said, text } from "../panel/figures";
import { block } from "../panel/keeping";
import { table } from "../panel/table";
import { fillMap } from "./fillmap";
import { batches } from "./measures";
import { planOf } from "./plan";

export function mixBlock(page: Page): HTMLElement {
  const folded = new Map<string, boolean>();
  return block(page, "stack", ["parts"], planOf, (plan) =>
    plan ? [governs(), coatCard(page, plan), ...cards(page, plan, folded), touchUps(plan)] : [],
  );
}

const governs = (): HTMLElement =>
  h(
    "p",
    { class: "note" },
    "The resin's own data sheet governs. Each mix stands here by weight and by volume: use one " +
      "of the two, never a figure from each.",
  );

/** A seal that is brushed has no stage of its own. */
function coatCard(page: Page, plan: PlanPart): HTMLElement | null {
  if (!plan.coat) return null;
  return h(
    "details",
    { class: "more mix", open: true },
    h(
      "summary",
      { id: "mix-coat" },
      h("strong", { class: "mix-name" }, "Seal coat"),
      h("span", { class: "mix-short" }, inShort(plan.coat)),
    ),
    h(
      "p",
      { class: "hint" },
      `${text(plan.coat, "product")}, brushed on floor and walls of each pocket before it is poured`,
    ),
    ...batches(page, plan.coat),
  );
}

/** What pinholes take in the end. */
function touchUps(plan: PlanPart): HTMLElement | null {
  if (!plan.touch_ups?.length) return null;
  return table<Row>(
    {
      caption: "At the end: a little of each for pinholes that levelling opens",
      first: "Resin",
      name: (row) => text(row, "resin"),
    },
    plan.touch_ups,
    [
      { head: "A, resin", show: (row) => said(num(row, "a_g"), grams), number: true },
      { head: "B, hardener", show: (row) => said(num(row, "b_g"), grams), number: true },
      { head: "Pigment", show: (row) => said(num(row, "pigment_g"), grams), number: true },
      { head: "Together", show: (row) => said(num(row, "total_ml"), millilitres), number: true },
    ],
  );
}

/** The next mix to make is open; the others as they were left. */
function cards(page: Page, plan: PlanPart, folded: Map<string, boolean>): HTMLElement[] {
  const next = plan.stages.find((stage) => !stage.done)?.number;
  return plan.stages.flatMap((stage) =>
    stage.mixes.map((mix) => {
      const key = text(mix, "pour");
      const open = folded.get(key) ?? stage.number === next;
      const card = mixCard(page, plan, stage, mix, open);
      card.addEventListener("toggle", () => folded.set(key, card.open));
      return card;
    }),
  );
}

function mixCard(
  page: Page,
  plan: PlanPart,
  stage: Stage,
  mix: Row,
  open: boolean,
): HTMLDetailsElement {
  const hex = stage.pockets.find((pocket) => pocket.pour === text(mix, "pour"))?.hex;
  return h(
    "details",
    { class: stage.done ? "more mix done" : "more mix", open },
    h(
      "summary",
      { id: `mix-${stage.number}-${text(mix, "pour")}` },
      h("span", { class: "tag" }, String(stage.number)),
      hex ? chip(hex) : null,
      h("strong", { class: "mix-name" }, text(mix, "pour")),
      h("span", { class: "mix-short" }, inShort(mix)),
    ),
    h("p", { class: "hint" }, `${text(mix, "product")}${stage.done ? ", poured already" : ""}`),
    ...batches(page, mix),
    fillMap(page, plan, stage, mix),
  );
}

/** `17.5 g A + 14.9 g B`; layers are never mixed at once, so their weights are not summed. */
function inShort(mix: Row): string {
  const [only, ...more] = rows(mix, "batches");
  if (only === undefined) return "";
  if (more.length > 0) return `${more.length + 1} layers, each mixed apart`;
  return `${grams(num(only, "a_g") ?? 0)} A + ${grams(num(only, "b_g") ?? 0)} B`;
}
