/** One batch to measure out: by weight, or by volume with the marks of a cup. */

import type { Row } from "../api";
import { h } from "../dom";
import type { Page } from "../page";
import { grams, millilitres, num, plain, rows, span, unitsOf } from "../panel/figures";
import { cup } from "./cup";

/** The batches of a mix, one for each layer. */
export function batches(page: Page, mix: Row): HTMLElement[] {
  const all = rows(mix, "batches");
  const units = unitsOf(page.store);
  return all.map((batch, i) =>
    h(
      "div",
      { class: "batch" },
      all.length > 1
        ? h(
            "p",
            { class: "batch-title" },
            `Layer ${i + 1} of ${all.length}, ${span(num(batch, "depth_mm") ?? 0, units)} deep`,
          )
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
  return measure(
    "By weight: on a scale",
    [
      ["A, resin", grams(a)],
      ["B, hardener", grams(b)],
      ...(pigment ? [["Pigment", grams(pigment)] as Pair] : []),
    ],
    `A and B together ${grams(a + b)}`,
  );
}

type Pair = [string, string];

function byVolume(batch: Row): HTMLElement {
  const a = num(batch, "a_ml");
  const b = num(batch, "b_ml");
  if (a === null || b === null) {
    return measure(
      "By volume: marks on a cup",
      [],
      "No cup shows this ratio well enough: mix by weight.",
    );
  }
  const ounces = num(batch, "total_fl_oz");
  const together = ounces ? `${millilitres(a + b)}, ${plain(ounces, 3)} fl oz` : millilitres(a + b);
  const block = measure(
    "Or by volume: marks on a cup",
    [
      ["A, resin", millilitres(a)],
      ["B, hardener", millilitres(b)],
    ],
    `A and B together ${together}${num(batch, "pigment_g") ? "; pigment still goes by weight" : ""}`,
  );
  block.append(cup(a, b));
  return block;
}

function measure(title: string, pairs: Pair[], note: string): HTMLElement {
  return h(
    "div",
    { class: "measure" },
    h("p", { class: "measure-title" }, title),
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
  const told = parts.flatMap(([key, words]) => {
    const ml = num(batch, key) ?? 0;
    return ml > 0 ? [`${words} ${millilitres(ml)}`] : [];
  });
  const sum = parts.reduce((ml, [key]) => ml + (num(batch, key) ?? 0), 0);
  const rest = (num(batch, "total_ml") ?? 0) - sum;
  if (rest > 1) told.push(`to reach a batch that can be mixed ${millilitres(rest)}`);
  return h("p", { class: "hint" }, `Where it goes: ${told.join(", ")}.`);
}
