/** Days, hours, resin and money of the whole plan, and what sharing stages saves. */

import type { PlanPart } from "../api";
import { h } from "../dom";
import type { Page } from "../page";
import { bigFigures, type Figure } from "../panel/bigfigures";
import { count, days, fluidOunces, hours, millilitres, money } from "../panel/figures";
import { block } from "../panel/keeping";
import { planOf, poursNothing } from "./plan";

export function summaryBlock(page: Page): HTMLElement {
  return block(
    page,
    "pours-summary",
    ["parts"],
    ({ parts }) => parts.plan,
    () => {
      const plan = planOf(page.store.now);
      return plan ? [bigFigures(figures(plan)), findings(plan)] : [nothing(page)];
    },
  );
}

function nothing(page: Page): HTMLElement {
  const words = poursNothing(page.store.now)
    ? "Nothing is poured: give a colour the role pour, in step 2."
    : "The pours are planned when the size is told and the regions are known.";
  return h("p", { class: "hint" }, words);
}

function figures(plan: PlanPart): Figure[] {
  const listed: Figure[] = [
    { label: "Stages", value: String(plan.stages.length), note: sharing(plan) },
    { label: "From first cut to last", value: days(plan.days), note: saved(plan) },
    { label: "At the machine", value: hours(plan.machine_hours) },
    { label: "Resin to mix", value: millilitres(plan.total_ml), note: fluidOunces(plan.total_ml) },
  ];
  if (plan.cost) {
    listed.push({ label: "Resin costs", value: money(plan.cost), note: "in your own money" });
  }
  return listed;
}

function saved(plan: PlanPart): string {
  const won = plan.days_alone - plan.days;
  return won > 0 ? `${days(won)} saved by sharing stages` : "no two pours can share a stage";
}

function sharing(plan: PlanPart): string {
  const pours = plan.stages.filter((stage) => stage.kind !== "seal");
  const sealed = plan.stages.length > pours.length ? " and the seal" : "";
  return `${count(plan.order.pours.length, "pour")}${sealed}`;
}

function findings(plan: PlanPart): HTMLElement | null {
  const lines = [...plan.findings, ...plan.hints];
  if (lines.length === 0) return null;
  return h(
    "details",
    { class: "more heed", open: lines.length < 4 },
    h("summary", {}, `To know before you pour: ${lines.length}`),
    h("ul", {}, ...lines.map((line) => h("li", {}, line))),
  );
}
