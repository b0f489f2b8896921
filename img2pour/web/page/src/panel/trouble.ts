/** Why the work on this revision could not be done, where its results would stand. */

import { h } from "../dom";
import type { Page } from "../page";

export function troubleNote(page: Page): HTMLElement {
  const note = h("p", { class: "note note-fault", hidden: true });
  page.store.watch(["trouble"], ({ trouble }) => {
    note.hidden = trouble === null;
    note.textContent = trouble === null ? "" : sentence(trouble);
  });
  return note;
}

const sentence = (words: string): string =>
  `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.?]$/.test(words) ? "" : "."}`;
