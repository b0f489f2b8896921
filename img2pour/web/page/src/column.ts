/** The column with the picture that is always in sight: its bar, and what is going on. */

import { button, h } from "./dom";
import type { Page } from "./page";
import type { Known } from "./store";
import { plainText, stepText } from "./words";

/** The column with the picture: its bar, the picture, what is going on. */
export function column(page: Page): HTMLElement {
  const bare = { class: "button button-bar" };
  const can = (what: "can_undo" | "can_redo"): boolean => page.store.now.state?.[what] ?? false;
  const undo = button("Undo", () => can("can_undo") && void page.edit.undo(), bare);
  const redo = button("Redo", () => can("can_redo") && void page.edit.redo(), bare);
  const fold = button("Fold", () => folding(), { class: "button button-bar fold" });
  const bar = h("div", { class: "bar", role: "toolbar", "aria-label": "Picture" });
  bar.append(fold, undo, redo, zooms(page), page.board.tools);
  const view = h("section", { class: "view", "aria-label": "The board" });
  view.append(bar, going(page), page.board.element, page.board.tray);
  const folding = (): void => {
    const folded = view.classList.toggle("folded");
    fold.textContent = folded ? "Unfold" : "Fold";
    fold.setAttribute("aria-expanded", String(!folded));
  };
  fold.setAttribute("aria-expanded", "true");
  page.store.watch(["state"], ({ state }) => {
    ready(undo, "Undo", can("can_undo"), state?.undo_label);
    ready(redo, "Redo", can("can_redo"), state?.redo_label);
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
