/** One colour of the list: its figures, its role, and what can be changed about it. */

import type { Colour, Role } from "./api";
import { button, chip, freshId, h } from "./dom";
import type { Page } from "./page";
import { mergeChange, renamed, roleChange, shownChange } from "./palettes";
import { percentText, plural } from "./words";

export const ROLES: [Role, string][] = [
  ["pour", "Pour"],
  ["wood", "Wood"],
  ["outside", "Outside"],
];

/** A row of the list. It opens to be changed when it is selected. */
export function swatch(page: Page, colour: Colour, open: boolean): HTMLElement {
  const detail = open ? details(page, colour) : null;
  const name = h(
    "button",
    {
      type: "button",
      class: "swatch-name",
      id: `colour-${colour.index}`,
      "aria-expanded": String(open),
      on: { click: () => page.store.select({ colour: open ? null : colour.index, face: null }) },
    },
    chip(colour.hex, "chip chip-big"),
    h(
      "span",
      { class: "swatch-words" },
      h("b", {}, colour.name),
      h("span", {}, facts(page, colour)),
    ),
  );
  const share = h("span", { class: "swatch-share" }, percentText(colour.area_percent));
  return h("li", { class: "swatch" }, name, share, roles(page, colour), detail);
}

function facts(page: Page, colour: Colour): string {
  const pour = colour.role === "pour";
  const resins = page.store.drawn?.colours.map((one) => one.resin).filter(Boolean) ?? [];
  const resin = pour && new Set(resins).size > 1 ? `in ${colour.resin}` : "";
  return [
    colour.area_text,
    pour ? colour.volume_text : null,
    plural(colour.regions, "region"),
    resin,
  ]
    .filter(Boolean)
    .join(" · ");
}

function roles(page: Page, colour: Colour): HTMLElement {
  const group = h("div", {
    class: "segments roles",
    role: "group",
    "aria-label": `What becomes of ${colour.name}`,
  });
  for (const [role, word] of ROLES) {
    const press = button(word, () => setRole(page, colour, role), {
      class: "button segment",
      id: `role-${colour.index}-${role}`,
      "aria-pressed": String(colour.role === role),
    });
    group.append(press);
  }
  return group;
}

function setRole(page: Page, colour: Colour, role: Role): void {
  if (role === colour.role) return;
  const label = `${colour.name}: ${role}`;
  void page.edit.follow(label, (job) => [roleChange(job, colour, role)]);
}

function details(page: Page, colour: Colour): HTMLElement {
  const fields = h("div", { class: "row" }, nameField(page, colour), hexField(page, colour));
  const acts = h("div", { class: "row" }, mergeField(page, colour), splitButton(page, colour));
  return h("div", { class: "swatch-detail" }, fields, acts);
}

function nameField(page: Page, colour: Colour): HTMLElement {
  const input = h("input", {
    type: "text",
    class: "input",
    id: `name-${colour.index}`,
    value: colour.name,
    maxlength: 80,
    autocomplete: "off",
  });
  input.addEventListener("change", () => {
    const name = input.value.trim();
    const { state } = page.store.now;
    const design = page.store.drawn;
    if (!name || name === colour.name || state === null || design === null) return;
    void page.edit.apply(`${colour.name} is ${name}`, renamed(state.job, design, colour, name));
  });
  return labelled("Name", input);
}

function hexField(page: Page, colour: Colour): HTMLElement {
  const input = h("input", {
    type: "color",
    class: "input input-colour",
    id: `hex-${colour.index}`,
    value: colour.hex,
  });
  const pour = (hex: string): void => {
    if (hex === colour.hex) return;
    void page.edit.follow(`${colour.name} recoloured`, (job) => [shownChange(job, colour, hex)]);
  };
  input.addEventListener("change", () => pour(input.value));
  const field = labelled("Colour it is poured in", input);
  const own = colour.picture_hex;
  if (own === null || own === colour.hex) return field;
  field.append(button("As in the picture", () => pour(own), { class: "button button-quiet" }));
  return field;
}

function mergeField(page: Page, colour: Colour): HTMLElement {
  const others = page.store.drawn?.colours.filter((other) => other.index !== colour.index) ?? [];
  const select = h(
    "select",
    { class: "input", id: `merge-${colour.index}` },
    h("option", { value: "" }, "choose a colour"),
    ...others.map((other) => h("option", { value: other.name }, other.name)),
  );
  select.addEventListener("change", () => {
    const into = select.value;
    if (!into) return;
    page.store.select({ colour: null });
    void page.edit.follow(`${colour.name} into ${into}`, (job) => [
      mergeChange(job, colour.name, into),
    ]);
  });
  return labelled("Merge into", select);
}

function splitButton(page: Page, colour: Colour): HTMLElement {
  return button("Split in two", () => {
    void page.edit.take(`${colour.name} split in two`, ["colours.palette"], (id) =>
      page.api.split(id, colour.name),
    );
  });
}

function labelled(words: string, input: HTMLElement): HTMLElement {
  if (!input.id) input.id = freshId("field");
  return h("div", { class: "field" }, h("label", { class: "label", for: input.id }, words), input);
}
