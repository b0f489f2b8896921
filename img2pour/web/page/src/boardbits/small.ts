/** What becomes of places that no bit can enter, and of walls too thin to stand. */

import { h } from "../dom";
import type { Page } from "../page";
import { choice, type Option } from "../panel/choice";

export const SMALL: Option[] = [
  { value: "drop", title: "Drop", words: "what surrounds it takes its place" },
  { value: "widen", title: "Widen", words: "until a bit can enter" },
  { value: "keep", title: "Keep", words: "as drawn; it is marked" },
];

const THIN: Option[] = [
  { value: "mark", title: "Mark", words: "you decide" },
  { value: "merge", title: "Merge", words: "the pocket takes them" },
  { value: "thicken", title: "Thicken", words: "until they stand" },
];

export function smallFields(page: Page): HTMLElement {
  return h(
    "div",
    { class: "choice-pair" },
    choice(page, { path: "carving.small", label: "What no bit can enter" }, SMALL),
    choice(page, { path: "carving.thin_walls", label: "Walls too thin to stand" }, THIN),
  );
}
