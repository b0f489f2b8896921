/** What each colour is cast in, and which colours are cast together. */

import type { Colour, Section } from "../api";
import { chip, h } from "../dom";
import { choiceField, faultLine, textField } from "../fields";
import type { Page } from "../page";
import { refill } from "../panel/keeping";
import { numberField } from "../panel/choice";
import { asNames } from "../boardbits/bits";

type Poured = Pick<Colour, "name" | "hex" | "picture_hex">;

export function resinBlock(page: Page): HTMLElement {
  const list = h("div", { class: "resin-list" });
  let drawn = "";
  page.store.watch(["state", "tables", "parts", "faults"], () => {
    const poured = (page.store.drawn?.colours ?? []).filter((one) => one.role === "pour");
    const key = JSON.stringify([
      poured.map((one) => [one.name, one.hex]),
      page.edit.list("resin"),
      page.store.now.tables?.resins,
      page.store.now.faults,
    ]);
    if (key === drawn) return;
    drawn = key;
    refill(list, ...poured.map((colour) => row(page, colour, poured)));
  });
  return h(
    "div",
    { class: "stack" },
    h("div", { class: "fields" }, forAll(page), forSeal(page)),
    h(
      "details",
      { class: "more" },
      h("summary", {}, "Another resin for one colour, or colours cast together"),
      list,
    ),
    faultLine(page, "resin"),
    extra(page),
  );
}

const forAll = (page: Page): HTMLElement =>
  productField(page, "mixing.resin", "Resin for every colour");

const forSeal = (page: Page): HTMLElement =>
  productField(page, "mixing.clear", "Resin for the seal");

/** A product with its ratio, depths and cure, as the table has them. */
function productField(page: Page, path: string, label: string): HTMLElement {
  const words = h("p", { class: "hint" });
  page.store.watch(["state", "tables"], ({ tables }) => {
    const name = page.edit.value(path);
    words.textContent = tables?.resins.find((resin) => resin.name === name)?.words ?? "";
  });
  return h(
    "div",
    {},
    choiceField(page, { path, label }, () => products(page)),
    words,
  );
}

const products = (page: Page): [string, string][] =>
  (page.store.now.tables?.resins ?? []).map((resin) => [resin.name, resin.name]);

function row(page: Page, colour: Poured, poured: Poured[]): HTMLElement {
  const use = useOf(page, colour);
  const product = picker(
    `resin-of-${colour.name}`,
    `Resin for ${colour.name}`,
    [["", "as for all"], ...products(page)],
    String(use?.["product"] ?? ""),
    (value) => void setProduct(page, colour, value),
  );
  const others = poured.filter((other) => other.name !== colour.name);
  const mate = use ? others.find((other) => belongs(use, other)) : undefined;
  const together = picker(
    `mate-of-${colour.name}`,
    "Cast together with",
    [["", "no other colour"], ...others.map((one): [string, string] => [one.name, one.name])],
    mate?.name ?? "",
    (value) =>
      void setMate(
        page,
        colour,
        poured.find((one) => one.name === value),
      ),
  );
  return h(
    "div",
    { class: "resin-row", role: "group", "aria-label": colour.name },
    h("span", { class: "named" }, chip(colour.hex), h("strong", {}, colour.name)),
    product,
    together,
  );
}

function picker(
  id: string,
  label: string,
  options: [string, string][],
  value: string,
  take: (value: string) => void,
): HTMLElement {
  const select = h("select", { id, class: "input", on: { change: () => take(select.value) } });
  const listed = options.some(([key]) => key === value)
    ? options
    : [...options, [value, value] as [string, string]];
  select.append(...listed.map(([key, words]) => h("option", { value: key }, words)));
  select.value = value;
  return h("div", { class: "field" }, h("label", { class: "label", for: id }, label), select);
}

const isNameOf = (name: string, colour: Poured): boolean =>
  [colour.name, colour.picture_hex].includes(name);

const belongs = (use: Section, colour: Poured): boolean => {
  const names = asNames(use["colours"]);
  return names.some((name) => isNameOf(name, colour));
};

const useOf = (page: Page, colour: Poured): Section | undefined =>
  page.edit.list("resin").find((use) => belongs(use, colour));

function setProduct(page: Page, colour: Poured, product: string): Promise<boolean> {
  const uses = page.edit.list("resin");
  const own = useOf(page, colour);
  const next: Section = { ...(own ?? { colours: [colour.name] }), product: product || null };
  const others = uses.filter((use) => use !== own);
  return page.edit.set(
    `${colour.name} in ${product || "the resin for all"}`,
    "resin",
    tidy([...others, next]),
  );
}

/** Cast a colour with another, or alone again. */
function setMate(page: Page, colour: Poured, mate: Poured | undefined): Promise<boolean> {
  const alone = page.edit
    .list("resin")
    .map((use) =>
      belongs(use, colour) ? { ...use, colours: without(use, colour), name: null } : use,
    );
  if (!mate) {
    const product = useOf(page, colour)?.["product"] ?? null;
    const own: Section = { colours: [colour.name], product };
    return page.edit.set(`${colour.name} cast alone`, "resin", tidy([...alone, own]));
  }
  const joined = alone.some((use) => belongs(use, mate))
    ? alone.map((use) =>
        belongs(use, mate) ? { ...use, colours: [...asNames(use["colours"]), colour.name] } : use,
      )
    : [...alone, { colours: [mate.name, colour.name] }];
  return page.edit.set(`${colour.name} cast with ${mate.name}`, "resin", tidy(joined));
}

const without = (use: Section, colour: Poured): string[] =>
  asNames(use["colours"]).filter((name) => !isNameOf(name, colour));

/** Leave out what says nothing: a colour alone in the resin for all. */
function tidy(uses: Section[]): Section[] {
  return uses
    .map((use) => Object.fromEntries(Object.entries(use).filter(([, value]) => value !== null)))
    .filter((use) => {
      const colours = asNames(use["colours"]);
      const says = use["product"] !== undefined || use["name"] !== undefined;
      return colours.length > 1 || (colours.length === 1 && (says || use["pigmented"] === false));
    });
}

function extra(page: Page): HTMLElement {
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "What is added to the pockets, and the shop"),
    h(
      "div",
      { class: "fields" },
      textField(page, { path: "mixing.overfill", label: "Stands proud, levelled away" }),
      textField(page, { path: "mixing.soak", label: "Bare wood drinks, as a film" }),
      textField(page, { path: "mixing.waste", label: "Left in cup and on the stick" }),
      numberField(page, {
        path: "mixing.least_waste_ml",
        label: "A cup loses at least",
        hint: "ml",
      }),
      numberField(page, {
        path: "mixing.least_batch_ml",
        label: "Least that is mixed",
        hint: "ml",
      }),
      numberField(page, { path: "shop.temperature_c", label: "In the shop", hint: "degrees C" }),
      numberField(page, { path: "shop.workday_hours", label: "Work of a day", hint: "hours" }),
      choiceField(page, { path: "shop.face", label: "Keeps resin out of the face" }, [
        ["coat", "a coat"],
        ["masking", "masking"],
        ["none", "nothing"],
      ]),
    ),
  );
}
