/** The order of the pours: moved by hand, or left to the program. */

import type { Change, PlanPart, Stage } from "../api";
import type { Page } from "../page";

/** Tell whether a stage may change its place: the seal and what is done stay. */
export const canMove = (stage: Stage): boolean => stage.kind !== "seal" && !stage.done;

/** Return the stages after the one at index `from` was moved to index `to`; null if it stays. */
export function reordered(plan: PlanPart, from: number, to: number): Stage[] | null {
  const stages = [...plan.stages];
  const moving = stages[from];
  const there = stages[to];
  if (from === to || !moving || !there || !canMove(moving) || !canMove(there)) return null;
  stages.splice(from, 1);
  stages.splice(to, 0, moving);
  return stages;
}

/** Return the edit that asks for the pours in the order of these stages. */
export function orderChange(stages: readonly Stage[]): Change {
  const pours = stages.filter((stage) => stage.kind !== "seal");
  return { path: "pours.order", value: pours.flatMap(namesOf) };
}

/** Names of what is poured in a stage; the seal is "clear". */
export const namesOf = (stage: Stage): string[] => stage.pockets.map((pocket) => pocket.pour);

/** Move a stage and say where it went. */
export async function moveStage(page: Page, from: number, to: number): Promise<boolean> {
  const plan = page.store.now.parts.plan;
  const stages = plan && reordered(plan, from, to);
  const moved = plan?.stages[from];
  if (!stages || !moved) return false;
  return page.edit.apply(`${moved.name} is now stage ${to + 1}`, [orderChange(stages)]);
}

/** Mark the first `count` stages as poured: they stay as they were planned. */
export function markDone(page: Page, count: number): Promise<boolean> {
  const plan = page.store.now.parts.plan;
  if (!plan) return Promise.resolve(false);
  const said = count === 0 ? "No stage is done" : `Done up to stage ${count}`;
  const kept = count === 0 ? null : plan.kept_stages;
  return page.edit.apply(said, [
    { path: "pours.done", value: count },
    { path: "pours.stages", value: kept },
  ]);
}
