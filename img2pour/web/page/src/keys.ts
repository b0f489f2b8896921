/** Keys that work everywhere on the page. */

import type { Page } from "./page";

/** Ctrl+Z undoes, Ctrl+Shift+Z and Ctrl+Y do again; a text that is being typed keeps its own. */
export function pageKeys(page: Page): void {
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || isTyping(event.target)) return;
    const key = event.key.toLowerCase();
    const { state } = page.store.now;
    const redo = (key === "z" && event.shiftKey) || key === "y";
    if (key !== "z" && !redo) return;
    event.preventDefault();
    if (redo && state?.can_redo) void page.edit.redo();
    else if (!redo && state?.can_undo) void page.edit.undo();
    else page.say(redo ? "Nothing to do again." : "Nothing to undo.");
  });
}

const isTyping = (target: EventTarget | null): boolean =>
  target instanceof HTMLTextAreaElement ||
  (target instanceof HTMLInputElement && ["text", "number", "search"].includes(target.type));
