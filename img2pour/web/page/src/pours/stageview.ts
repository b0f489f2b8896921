/** The board as it looks after a stage, in the place of the design. */

import type { PlanPart, Stage } from "../api";
import { svg } from "../dom";
import type { Page } from "../page";
import { planOf } from "./plan";

const SEAL_LAYER = "seal";
const HATCHING = "underlap-hatching";
/** Lines across the width of the board. */
const HATCHES = 130;

/** Show the board after a stage, or the design; what was picked in the design is let go. */
export function showStage(page: Page, stage: number | null): void {
  if (stage !== null && page.store.now.selection.stage === null) page.board.zoom.fit();
  page.store.select({ stage, face: null, colour: null });
}

/** Draw the stage that is selected; the design when none is. */
export function followStage(page: Page): void {
  let drawn: { plan: PlanPart | null; stage: number | null } = { plan: null, stage: null };
  page.store.watch(["parts", "selection"], (known) => {
    const plan = planOf(known);
    const stage = known.selection.stage;
    if (drawn.plan === plan && drawn.stage === stage) return;
    drawn = { plan, stage };
    const shown = plan?.stages.find((one) => one.number === stage);
    if (stage !== null && plan && !shown) page.store.select({ stage: null });
    show(page, plan, shown ?? null);
  });
}

function show(page: Page, plan: PlanPart | null, stage: Stage | null): void {
  const { board } = page;
  if (!plan || !stage) {
    board.setBase(null);
    board.layer(SEAL_LAYER).replaceChildren();
    board.setCaption("stage", "");
    return;
  }
  board.setBase([hatching(page), ground(page, plan), ...looks(stage), ...fresh(stage)]);
  board.setCaption("stage", caption(plan, stage));
}

/** The bare board. */
function ground(page: Page, plan: PlanPart): SVGElement {
  const [x, y, width, height] = page.store.drawn?.viewbox ?? [0, 0, 0, 0];
  return svg("rect", { x, y, width, height, fill: plan.wood_hex });
}

function looks(stage: Stage): SVGElement[] {
  return stage.look.map((look) =>
    svg("path", { d: look.d, fill: look.hex, "fill-rule": "evenodd", class: "look" }),
  );
}

/** What is cut in this stage, outlined; hatched where a later pour covers it. */
function fresh(stage: Stage): SVGElement[] {
  return stage.pockets.flatMap((pocket) => {
    const kind = stage.kind === "seal" ? "pocket pocket-seal" : "pocket";
    const outline = [
      svg("path", { d: pocket.d, class: `${kind} pocket-rim`, "fill-rule": "evenodd" }),
      svg("path", { d: pocket.d, class: kind, "fill-rule": "evenodd" }),
    ];
    const under = pocket.under_d ? [underlap(pocket.under_d)] : [];
    return [...under, ...outline];
  });
}

const underlap = (d: string): SVGElement =>
  svg("path", { d, class: "underlap", fill: `url(#${HATCHING})`, "fill-rule": "evenodd" });

/** Slanting lines, dark beside light, so that they are seen on every colour. */
function hatching(page: Page): SVGElement {
  const step = (page.store.drawn?.viewbox[2] ?? 100) / HATCHES;
  const [dark, light] = [step * 0.3, step * 0.3];
  const pattern = svg(
    "pattern",
    {
      id: HATCHING,
      patternUnits: "userSpaceOnUse",
      width: step,
      height: step,
      patternTransform: "rotate(45)",
    },
    svg("rect", { width: dark, height: step, fill: "#000", "fill-opacity": 0.55 }),
    svg("rect", { x: dark, width: light, height: step, fill: "#fff", "fill-opacity": 0.55 }),
  );
  return svg("defs", {}, pattern);
}

function caption(plan: PlanPart, stage: Stage): string {
  const what = stage.kind === "seal" ? "the clear seal" : stage.name;
  const under = stage.pockets.some((pocket) => pocket.under_d)
    ? "; hatched: under later pours"
    : "";
  return `After stage ${stage.number} of ${plan.stages.length}: ${what}${under}.`;
}
