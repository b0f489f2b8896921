/** The frame of the page: the head, the picture's column, the work sheet with its steps. */

import { column } from "./column";
import { button, h } from "./dom";
import type { Mount, Page } from "./page";
import { themeSwitch } from "./theme";
import { volumeText } from "./words";

export interface Step {
  number: number;
  title: string;
  words: string;
  mounts: Mount[];
}

/** Build the page once; what is in it follows the store. */
export function build(root: HTMLElement, page: Page, jobs: Mount, steps: Step[]): void {
  const sheet = h("main", { class: "sheet", id: "sheet", tabindex: -1 });
  const jobsHost = h("section", { class: "jobs", id: "jobs", "aria-label": "Jobs" });
  const stepsHost = h("div", { class: "steps" }, ...steps.map((step) => section(step, page)));
  sheet.append(titleBlock(page), jobsHost, stepsHost);
  const view = column(page);
  root.append(skipLink(), head(), h("div", { class: "bench" }, view, sheet));
  jobs(jobsHost, page);
  page.store.watch(["open"], ({ open }) => {
    root.classList.toggle("has-job", open !== null);
    view.hidden = open === null;
    stepsHost.hidden = open === null;
  });
}

function skipLink(): HTMLElement {
  const jump = (event: MouseEvent): void => {
    // The address names the job, so it is left alone.
    event.preventDefault();
    document.getElementById("sheet")?.focus();
  };
  return h("a", { class: "skip", href: "#sheet", on: { click: jump } }, "To the work sheet");
}

function head(): HTMLElement {
  const name = h("a", { class: "brand", href: "#" }, "img2pour");
  return h("header", { class: "head" }, name, h("span", { class: "head-space" }), themeSwitch());
}

function section(step: Step, page: Page): HTMLElement {
  const titleId = `step-${step.number}`;
  const body = h("div", { class: "step-body" });
  const title = h(
    "header",
    { class: "step-head" },
    h("span", { class: "tag", "aria-hidden": "true" }, String(step.number)),
    h("h2", { id: titleId, tabindex: -1 }, step.title),
    h("p", { class: "step-words" }, step.words),
  );
  for (const mount of step.mounts) {
    const host = h("div", { class: "part" });
    body.append(host);
    mount(host, page);
  }
  return h("section", { class: "step", "aria-labelledby": titleId }, title, body);
}

/** The head of the sheet: what this job comes to, in large figures. */
function titleBlock(page: Page): HTMLElement {
  const cells = h("dl", { class: "figures" });
  const name = h("h1", { class: "job-title", tabindex: -1 });
  let shown: string | null = null;
  page.store.watch(["state", "open"], ({ state, open }) => {
    const id = state?.id === open ? open : null;
    if (id !== null && id !== shown) arrive(page, name, state?.title ?? "");
    shown = id;
  });
  const block = h("div", { class: "title-block" }, name, cells, needSize(page));
  page.store.watch(["open", "state", "parts"], ({ state, parts }) => {
    block.hidden = state === null;
    name.textContent = state?.title ?? "";
    const drawn = page.store.drawn;
    const volumes = drawn?.colours.map((colour) => colour.volume_text) ?? [];
    const count = drawn?.colours.filter((colour) => colour.regions > 0).length ?? 0;
    const figures: [string, string | null][] = [
      ["Board", drawn?.board?.text ?? null],
      ["Colours", drawn === null ? null : String(count)],
      ["Resin", parts.plan === undefined ? null : volumeText(parts.plan.total_ml, volumes)],
      ["Days", parts.plan === undefined ? null : String(parts.plan.days)],
      ["Lost", parts.check === undefined ? null : `${parts.check.lost_percent.toFixed(2)} %`],
    ];
    cells.replaceChildren(
      ...figures.map(([word, figure]) =>
        h(
          "div",
          { class: word === "Board" ? "figure figure-wide" : "figure" },
          h("dt", {}, word),
          h("dd", {}, figure ?? "–"),
        ),
      ),
    );
  });
  return block;
}

/** A job was opened: start at its top, and tell it to those who do not see it. */
function arrive(page: Page, name: HTMLElement, title: string): void {
  window.scrollTo(0, 0);
  page.say(`${title} is open.`);
  window.setTimeout(() => {
    if (document.activeElement === document.body) name.focus({ preventScroll: true });
  });
}

/** While no size is known, nothing can be planned: the one thing to do next. */
function needSize(page: Page): HTMLElement {
  const go = button("Say how large", () => {
    const field = document.getElementById("how-large");
    field?.scrollIntoView({ block: "center" });
    field?.querySelector<HTMLElement>("input")?.focus();
  });
  const words = "It has no size yet. Until it has one, only the colours can be looked at.";
  const note = h("div", { class: "note note-warn need-size row", hidden: true });
  note.append(h("p", {}, words), go);
  page.store.watch(["state", "parts"], () => {
    const drawn = page.store.drawn;
    note.hidden = drawn === null || drawn.board !== null;
  });
  return note;
}
