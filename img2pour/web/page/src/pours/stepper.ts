/** Step through the board, stage by stage: a slider, two buttons, and the way back. */

import { button, h } from "../dom";
import type { Page } from "../page";
import { planOf } from "./plan";
import { showStage } from "./stageview";

/** The buttons beside the picture, so that stepping needs no scrolling. */
export function stageTools(page: Page): HTMLElement {
  const toggle = button("Stages", () => showStage(page, shown() ? null : 1), {
    class: "button button-bar",
    title: "The board stage by stage",
  });
  const bar = { class: "button button-bar" };
  const back = button("‹", () => step(page, -1), { ...bar, "aria-label": "Stage before" });
  const next = button("›", () => step(page, 1), { ...bar, "aria-label": "Stage after" });
  const tools = h("span", { class: "stage-tools", role: "group", "aria-label": "Stages" });
  const shown = (): boolean => page.store.now.selection.stage !== null;
  page.store.watch(["selection", "parts"], (known) => {
    const plan = planOf(known);
    const stage = known.selection.stage;
    tools.hidden = plan === null;
    toggle.setAttribute("aria-pressed", String(shown()));
    const unseen = h("span", { class: "unseen" }, "Stage ");
    const words = stage === null ? "Stages" : `${stage} / ${plan?.stages.length ?? stage}`;
    toggle.replaceChildren(...(stage === null ? [] : [unseen]), words);
    back.hidden = stage === null;
    next.hidden = stage === null;
    back.setAttribute("aria-disabled", String(stage === 1));
    next.setAttribute("aria-disabled", String(stage === plan?.stages.length));
  });
  tools.append(back, toggle, next);
  return tools;
}

/** Go to the stage before or after; from the design to the first or the last. */
export function step(page: Page, by: number): void {
  const plan = planOf(page.store.now);
  if (!plan) return;
  const last = plan.stages.length;
  const from = page.store.now.selection.stage ?? (by > 0 ? 0 : last + 1);
  const stage = Math.min(last, Math.max(1, from + by));
  showStage(page, stage);
  const name = plan.stages[stage - 1]?.name ?? "";
  page.say(`The board after stage ${stage} of ${last}: ${name}.`);
}

/** The slider of the sheet: 0 is the wood as it lies, the last is the end. */
export function stageSlider(page: Page): HTMLElement {
  const slider = h("input", {
    type: "range",
    id: "stage-slider",
    class: "slider",
    min: 1,
    step: 1,
    on: { input: () => showStage(page, Number(slider.value)) },
  });
  const words = h("output", { class: "slider-words", for: "stage-slider" });
  const whole = button("Show the design", () => showStage(page, null));
  const row = h(
    "div",
    { class: "slider-row" },
    button("‹", () => step(page, -1), { "aria-label": "Stage before" }),
    slider,
    button("›", () => step(page, 1), { "aria-label": "Stage after" }),
    whole,
  );
  const label = h("label", { class: "label", for: "stage-slider" }, "The board after stage");
  const host = h("div", { class: "stepper" }, label, words, row);
  page.store.watch(["selection", "parts"], (known) => {
    const plan = planOf(known);
    host.hidden = plan === null;
    if (!plan) return;
    const { stage } = known.selection;
    slider.max = String(plan.stages.length);
    slider.value = String(stage ?? plan.stages.length);
    const name = plan.stages[(stage ?? 0) - 1]?.name;
    words.textContent = stage === null ? "the design is shown" : `${stage}: ${name ?? ""}`;
    slider.setAttribute("aria-valuetext", words.textContent);
    whole.setAttribute("aria-disabled", String(stage === null));
  });
  return host;
}
