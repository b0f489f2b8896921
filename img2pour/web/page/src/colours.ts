/** Step 2: the colours, how many they are, what becomes of each. */

import type { Change, Colour } from "./api";
import "./colours.css";
import { button, fill, freshId, h } from "./dom";
import { choiceField, faultLine } from "./fields";
import { handmadeList } from "./handmade";
import type { Page } from "./page";
import { pickedTray } from "./picked";
import type { Known } from "./store";
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
  const handmade = handmadeList(page);
  host.append(countField(page), ...lines, list, hint, notes, handmade, special(page));
  page.store.watch(["parts", "partRevision", "selection"], (known) =>
    draw(page, list, notes, known),
  );
}

function draw(page: Page, list: HTMLElement, notes: HTMLElement, known: Known): void {
  const design = page.store.drawn;
  const colours = seen(page);
  fill(list, ...colours.map((one) => swatch(page, one, known.selection.colour === one.index)));
  const said = [...(design?.alike ?? []), ...(design?.changes ?? [])];
  fill(notes, ...said.map((words) => h("li", { class: "note" }, words)));
}

/** The colours that have a region; those merged away or lost have none. */
const seen = (page: Page): Colour[] =>
  page.store.drawn?.colours.filter((colour) => colour.regions > 0) ?? [];

/** How many colours: as the picture shows, or a number. */
function countField(page: Page): HTMLElement {
  const count = h("output", { class: "count", id: freshId("count") }, "–");
  const set = (by: number): void => {
    const now = seen(page).length;
    const next = Math.min(64, Math.max(1, now + by));
    if (now > 0 && next !== now) choose(page, `${next} colours`, next);
  };
  const fewer = button("−", () => set(-1), { "aria-label": "One colour fewer" });
  const more = button("+", () => set(1), { "aria-label": "One colour more" });
  const auto = button("As the picture shows", () =>
    choose(page, "Colours as the picture shows", "auto"),
  );
  page.store.watch(["state", "parts"], () => {
    count.textContent = page.store.drawn === null ? "–" : String(seen(page).length);
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

/** Choose anew how many colours; what was merged before is not merged again. */
function choose(page: Page, label: string, palette: number | "auto"): void {
  const changes: Change[] = [{ path: "colours.palette", value: palette }];
  const touches = page.edit.list("touch");
  const kept = touches.filter((touch) => touch.action !== "merge");
  if (kept.length < touches.length) changes.push({ path: "touch", value: kept });
  void page.edit.apply(label, changes);
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
