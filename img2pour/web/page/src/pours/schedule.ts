/** The days: a chart to see, a table to work by. */

import type { PlanPart, Row } from "../api";
import { h, svg } from "../dom";
import type { Page } from "../page";
import { days, hours, num, plain, rows, text } from "../panel/figures";
import { block } from "../panel/keeping";
import { table } from "../panel/table";
import { planOf } from "./plan";

const HOURS_OF_DAY = 24;
const ROW = 30;
const HEAD = 24;
const WIDTH = 600;
const LABEL = 112;
/** A bar that is shorter is still seen. */
const LEAST_BAR = 3;

interface Span {
  stage: number;
  kind: "work" | "machine" | "wait";
  start_h: number;
  end_h: number;
}

export function scheduleBlock(page: Page): HTMLElement {
  return block(page, "stack", ["parts"], planOf, (plan) =>
    plan ? [chart(plan), legend(), steps(plan)] : [],
  );
}

function chart(plan: PlanPart): HTMLElement {
  const spans = rows(plan.schedule, "steps").flatMap(spansOf);
  const lines = [...new Set(spans.map((one) => one.stage))].sort(lastZero);
  const last_h = Math.max(1, ...spans.map((one) => one.end_h));
  const shown = Math.ceil(last_h / HOURS_OF_DAY);
  const x = (at_h: number): number => LABEL + ((WIDTH - LABEL) * at_h) / (shown * HOURS_OF_DAY);
  const picture = svg(
    "svg",
    {
      class: "chart",
      viewBox: `0 0 ${WIDTH} ${HEAD + ROW * lines.length + 4}`,
      role: "img",
      "aria-label": `The work of ${days(shown)}, stage by stage; the table below tells the same`,
    },
    ...dayLines(shown, x, lines.length),
    ...lines.map((stage, row) => label(nameOf(plan, stage), row)),
    ...spans.map((one) => bar(one, lines.indexOf(one.stage), x)),
  );
  return h(
    "div",
    { class: "scroll", role: "region", "aria-label": "Chart of the days", tabindex: 0 },
    picture,
  );
}

/** Steps before the first and after the last stage stand at the end. */
const lastZero = (a: number, b: number): number => (a || Infinity) - (b || Infinity) || 0;

/** Work first, then the machine, then waiting: so each step goes. */
function spansOf(step: Row): Span[] {
  const stage = num(step, "stage") ?? 0;
  let at = num(step, "start_h") ?? 0;
  const spans: Span[] = [];
  for (const [kind, key] of [
    ["work", "work_hours"],
    ["machine", "machine_hours"],
    ["wait", "wait_hours"],
  ] as const) {
    const length = num(step, key) ?? 0;
    if (length > 0) spans.push({ stage, kind, start_h: at, end_h: at + length });
    at += length;
  }
  return spans;
}

const nameOf = (plan: PlanPart, stage: number): string => {
  const found = plan.stages.find((one) => one.number === stage);
  return found ? `${stage} ${found.kind === "seal" ? "seal" : found.name}` : "the face";
};

function dayLines(shown: number, x: (at_h: number) => number, lines: number): SVGElement[] {
  const step = shown > 40 ? 7 : shown > 14 ? 2 : 1;
  return Array.from({ length: shown }, (_, day) => {
    const at = x(day * HOURS_OF_DAY);
    const bottom = HEAD + ROW * lines;
    const words = day % step === 0 ? String(day + 1) : "";
    return svg(
      "g",
      {},
      svg("path", { class: "chart-day", d: `M${at} ${HEAD - 4}V${bottom}` }),
      svg("text", { class: "chart-number", x: at + 3, y: HEAD - 9 }, words),
    );
  });
}

function label(name: string, row: number): SVGElement {
  const short = name.length > 15 ? `${name.slice(0, 14)}…` : name;
  return svg("text", { class: "chart-label", x: 0, y: HEAD + ROW * row + ROW / 2 + 5 }, short);
}

function bar(one: Span, row: number, x: (at_h: number) => number): SVGElement {
  const from = x(one.start_h);
  const tall = one.kind === "wait" ? 10 : 20;
  return svg("rect", {
    class: `bar-${one.kind}`,
    x: from,
    y: HEAD + ROW * row + (ROW - tall) / 2,
    width: Math.max(LEAST_BAR, x(one.end_h) - from),
    height: tall,
  });
}

function legend(): HTMLElement {
  const items: [string, string][] = [
    ["work", "your hands"],
    ["machine", "the machine"],
    ["wait", "waiting for cure"],
  ];
  return h(
    "ul",
    { class: "legend" },
    ...items.map(([kind, words]) => h("li", {}, sample(kind), words)),
  );
}

const sample = (kind: string): SVGElement =>
  svg(
    "svg",
    { viewBox: "0 0 28 20", class: "legend-sample", "aria-hidden": "true" },
    svg("rect", {
      class: `bar-${kind}`,
      width: 28,
      y: kind === "wait" ? 5 : 0,
      height: kind === "wait" ? 10 : 20,
    }),
  );

function steps(plan: PlanPart): HTMLElement {
  const list = table<Row>(
    {
      caption: "Cure goes on day and night; hands and machine work in the hours of a working day",
      first: "Step",
      name: (row) => text(row, "what"),
    },
    rows(plan.schedule, "steps"),
    [
      { head: "Day", show: (row) => plain(dayOf(row), 0), number: true },
      { head: "Hands", show: (row) => time(row, "work_hours"), number: true },
      { head: "Machine", show: (row) => time(row, "machine_hours"), number: true },
      { head: "Wait", show: (row) => time(row, "wait_hours"), number: true },
    ],
  );
  return h("details", { class: "more" }, h("summary", {}, "Step by step"), list);
}

const dayOf = (row: Row): number => Math.floor((num(row, "start_h") ?? 0) / HOURS_OF_DAY) + 1;

const time = (row: Row, key: string): string => {
  const value = num(row, key) ?? 0;
  return value > 0 ? hours(value) : "";
};
