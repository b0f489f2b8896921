/** How large the artwork is: typed, or read off the photo by a sheet, a card or two points. */

import type { Change, Point, Value } from "./api";
import { readPoint } from "./cutting";
import { freshId, h } from "./dom";
import { faultLine, textField } from "./fields";
import type { Page } from "./page";

export type ScaleWay = "typed" | "sheet" | "card" | "measure" | "dpi";

const WAYS: [ScaleWay, string][] = [
  ["typed", "I type the width"],
  ["sheet", "The sheet of paper is of a known size"],
  ["card", "A bank card lies beside it"],
  ["measure", "I measured between two points"],
  ["dpi", "The file holds its density: as it says"],
];

/** Typed sizes win over what the photo shows, so they go when the photo is to be believed. */
const NOT_TYPED: Change[] = ["width", "height", "board", "margin"].map((name) => ({
  path: `size.${name}`,
  value: null,
}));
const NOT_SEEN: Change[] = ["photo.sheet", "photo.measure", "size.scale"].map((path) => ({
  path,
  value: null,
}));

export interface Measured {
  points: [Point, Point];
  length: string;
}

/** Two points and their distance, as the job holds them. */
export function readMeasured(value: Value): Measured | null {
  const [points = "", length = ""] = String(value ?? "").split("=");
  const [from, to] = points.trim().split(/\s+/).map(readPoint);
  return from && to ? { points: [from, to], length: length.trim() } : null;
}

/** The changes that make two points and a length the scale. */
export function measuredChanges(text: string): Change[] {
  return [...NOT_TYPED, ...NOT_SEEN, { path: "photo.measure", value: text }];
}

/** What the job says now. */
export function wayOf(page: Page): ScaleWay {
  const { edit } = page;
  if (edit.value("size.scale")) return "dpi";
  if (["width", "height", "board"].some((name) => edit.value(`size.${name}`))) return "typed";
  if (edit.value("photo.measure")) return "measure";
  const sheet = edit.value("photo.sheet");
  return sheet === "card" ? "card" : sheet ? "sheet" : "typed";
}

/** The choice of the way, and what it needs. `measuring` is told when two points are wanted. */
export function scaleField(page: Page, measuring: (yes: boolean) => void): HTMLElement {
  const name = freshId("scale");
  const radios = WAYS.map(([way, words]) => radio(name, way, words, () => choose(way)));
  const typed = h("div", { class: "row scale-detail" });
  typed.append(
    textField(page, { path: "size.width", label: "Width of the artwork", example: "14 1/4 in" }),
  );
  const boardNote = h("p", { class: "hint" });
  typed.append(boardNote);
  const sheet = sheetChoice(page);
  const measure = h("p", { class: "hint scale-detail" });
  measure.textContent = "Put the two points on the picture, then type what lies between them.";
  const details: Partial<Record<ScaleWay, HTMLElement>> = { typed, sheet, measure };
  let way: ScaleWay = wayOf(page);
  const choose = (next: ScaleWay): void => {
    way = next;
    show();
    measuring(way === "measure");
    const changes = changesFor(page, next);
    if (changes.length > 0) void page.edit.apply("Scale", changes);
  };
  const show = (): void => {
    for (const item of radios) {
      item.input.checked = item.way === way;
      const hasDensity = page.store.now.parts.source?.dpi != null;
      if (item.way === "dpi") item.element.hidden = !hasDensity && way !== "dpi";
    }
    typed.hidden = way !== "typed";
    sheet.hidden = way !== "sheet";
    measure.hidden = way !== "measure";
  };
  page.store.watch(["state", "parts"], () => {
    if (way !== "measure" || page.edit.value("photo.measure")) way = wayOf(page);
    boardNote.textContent = otherSize(page);
    show();
  });
  const faults = h("div", {}, ...["photo.sheet", "size.scale"].map((p) => faultLine(page, p)));
  return h(
    "fieldset",
    { class: "group", id: "how-large" },
    h("legend", {}, "How large is it?"),
    ...radios.flatMap((item) => [item.element, details[item.way] ?? null]),
    faults,
  );
}

function otherSize(page: Page): string {
  const board = page.edit.value("size.board");
  const height = page.edit.value("size.height");
  if (board) return `Now it is fitted into the board of ${String(board)}.`;
  return height ? `Now its height is ${String(height)}.` : "";
}

function changesFor(page: Page, way: ScaleWay): Change[] {
  if (way === "sheet") return [...NOT_TYPED, ...NOT_SEEN, { path: "photo.sheet", value: "auto" }];
  if (way === "card") return [...NOT_TYPED, ...NOT_SEEN, { path: "photo.sheet", value: "card" }];
  if (way === "dpi") return [...NOT_TYPED, ...NOT_SEEN, { path: "size.scale", value: "dpi" }];
  if (way === "typed" && wayOf(page) !== "typed") return NOT_SEEN;
  return [];
}

function sheetChoice(page: Page): HTMLElement {
  const select = h("select", { id: freshId("sheet"), class: "input" });
  select.addEventListener("change", () => {
    const value = select.value;
    void page.edit.apply("Sheet", [...NOT_TYPED, ...NOT_SEEN, { path: "photo.sheet", value }]);
  });
  page.store.watch(["tables", "state"], ({ tables }) => {
    const sheets = (tables?.sheets ?? []).filter((sheet) => sheet !== "card");
    const now = page.edit.value("photo.sheet");
    select.replaceChildren(
      ...sheets.map((sheet) =>
        h(
          "option",
          { value: sheet, selected: sheet === now },
          sheet === "auto"
            ? "A4 or letter, as it is found"
            : sheet.replace(/^./, (c) => c.toUpperCase()),
        ),
      ),
    );
  });
  const label = h("label", { class: "label", for: select.id }, "Sheet");
  return h("div", { class: "field scale-detail" }, label, select);
}

function radio(
  name: string,
  way: ScaleWay,
  words: string,
  choose: () => void,
): { way: ScaleWay; input: HTMLInputElement; element: HTMLElement } {
  const input = h("input", { type: "radio", name, id: freshId("way"), on: { change: choose } });
  const label = h("label", { class: "radio-label", for: input.id }, words);
  return { way, input, element: h("div", { class: "radio" }, input, label) };
}
