/** Whether the sheet is looked for, its corners are given by hand, or the picture is left as it is. */

import { button, h } from "./dom";
import { faultLine } from "./fields";
import type { Page } from "./page";

/** Found by itself, by hand, or not at all; and what was done. */
export function straightenField(page: Page, byHand: () => void): HTMLElement {
  const path = "photo.straighten";
  const auto = button("By itself", () => void page.edit.set("Straighten", path, "auto"));
  const hand = button("My corners", byHand);
  const off = button("Leave it", () => void page.edit.set("Not straightened", path, "off"));
  const all = [auto, hand, off];
  for (const press of all) press.classList.add("segment");
  const said = h("p", { class: "hint" });
  page.store.watch(["state", "parts"], ({ parts }) => {
    const value = page.edit.value(path) ?? "auto";
    const now = value === "auto" ? auto : value === "off" ? off : hand;
    for (const press of all) press.setAttribute("aria-pressed", String(press === now));
    said.textContent = [parts.source?.said, ...(parts.source?.notes ?? [])]
      .filter(Boolean)
      .join(" ");
  });
  return h(
    "fieldset",
    { class: "group" },
    h("legend", {}, "Straighten"),
    h("div", { class: "segments" }, ...all),
    said,
    faultLine(page, path),
  );
}
