/** Try-outs side by side: a picture of each, and its figures; the least of each kind stands out. */

import type { Row, Tryout } from "../api";
import { button, h } from "../dom";
import type { Page } from "../page";
import { days, hours, millilitres, money, num, percent, text } from "../panel/figures";
import type { Tryouts } from "./list";

interface Figure {
  label: string;
  key: string;
  say: (value: number) => string;
}

const FIGURES: Figure[] = [
  { label: "Lost", key: "lost_percent", say: percent },
  { label: "Stages", key: "stages", say: String },
  { label: "Days", key: "days", say: days },
  { label: "Machine", key: "machine_hours", say: hours },
  { label: "Resin", key: "resin_ml", say: millilitres },
  { label: "Costs", key: "cost", say: money },
];

export function tryoutCards(page: Page, tryouts: Tryouts): HTMLElement[] {
  const least = leastOf(tryouts.list);
  return tryouts.list.map((one) => card(page, tryouts, one, least));
}

/** The least of each figure, where the try-outs differ in it. */
function leastOf(all: readonly Tryout[]): Map<string, number> {
  const least = new Map<string, number>();
  for (const { key } of FIGURES) {
    const values = all.flatMap((one) => num(one.rows ?? {}, key) ?? []);
    const lowest = Math.min(...values);
    if (values.length > 1 && lowest < Math.max(...values)) least.set(key, lowest);
  }
  return least;
}

function card(page: Page, tryouts: Tryouts, one: Tryout, least: Map<string, number>): HTMLElement {
  return h(
    "li",
    { class: "tryout" },
    picture(one),
    h("h4", {}, one.name),
    told(one, least),
    h(
      "div",
      { class: "row" },
      button("Take this one", () => void tryouts.take(one), {
        id: `tryout-take-${one.k}`,
        "aria-label": `Take this one: ${one.name}`,
      }),
      button("Remove", () => void drop(page, tryouts, one), {
        id: `tryout-drop-${one.k}`,
        class: "button button-quiet",
        "aria-label": `Remove ${one.name}`,
      }),
    ),
  );
}

function told(one: Tryout, least: Map<string, number>): HTMLElement {
  if (one.fault !== null) return h("p", { class: "fault" }, one.fault);
  if (one.rows === null) return h("p", { class: "hint" }, "It is still worked on.");
  return figures(one.rows, least);
}

async function drop(page: Page, tryouts: Tryouts, one: Tryout): Promise<void> {
  if (await tryouts.drop(one)) document.getElementById("tryout-name")?.focus();
  else page.say("It could not be removed.");
}

function figures(row: Row, least: Map<string, number>): HTMLElement {
  const pairs = FIGURES.map(({ label, key, say }) => {
    const value = num(row, key);
    if (value === null) return null;
    const isLeast = least.get(key) === value;
    return h(
      "div",
      { class: isLeast ? "least" : "" },
      h("dt", {}, label),
      h("dd", {}, say(value), isLeast ? h("span", { class: "unseen" }, ", the least") : null),
    );
  });
  const order = text(row, "order");
  return h(
    "div",
    {},
    h("dl", { class: "tryout-figures" }, ...pairs),
    order ? h("p", { class: "hint" }, `Order: ${order}.`) : null,
  );
}

function picture(one: Tryout): HTMLElement {
  if (one.finished === null || one.fault !== null) {
    return h("div", { class: "tryout-picture", "aria-hidden": "true" });
  }
  return h("img", {
    class: "tryout-picture",
    src: one.finished,
    alt: `What shows at the end of the try-out ${one.name}`,
  });
}
