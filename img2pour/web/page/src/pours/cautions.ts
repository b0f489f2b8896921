/** The usual cautions, in short. */

import type { PlanPart } from "../api";
import { h } from "../dom";
import type { Page } from "../page";
import { block } from "../panel/keeping";

export function cautionBlock(page: Page): HTMLElement {
  return block(
    page,
    "cautions",
    ["parts"],
    ({ parts }) => parts.plan?.cautions,
    (cautions) => (cautions?.length ? [list(cautions)] : []),
  );
}

const list = (cautions: PlanPart["cautions"]): HTMLElement =>
  h(
    "dl",
    { class: "caution-list" },
    ...cautions.map(({ title, text }) => h("div", {}, h("dt", {}, title), h("dd", {}, text))),
  );
