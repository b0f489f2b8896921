/** Step 2: the colours, how many they are, what becomes of each. */

import type { Known } from "./store";
import "./colours.css";
import { button, fill, freshId, h } from "./dom";
import { choiceField, faultLine } from "./fields";
import type { Page } from "./page";
import { pickedTray } from "./picked";
import { swatch } from "./swatch";

export function mount(host: HTMLElement, page: Page): void {
  pickedTray(page);
  const list = h("ul", { class: "swatches" });
  const notes = h("ul", { class: "notes" });
  const hint = h(
    "p",
    { class: "hint" },
    "Press a colour to change it, or a region on the picture to change that region alone.",
  );
  const faults = ["colours.palette", "colours.wood", "override", "role", "touch"];
  const lines = faults.map((path) => faultLine(page, path));
  host.append(countField(page), ...lines, list, hint, notes, special(page));
  page.store.watch(["parts", "partRevision", "selection"], (known) => draw(page, list, notes, known));
}

function draw(page: Page, list: HTMLElement, notes: HTMLElement, known: Known): void {
  const design = page.store.drawn;
  const colours = design?.colours ?? [];
  fill(list, ...colours.map((one) => swatch(page, one, known.selection.colour === one.index)));
  const said = [...(design?.alike ?? []), ...(design?.changes ?? [])];
  fill(notes, ...said.map((words) => h("li", { class: "note" }, words)));
}

/** How many colours: as the picture shows, or a number. */
function countField(page: Page): HTMLElement {
  const count = h("output", { class: "count", id: freshId("count") }, "–");
  const set = (by: number): void => {
    const now = page.store.drawn?.colours.length ?? 0;
    const next = Math.min(64, Math.max(1, now + by));
    if (now > 0 && next !== now) void page.edit.set(`${next} colours`, "colours.palette", next);
  };
  const fewer = button("−", () => set(-1), { "aria-label": "One colour fewer" });
  const more = button("+", () => set(1), { "aria-label": "One colour more" });
  const auto = button("As the picture shows", () =>
    void page.edit.set("Colours as the picture shows", "colours.palette", "auto"),
  );
  page.store.watch(["state", "parts"], () => {
    const now = page.store.drawn?.colours.length;
    count.textContent = now === undefined ? "–" : String(now);
    const isAuto = page.edit.value("colours.palette") === "auto";
    auto.setAttribute("aria-pressed", String(isAuto));
  });
  return h(
    "div",
    { class: "row counting", role: "group", "aria-label": "Number of colours" },
    h("div", { class: "count-stepper" }, fewer, count, more),
    auto,
  );
}

/** For line drawings, and for pictures that have no flat colours. */
function special(page: Page): HTMLElement {
  const read = choiceField(page, { path: "drawing.read", label: "Line drawing" }, [
    ["auto", "when it looks like one"],
    ["on", "yes: lines bound the cells"],
    ["off", "no"],
  ]);
  const lines = choiceField(page, { path: "drawing.lines", label: "Its lines" }, [
    ["shared", "are edges: cells meet in their middle"],
    ["keep", "are a pour of their own"],
    ["stand", "are poured first and stand between the cells"],
  ]);
  const tones = tonesField(page);
  return h(
    "details",
    { class: "more" },
    h("summary", {}, "Line drawings, portraits"),
    h("div", { class: "pair" }, read, lines, tones),
  );
}

function tonesField(page: Page): HTMLElement {
  const select = h("select", { class: "input", id: freshId("tones") });
  select.addEventListener("change", () => {
    const value = select.value === "" ? null : Number(select.value);
    void page.edit.set("Tones", "colours.tones", value);
  });
  page.store.watch(["state"], () => {
    const now = Number(page.edit.value("colours.tones") ?? 0);
    const options = [0, ...Array.from({ length: 11 }, (_, i) => i + 2)].map((tones) => {
      const words = tones === 0 ? "no: flat colours" : `${tones} tones by lightness`;
      return h("option", { value: tones || "", selected: tones === now }, words);
    });
    select.replaceChildren(...options);
  });
  const label = h("label", { class: "label", for: select.id }, "Portrait or painting");
  return h("div", { class: "field" }, label, select, faultLine(page, "colours.tones", select));
}
