/** Stages as cards: what is carved and poured in each, in which order, whether it is done. */

import type { PlanPart, Stage } from "../api";
import { button, chip, h } from "../dom";
import type { Page } from "../page";
import { refill } from "../panel/keeping";
import { hours, millilitres, span, unitsOf } from "../panel/figures";
import { drag } from "./drag";
import { canMove, markDone, moveStage } from "./order";
import { planOf, poursNothing } from "./plan";
import { showStage } from "./stageview";

export function stageCards(page: Page): HTMLElement {
  const list = h("ol", { class: "stage-cards", "aria-label": "Stages in order" });
  let drawn: PlanPart | null = null;
  page.store.watch(["parts", "selection", "faults"], (known) => {
    const plan = planOf(known) ?? (poursNothing(known) ? null : drawn);
    if (plan !== drawn || known.faults.length > 0) {
      drawn = plan;
      refill(list, ...(plan?.stages.map((stage) => card(page, plan, stage)) ?? []));
    }
    const cards = [...list.children];
    cards.forEach((one, i) => one.classList.toggle("shown", i + 1 === known.selection.stage));
  });
  return list;
}

function card(page: Page, plan: PlanPart, stage: Stage): HTMLElement {
  const index = stage.number - 1;
  return h(
    "li",
    { class: stage.done ? "stage-card done" : "stage-card" },
    h(
      "div",
      { class: "stage-head" },
      h(
        "div",
        { class: "stage-name" },
        h("span", { class: "tag stage-tag" }, String(stage.number)),
        h("h4", {}, ...chips(stage), h("span", {}, stageTitle(stage))),
      ),
      canMove(stage) ? movers(page, plan, index) : null,
    ),
    facts(page, stage),
    h("div", { class: "stage-foot" }, showButton(page, stage), doneTick(page, stage)),
  );
}

export const stageTitle = (stage: Stage): string =>
  stage.kind === "seal" ? "Clear seal" : stage.pockets.map((pocket) => pocket.pour).join(" and ");

const chips = (stage: Stage): HTMLElement[] => stage.pockets.map((pocket) => chip(pocket.hex));

function facts(page: Page, stage: Stage): HTMLElement {
  const units = unitsOf(page.store);
  const floor_mm = Math.min(...stage.pockets.map((pocket) => pocket.floor_mm));
  const pairs: [string, string][] = [
    ...stage.pockets.map((pocket): [string, string] => [
      stage.pockets.length > 1 ? `Depth, ${pocket.pour}` : "Depth",
      span(pocket.depth_mm, units),
    ]),
    ["Floor above the bed", span(floor_mm, units)],
    ["Pockets hold", millilitres(stage.pockets.reduce((sum, pocket) => sum + pocket.ml, 0))],
    ["Carving", stage.machine_hours ? hours(stage.machine_hours) : ""],
    ["Bits", [...new Set(stage.pockets.flatMap((pocket) => pocket.bits))].join(", ")],
  ];
  const told = pairs.filter(([, value]) => value !== "");
  return h(
    "dl",
    { class: "stage-facts" },
    ...told.map(([term, value]) => h("div", {}, h("dt", {}, term), h("dd", {}, value))),
    ...stage.words.map((line) => h("div", {}, h("dt", {}, "Mind"), h("dd", {}, line))),
  );
}

function showButton(page: Page, stage: Stage): HTMLElement {
  const show = button(
    "Show on the board",
    () => {
      const { stage: shown } = page.store.now.selection;
      showStage(page, shown === stage.number ? null : stage.number);
    },
    {
      id: `stage-show-${stage.number}`,
      "aria-label": `Show on the board: after stage ${stage.number}`,
    },
  );
  return show;
}

/** Done is done in order: a tick takes those before it along. */
function doneTick(page: Page, stage: Stage): HTMLElement {
  const input = h("input", {
    type: "checkbox",
    id: `stage-done-${stage.number}`,
    on: { change: () => void send() },
  });
  input.checked = stage.done;
  async function send(): Promise<void> {
    const wished = input.checked;
    if (!(await markDone(page, wished ? stage.number : stage.number - 1))) input.checked = !wished;
  }
  return h(
    "label",
    { class: "tick" },
    input,
    h("span", {}, "Poured", h("span", { class: "unseen" }, `: stage ${stage.number}`)),
  );
}

function movers(page: Page, plan: PlanPart, index: number): HTMLElement {
  const name = plan.stages[index]?.name ?? "";
  const may = (to: number): boolean => {
    const there = plan.stages[to];
    return there !== undefined && canMove(there);
  };
  const arrow = (sign: string, to: number, word: string): HTMLElement =>
    button(sign, () => void move(page, index, to, may(to)), {
      id: `stage-${word}-${name}`,
      class: "button button-quiet mover",
      "aria-label": `Pour ${name} ${word}`,
      "aria-disabled": String(!may(to)),
    });
  const handle = h("span", {
    class: "drag-handle",
    title: "Drag to another place",
    "aria-hidden": "true",
    on: { pointerdown: (event) => start(event, handle) },
  });
  function start(event: PointerEvent, grip: HTMLElement): void {
    const cards = (): HTMLElement[] =>
      [...(grip.closest("ol")?.children ?? [])].filter((one) => one instanceof HTMLElement);
    drag(event, grip, {
      from: index,
      cards,
      allowed: may,
      drop: (to) => void move(page, index, to, may(to)),
    });
  }
  return h(
    "span",
    { class: "movers" },
    arrow("↑", index - 1, "earlier"),
    arrow("↓", index + 1, "later"),
    handle,
  );
}

async function move(page: Page, from: number, to: number, isAllowed: boolean): Promise<void> {
  if (!isAllowed) page.say("It cannot go there.");
  else if (await moveStage(page, from, to))
    page.say(`Moved to place ${to + 1}. The plan is made again.`);
}
