/** What stays of each pour after all stages, and the thin lines that are left standing. */

import type { PlanPart, Row } from "../api";
import { h } from "../dom";
import type { Page } from "../page";
import { count, num, percent, plain, text } from "../panel/figures";
import { block } from "../panel/keeping";
import { table } from "../panel/table";
import { planOf } from "./plan";
import { spotOf } from "./seals";
import { spotList } from "./spots";

/** A smaller loss is not seen; own judgement. */
const SEEN_MM2 = 0.05;

export function keptBlock(page: Page): HTMLElement {
  return block(page, "stack", ["parts"], planOf, (plan) =>
    plan ? [kept(plan), standing(page, plan)] : [],
  );
}

function kept(plan: PlanPart): HTMLElement {
  const rows = table<Row>(
    {
      caption: "What shows after the last stage, against the artwork",
      first: "Pour",
      name: (row) => text(row, "pour"),
    },
    plan.losses,
    [
      { head: "Kept", show: share, number: true },
      { head: "Lost in whole regions", show: (row) => area(row, "islands_mm2"), number: true },
      { head: "In narrow places", show: (row) => area(row, "narrow_mm2"), number: true },
      { head: "In corners", show: (row) => area(row, "corners_mm2"), number: true },
    ],
  );
  return h("details", { class: "more" }, h("summary", {}, "What stays of each pour"), rows);
}

function share(row: Row): string {
  const wished = num(row, "wished_mm2") ?? 0;
  return wished > 0 ? percent((100 * (num(row, "kept_mm2") ?? 0)) / wished) : "";
}

function area(row: Row, key: string): string {
  const mm2 = num(row, key) ?? 0;
  return mm2 < SEEN_MM2 ? "none" : `${plain(mm2, mm2 < 10 ? 1 : 0)} mm²`;
}

function standing(page: Page, plan: PlanPart): HTMLElement | null {
  const lines = plan.standing_lines;
  const thin = lines.filter((line) => line["stands"] === false).length;
  const words = thin > 0 ? `, ${thin} too thin to stand` : "";
  return spotList(
    page,
    `${count(lines.length, "thin line")} left standing between later pours${words}`,
    lines.flatMap(spotOf),
  );
}
