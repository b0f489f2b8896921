/** How large the piece becomes: one of width, height or board, typed as people type lengths. */

import { fill, h } from "../dom";
import type { Page } from "../page";
import { textField } from "../fields";
import { choice, sentField, type Option } from "../panel/choice";

type By = "width" | "height" | "board" | "dpi" | "photo";

const WAYS: (Option & { value: By })[] = [
  { value: "width", title: "Width", words: "of the picture" },
  { value: "height", title: "Height", words: "of the picture" },
  { value: "board", title: "Board", words: "the picture is fitted inside" },
];
const DPI: Option = { value: "dpi", title: "As stored", words: "dots per inch in the picture" };
const PHOTO: Option = { value: "photo", title: "From the photo", words: "by its sheet or measure" };

/** Fields that another way of giving the size leaves empty. */
const ALL = ["size.width", "size.height", "size.board", "size.margin", "size.scale"];

export function sizeFields(page: Page): HTMLElement {
  const ways = h("div", {});
  const lengths = h("div", { class: "fields" });
  const made = new Map<By, HTMLElement[]>();
  let chosen: By = "width";

  function show(by: By): void {
    chosen = by;
    if (!made.has(by)) made.set(by, lengthsFor(page, by));
    const fields = made.get(by) ?? [];
    if (lengths.firstChild !== (fields[0] ?? null)) fill(lengths, ...fields);
  }

  function take(by: By): void {
    show(by);
    lengths.querySelector("input")?.focus();
  }

  const plain = wayChoice(page, WAYS, take, () => chosen);
  const told = wayChoice(page, [...WAYS, DPI, PHOTO], take, () => chosen);
  page.store.watch(["state"], () => {
    show(givenBy(page) ?? chosen);
    const shown = chosen === "dpi" || chosen === "photo" ? told : plain;
    if (ways.firstChild !== shown) fill(ways, shown);
  });
  return h("div", { class: "size" }, ways, lengths, boardWords(page));
}

function wayChoice(
  page: Page,
  options: readonly Option[],
  take: (by: By) => void,
  read: () => By,
): HTMLElement {
  const send = async (option: Option): Promise<boolean> => {
    take(option.value as By);
    return true;
  };
  return choice(page, { path: "size.scale", label: "Give the size by", send, read }, options);
}

function givenBy(page: Page): By | null {
  for (const by of ["width", "height", "board"] as const) {
    if (page.edit.value(`size.${by}`)) return by;
  }
  if (page.edit.value("size.scale") === "dpi") return "dpi";
  const told = page.edit.value("photo.sheet") || page.edit.value("photo.measure");
  return told ? "photo" : null;
}

function lengthsFor(page: Page, by: By): HTMLElement[] {
  switch (by) {
    case "width":
      return [sizeField(page, "width", "Width of the picture", "12 in, 14 1/4 in, 30 cm")];
    case "height":
      return [sizeField(page, "height", "Height of the picture", "8 in, 200 mm")];
    case "board":
      return [
        sizeField(page, "board", "Board, width x height", "21 x 14 1/4 in"),
        textField(page, { path: "size.margin", label: "Free around it", example: "1/2 in" }),
      ];
    case "dpi":
    case "photo":
      return [];
  }
}

/** A length that takes the place of every other way to give the size. */
function sizeField(page: Page, name: string, label: string, example: string): HTMLElement {
  const path = `size.${name}`;
  const send = (typed: string): Promise<boolean> => {
    const others = ALL.filter(
      (one) => one !== path && !(name === "board" && one === "size.margin"),
    );
    return page.edit.apply(label, [
      ...others.map((one) => ({ path: one, value: null })),
      { path, value: typed || null },
    ]);
  };
  return sentField(page, { path, label, example, send });
}

/** What the size comes to, as the program read it. */
function boardWords(page: Page): HTMLElement {
  const line = h("p", { class: "result-line" });
  page.store.watch(["parts"], () => {
    const board = page.store.drawn?.board;
    line.textContent = board
      ? `The board: ${board.text}.`
      : "Tell the size: the rest follows from it.";
  });
  return line;
}
