/** What to buy: resin in all, product by product. */

import type { PlanPart, Row } from "../api";
import type { Page } from "../page";
import { fluidOunces, grams, millilitres, money, num, said, text, words } from "../panel/figures";
import { block } from "../panel/keeping";
import { table } from "../panel/table";
import { planOf } from "./plan";

export function productBlock(page: Page): HTMLElement {
  return block(page, "", ["parts"], planOf, (plan) => (plan ? [products(plan)] : []));
}

function products(plan: PlanPart): HTMLElement {
  return table<Row>(
    {
      caption: "Resin in all, to buy or to have",
      first: "Resin",
      name: (row) => `${text(row, "product")} (${words(row, "pours").join(", ")})`,
    },
    plan.products,
    [
      { head: "Together", show: (row) => said(num(row, "total_ml"), millilitres), number: true },
      { head: "US fl oz", show: (row) => said(num(row, "total_ml"), fluidOunces), number: true },
      { head: "Part A", show: (row) => said(num(row, "a_g"), grams), number: true },
      { head: "Part B", show: (row) => said(num(row, "b_g"), grams), number: true },
      { head: "Costs", show: (row) => said(num(row, "cost"), money), number: true },
    ],
  );
}
