/** Pocket by pocket: what goes into each, and how. */

import type { PlanPart, Point, Row, Stage } from "../api";
import { button, h } from "../dom";
import type { Page } from "../page";
import { count, fluidOunces, millilitres, num, rows, span, text, unitsOf } from "../panel/figures";

import { showStage } from "./stageview";

const FIRST = 12;
const AROUND_MM = 30;
/** A drop or two: not worth a line of its own. */
const DROP_ML = 0.05;

/** Each pocket with its share: a button that leads to it. */
export function fillMap(page: Page, plan: PlanPart, stage: Stage, mix: Row): HTMLElement | null {
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
    drops > 0
      ? h(
          "p",
          { class: "hint" },
          `${count(drops, "more takes", "more take")} a drop or two, by syringe.`,
        )
      : null,
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
      on: { click: () => goTo(page, plan, stage, one) },
    },
    h("span", { class: "unseen" }, "Pocket "),
    h("b", {}, place),
    h("span", { class: "fill-ml" }, millilitres(ml)),
    ...how.map((word) => h("span", { class: "mark-word" }, word)),
  );
}

function goTo(page: Page, plan: PlanPart, stage: Stage, one: Row): void {
  const { xy } = one;
  if (!Array.isArray(xy)) return;
  showStage(page, stage.number);
  page.board.goTo([Number(xy[0]), Number(xy[1])] as Point, AROUND_MM);
  const ml = num(one, "ml") ?? 0;
  const words =
    `Pocket ${text(one, "place")} of stage ${stage.number} of ${plan.stages.length}: ` +
    `${millilitres(ml)}, ${fluidOunces(ml)}.`;
  page.board.setCaption("stage", words);
  page.say(words);
}
