/** The plan of the pours, where something is poured. */

import type { PlanPart } from "../api";
import type { Page } from "../page";
import type { Known } from "../store";

/** The last plan that came, or null while there is none or nothing is poured. */
export const planOf = ({ parts }: Known): PlanPart | null =>
  parts.plan && parts.plan.stages.length > 0 ? parts.plan : null;

/** Show an element only where there is a board, and something is poured into it. */
export function whenPoured(page: Page, element: HTMLElement): void {
  page.store.watch(["parts"], (known) => {
    element.hidden = !page.store.drawn?.board || poursNothing(known);
  });
}

/** Whether a plan came in which nothing is poured. */
export const poursNothing = ({ parts }: Known): boolean => parts.plan?.stages.length === 0;
