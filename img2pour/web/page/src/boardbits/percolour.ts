/** What differs for one colour: its own bits, and what becomes of its small places. */

import type { Colour, Section } from "../api";
import { button, chip, h } from "../dom";
import type { Page } from "../page";
import { refill } from "../panel/keeping";
import { faultLine } from "../fields";
import { asNames, bitTicks, shelf } from "./bits";
import { SMALL } from "./small";

type Poured = Pick<Colour, "name" | "hex" | "picture_hex">;

export function perColour(page: Page): HTMLElement {
  const host = h("div", { class: "per-colour" });
  const opened = new Set<string>();
  page.store.watch(["state", "tables", "parts"], () => {
    const poured = (page.store.drawn?.colours ?? []).filter((one) => one.role === "pour");
    refill(host, ...poured.map((colour) => colourBlock(page, colour, opened)));
  });
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "Other bits for one colour"),
    h("p", { class: "hint" }, "A colour without bits of its own is cut with the whole shelf."),
    host,
    faultLine(page, "override"),
  );
}

function colourBlock(page: Page, colour: Poured, opened: Set<string>): HTMLElement {
  const own = overrideOf(page, colour);
  const bits = asNames(own?.["bits"]);
  const block = h("details", {
    class: "colour-block",
    open: opened.has(colour.name),
    on: {
      toggle: () => void (block.open ? opened.add(colour.name) : opened.delete(colour.name)),
    },
  });
  const told = bits.length > 0 ? bits.join(", ") : "as on the shelf";
  block.append(
    h(
      "summary",
      { id: `own-bits-${colour.name}` },
      chip(colour.hex),
      h("strong", {}, colour.name),
      h("span", { class: "hint" }, told),
    ),
    bits.length > 0 ? ownBits(page, colour, bits) : ownBitsButton(page, colour),
    smallOfColour(page, colour, own),
  );
  return block;
}

function ownBitsButton(page: Page, colour: Poured): HTMLElement {
  const give = (): void =>
    void save(page, colour, `Own bits for ${colour.name}`, { bits: shelf(page) });
  return button("Give it bits of its own", give, { id: switchId(colour) });
}

/** The two buttons take each other's place: the focus stays. */
const switchId = (colour: Poured): string => `bits-switch-${colour.name}`;

function ownBits(page: Page, colour: Poured, bits: string[]): HTMLElement {
  const ticks = bitTicks(
    page,
    bits,
    (names, said) => save(page, colour, `${said}, for ${colour.name}`, { bits: names }),
    colour.name,
  );
  return h(
    "div",
    {},
    h(
      "div",
      { class: "bit-list", role: "group", "aria-label": `Bits for ${colour.name}` },
      ...ticks,
    ),
    button(
      "Cut it with the whole shelf",
      () => void save(page, colour, `${colour.name}: bits of the shelf`, { bits: null }),
      { id: switchId(colour) },
    ),
  );
}

function smallOfColour(page: Page, colour: Poured, own: Section | undefined): HTMLElement {
  const id = `small-of-${colour.name}`;
  const select = h("select", {
    id,
    class: "input",
    on: {
      change: () =>
        void save(page, colour, `${colour.name}, small places: ${select.value || "as usual"}`, {
          small: select.value || null,
        }),
    },
  });
  select.append(
    h("option", { value: "" }, "as for all"),
    ...SMALL.map((one) => h("option", { value: one.value }, one.title.toLowerCase())),
  );
  select.value = String(own?.["small"] ?? "");
  return h(
    "div",
    { class: "field" },
    h("label", { class: "label", for: id }, "What no bit can enter"),
    select,
  );
}

function overrideOf(page: Page, colour: Poured): Section | undefined {
  return page.edit.list("override").find((one) => isOf(one, colour));
}

const isOf = (section: Section, colour: Poured): boolean =>
  [colour.name, colour.picture_hex].includes(String(section["colour"]));

/** Keep what else differs for the colour, such as its role. */
function save(page: Page, colour: Poured, said: string, fields: Section): Promise<boolean> {
  const others = page.edit.list("override").filter((one) => !isOf(one, colour));
  const merged: Section = { colour: colour.name, ...overrideOf(page, colour), ...fields };
  const kept = Object.entries(merged).filter(
    ([, value]) =>
      value !== null && value !== undefined && !(Array.isArray(value) && !value.length),
  );
  const own: Section[] = kept.length > 1 ? [Object.fromEntries(kept)] : [];
  return page.edit.set(said, "override", [...others, ...own]);
}
