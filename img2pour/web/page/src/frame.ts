/** The frame of the page: the head, the picture's column, the work sheet with its steps. */

import { button, h } from "./dom";
import type { Mount, Page } from "./page";
import type { Known } from "./store";
import { themeSwitch } from "./theme";
import { plainText, stepText, volumeText } from "./words";

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
  return h("a", { class: "skip", href: "#sheet" }, "To the work sheet");
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
  const name = h("h1", { class: "job-title" });
  const block = h("div", { class: "title-block" }, name, cells, needSize(page));
  page.store.watch(["open", "state", "parts"], ({ state, parts }) => {
    block.hidden = state === null;
    name.textContent = state?.title ?? "";
    const drawn = page.store.drawn;
    const volumes = drawn?.colours.map((colour) => colour.volume_text) ?? [];
    const figures: [string, string | null][] = [
      ["Board", drawn?.board?.text ?? null],
      ["Colours", drawn === null ? null : String(drawn.colours.filter((one) => one.regions > 0).length)],
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

/** The column with the picture: its bar, the picture, what is going on. */
function column(page: Page): HTMLElement {
  const undo = button("Undo", () => page.store.now.state?.can_undo && void page.edit.undo(), { class: "button button-bar" });
  const redo = button("Redo", () => page.store.now.state?.can_redo && void page.edit.redo(), { class: "button button-bar" });
  const fold = button("Fold", () => folding(), { class: "button button-bar fold" });
  const bar = h("div", { class: "bar", role: "toolbar", "aria-label": "Picture" });
  bar.append(fold, undo, redo, zooms(page), page.board.tools);
  const view = h("section", { class: "view", "aria-label": "The board" }, bar, going(page), page.board.element, page.board.tray);
  const folding = (): void => {
    const folded = view.classList.toggle("folded");
    fold.textContent = folded ? "Unfold" : "Fold";
    fold.setAttribute("aria-expanded", String(!folded));
  };
  fold.setAttribute("aria-expanded", "true");
  page.store.watch(["state"], ({ state }) => {
    ready(undo, "Undo", state?.can_undo ?? false, state?.undo_label);
    ready(redo, "Redo", state?.can_redo ?? false, state?.redo_label);
  });
  return view;
}

function ready(
  element: HTMLButtonElement,
  word: string,
  can: boolean,
  what: string | null | undefined,
): void {
  // A disabled button would lose the focus of those who press it again and again.
  element.setAttribute("aria-disabled", String(!can));
  element.setAttribute("aria-label", can && what ? `${word}: ${what}` : word);
  element.title = can && what ? `${word}: ${what}` : "";
}

function zooms(page: Page): HTMLElement {
  const { zoom } = page.board;
  return h(
    "div",
    { class: "zooms", role: "group", "aria-label": "Zoom" },
    button("−", () => zoom.by(1 / 1.5), { class: "button button-bar", "aria-label": "Smaller" }),
    button("Whole", () => zoom.fit(), { class: "button button-bar" }),
    button("+", () => zoom.by(1.5), { class: "button button-bar", "aria-label": "Larger" }),
  );
}

const CALM_MS = 250;

/** One calm line: what is worked on, or what is wrong. It always has its place. */
function going(page: Page): HTMLElement {
  const words = h("span", { class: "going-words" });
  const meter = h("progress", { class: "meter", max: 1, value: 0, "aria-label": "Progress" });
  const line = h("div", { class: "going" }, meter, words);
  let waiting: number | undefined;
  const show = (): void => {
    const { progress, trouble, connected } = page.store.now;
    line.classList.toggle("is-trouble", trouble !== null || !connected);
    meter.value = progress?.share ?? 0;
    meter.hidden = progress === null;
    words.textContent = goingText(page.store.now);
  };
  page.store.watch(["progress", "trouble", "connected", "state"], ({ progress, trouble }) => {
    line.classList.toggle("is-working", progress !== null);
    window.clearTimeout(waiting);
    // What is over in a moment is not told at all: words that flicker help nobody.
    if (progress === null || trouble !== null || !meter.hidden) show();
    else waiting = window.setTimeout(show, CALM_MS);
  });
  return line;
}

function goingText({ progress, trouble, connected }: Known): string {
  if (!connected) return "No connection to the program. It is tried again.";
  if (trouble !== null) return plainText(trouble);
  return progress === null ? "" : stepText(progress.step);
}
