/** Why this order, and the way back to the program's own. */

import type { PlanPart, Row } from "../api";
import { button, h } from "../dom";
import { faultLine, textField } from "../fields";
import type { Page } from "../page";
import { num, plain, rows, text } from "../panel/figures";
import { block } from "../panel/keeping";
import { table } from "../panel/table";
import { markDone } from "./order";
import { planOf } from "./plan";

export function orderBlock(page: Page): HTMLElement {
  const told = block(page, "order-words", ["parts"], planOf, (plan) =>
    plan ? [given(page, plan), done(page, plan), why(plan)] : [],
  );
  return h("div", { class: "stack" }, faultLine(page, "pours"), told, settings(page));
}

function given(page: Page, plan: PlanPart): HTMLElement {
  if (!plan.order.given) return h("p", { class: "hint" }, "The program chose this order.");
  return h(
    "p",
    { class: "note" },
    "This order is yours. ",
    button(
      "Let the program choose",
      () => {
        void page.edit.set("Order chosen by the program", "pours.order", null);
      },
      { id: "order-free" },
    ),
  );
}

function done(page: Page, plan: PlanPart): HTMLElement | null {
  const count = plan.stages.filter((stage) => stage.done).length;
  if (count === 0) return null;
  const words = count === 1 ? "Stage 1 is poured." : `Stages 1 to ${count} are poured.`;
  return h(
    "p",
    { class: "note" },
    `${words} They stay as they are; the rest is planned around them. `,
    button("Nothing is poured yet", () => void markDone(page, 0), { id: "done-none" }),
  );
}

function why(plan: PlanPart): HTMLElement | null {
  const rules = rows(plan.order as unknown as Row, "rules");
  if (!plan.order.why && rules.length === 0) return null;
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "Why this order"),
    plan.order.why ? h("p", {}, sentence(plan.order.why)) : null,
    rules.length > 0 ? ruleTable(rules) : null,
  );
}

const sentence = (words: string): string =>
  `${words.charAt(0).toUpperCase()}${words.slice(1)}${words.endsWith(".") ? "" : "."}`;

function ruleTable(rules: Row[]): HTMLElement {
  const figure = (row: Row, name: string): string => {
    const value = num(row, name);
    return value === null ? "" : `${plain(value)} ${text(row, "unit")}`;
  };
  return table(
    {
      caption: "Rules, the most important first. Less is better; the first that differs decides.",
      first: "Rule",
      name: (row) => text(row, "rule"),
    },
    rules,
    [
      { head: "This order", show: (row) => figure(row, "value"), number: true },
      { head: "Next best", show: (row) => figure(row, "runner_up"), number: true },
    ],
  );
}

function settings(page: Page): HTMLElement {
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "How stages are made"),
    h(
      "div",
      { class: "fields" },
      textField(page, { path: "pours.gap", label: "Pours this far apart may share a stage" }),
      textField(page, { path: "pours.underlap", label: "Carried under a later pour by" }),
      textField(page, {
        path: "pours.shallower",
        label: "Shallower over an earlier pour by",
        hint: "to stay in cured resin",
      }),
    ),
  );
}
