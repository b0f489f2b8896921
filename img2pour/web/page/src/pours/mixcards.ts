/** What to mix for each pour, in large figures: by weight, or by volume. */

import type { PlanPart, Point, Row, Stage } from "../api";
import { button, chip, h } from "../dom";
import type { Page } from "../page";
import {
  count,
  grams,
  millilitres,
  num,
  plain,
  rows,
  span,
  text,
  unitsOf,
  fluidOunces,
} from "../panel/figures";
import { block } from "../panel/keeping";
import { cup } from "./cup";
import { planOf } from "./plan";

const FIRST = 12;
const AROUND_MM = 15;
const DROP_ML = 0.05;

export function mixBlock(page: Page): HTMLElement {
  return block(page, "stack", ["parts"], planOf, (plan) =>
    plan ? [governs(), ...plan.stages.flatMap((stage) => stageMixes(page, plan, stage))] : [],
  );
}

const governs = (): HTMLElement =>
  h(
    "p",
    { class: "note" },
    "The resin's own data sheet governs. Each mix stands here by weight and by volume: use one " +
      "of the two, never a figure from each.",
  );

function stageMixes(page: Page, plan: PlanPart, stage: Stage): HTMLElement[] {
  return stage.mixes.map((mix) => {
    const hex = stage.pockets.find((pocket) => pocket.pour === text(mix, "pour"))?.hex;
    return h(
      "article",
      { class: stage.done ? "mix done" : "mix" },
      h(
        "h4",
        { class: "mix-head" },
        h("span", { class: "tag" }, String(stage.number)),
        hex ? chip(hex) : null,
        h("span", {}, text(mix, "pour")),
        h("span", { class: "hint" }, text(mix, "product")),
      ),
      ...batches(page, mix),
      fillMap(page, plan, stage, mix),
    );
  });
}

function batches(page: Page, mix: Row): HTMLElement[] {
  const all = rows(mix, "batches");
  const units = unitsOf(page.store);
  return all.map((batch, i) =>
    h(
      "div",
      { class: "batch" },
      all.length > 1
        ? h("p", { class: "batch-title" }, `Layer ${i + 1} of ${all.length}, ${span(num(batch, "depth_mm") ?? 0, units)} deep`)
        : null,
      h("div", { class: "measures" }, byWeight(batch), byVolume(batch)),
      whereItGoes(batch),
    ),
  );
}

function byWeight(batch: Row): HTMLElement {
  const a = num(batch, "a_g") ?? 0;
  const b = num(batch, "b_g") ?? 0;
  const pigment = num(batch, "pigment_g");
  return measure("By weight: on a scale", [
    ["A, resin", grams(a)],
    ["B, hardener", grams(b)],
    ...(pigment ? [["Pigment", grams(pigment)] as Pair] : []),
  ], `A and B together ${grams(a + b)}`);
}

type Pair = [string, string];

function byVolume(batch: Row): HTMLElement {
  const a = num(batch, "a_ml");
  const b = num(batch, "b_ml");
  if (a === null || b === null) {
    return measure("By volume: marks on a cup", [], "No cup shows this ratio well enough: mix by weight.");
  }
  const ounces = num(batch, "total_fl_oz");
  const total = `to ${millilitres(a + b)}${ounces ? `, ${plain(ounces, 3)} fl oz` : ""}`;
  const block = measure("Or by volume: marks on a cup", [
    ["A, resin, to", millilitres(a)],
    ["then B, hardener", total],
  ], "pigment still goes by weight");
  block.append(cup(a, b));
  return block;
}

function measure(title: string, pairs: Pair[], note: string): HTMLElement {
  return h(
    "div",
    { class: "measure" },
    h("h5", {}, title),
    h(
      "dl",
      {},
      ...pairs.map(([term, value]) => h("div", {}, h("dt", {}, term), h("dd", {}, value))),
    ),
    h("p", { class: "hint" }, note),
  );
}

function whereItGoes(batch: Row): HTMLElement {
  const parts: [string, string][] = [
    ["pockets_ml", "pockets"],
    ["overfill_ml", "standing proud"],
    ["soak_ml", "soaking in"],
    ["waste_ml", "cup and stick"],
  ];
  const told = parts.map(([key, words]) => `${words} ${millilitres(num(batch, key) ?? 0)}`);
  const sum = parts.reduce((ml, [key]) => ml + (num(batch, key) ?? 0), 0);
  const rest = (num(batch, "total_ml") ?? 0) - sum;
  if (rest > 1) told.push(`to reach a batch that can be mixed ${millilitres(rest)}`);
  return h("p", { class: "hint" }, `Where it goes: ${told.join(", ")}.`);
}

/** Each pocket with its share: a button that leads to it. */
function fillMap(page: Page, plan: PlanPart, stage: Stage, mix: Row): HTMLElement | null {
  const fills = rows(mix, "pockets");
  const worth = fills.filter((one) => (num(one, "ml") ?? 0) >= DROP_ML);
  if (fills.length < 2 && !fills.some((one) => num(one, "dam_mm"))) return null;
  const drops = fills.length - worth.length;
  const list = h("ul", { class: "fills" });
  const show = (some: Row[]): void => {
    list.append(...some.map((one) => h("li", {}, fillButton(page, plan, stage, one))));
  };
  show(worth.slice(0, FIRST));
  const more = button(`Show ${worth.length - FIRST} more`, () => {
    more.remove();
    show(worth.slice(FIRST));
    list.children[FIRST]?.querySelector("button")?.focus();
  });
  return h(
    "details",
    { class: "more" },
    h("summary", {}, `Pocket by pocket: ${fills.length}`),
    list,
    worth.length > FIRST ? more : null,
    drops > 0 ? h("p", { class: "hint" }, `${count(drops, "more takes", "more take")} a drop or two, by syringe.`) : null,
  );
}

function fillButton(page: Page, plan: PlanPart, stage: Stage, one: Row): HTMLElement {
  const place = text(one, "place");
  const ml = num(one, "ml") ?? 0;
  const dam_mm = num(one, "dam_mm");
  const how = [
    one["syringe"] === true ? "syringe" : "",
    dam_mm ? `dam ${span(dam_mm, unitsOf(page.store))}` : "",
  ].filter(Boolean);
  return h(
    "button",
    {
      type: "button",
      class: "fill",
      "aria-label": `Pocket ${place}: ${[millilitres(ml), ...how].join(", ")}. Show it.`,
      on: { click: () => goTo(page, plan, stage, one) },
    },
    h("b", {}, place),
    h("span", { class: "fill-ml" }, millilitres(ml)),
    ...how.map((word) => h("span", { class: "mark-word" }, word)),
  );
}

function goTo(page: Page, plan: PlanPart, stage: Stage, one: Row): void {
  const { xy } = one;
  if (!Array.isArray(xy)) return;
  page.store.select({ stage: stage.number });
  page.board.goTo([Number(xy[0]), Number(xy[1])] as Point, AROUND_MM);
  const ml = num(one, "ml") ?? 0;
  const words = `Pocket ${text(one, "place")} of stage ${stage.number} of ${plan.stages.length}: ${millilitres(ml)}, ${fluidOunces(ml)}.`;
  page.board.setCaption("pocket", words);
  page.say(words);
}
