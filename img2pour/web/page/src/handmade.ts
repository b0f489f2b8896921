/** What was changed by hand about regions, in words; each can be taken away again. */

import type { Section, Value } from "./api";
import { button, fill, h } from "./dom";
import type { Page } from "./page";
import { plural } from "./words";

const FRAMING = ["crop", "mirror", "turn"];

/** The list of recoloured, erased and merged regions, and of roles of single regions. */
export function handmadeList(page: Page): HTMLElement {
  const list = h("ol", { class: "handmade" });
  const title = h("h3", { id: "handmade-title", tabindex: -1 }, "Changed by hand");
  const whole = h("section", { "aria-labelledby": title.id }, title, list);
  page.store.watch(["state"], () => {
    const rows = [
      ...rowsOf(page, "touch", (item) => !FRAMING.includes(String(item.action)), touchText),
      ...rowsOf(page, "role", () => true, roleText),
    ];
    whole.hidden = rows.length === 0;
    fill(list, ...rows);
  });
  return whole;
}

function rowsOf(
  page: Page,
  section: "touch" | "role",
  wanted: (item: Section) => boolean,
  text: (item: Section) => string,
): HTMLElement[] {
  const all = page.edit.list(section);
  return all.filter(wanted).map((item) => {
    const words = text(item);
    const value = all.filter((other) => other !== item);
    const remove = button(
      "Take away",
      () => {
        document.getElementById("handmade-title")?.focus({ preventScroll: true });
        void page.edit.apply(`Taken away: ${words}`, [{ path: section, value }]);
      },
      { class: "button button-quiet", "aria-label": `Take away: ${words}` },
    );
    return h("li", {}, h("span", {}, words), remove);
  });
}

function touchText(item: Section): string {
  if (item.action === "merge") return `${String(item.colour)} is merged into ${String(item.to)}`;
  const where = whereText(item);
  return item.action === "erase" ? `${where} erased` : `${where} recoloured ${String(item.to)}`;
}

const roleText = (item: Section): string => `${whereText(item)}: ${String(item.role)}`;

/** The conditions of a touch-up or rule, in words. */
function whereText(item: Section): string {
  const points = count(item.at);
  const parts = [
    points > 0 ? plural(points, "picked region") : "Regions",
    item.colour ? `of ${String(item.colour)}` : "",
    item.below ? `smaller than ${String(item.below)}` : "",
    item.touching ? `beside ${String(item.touching)}` : "",
    count(item.inside) > 0 ? "inside an outline" : "",
  ];
  return parts.filter(Boolean).join(" ");
}

const count = (value: Value): number => (Array.isArray(value) ? value.length : 0);
