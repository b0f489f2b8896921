/** Step 4: try-outs, kept and compared. */

import "./tries/tryouts.css";
import { button, fill, h } from "./dom";
import type { Page } from "./page";
import { planOf, whenPoured } from "./pours/plan";
import { tryoutCards } from "./tries/cards";
import { Tryouts } from "./tries/list";

export function mount(host: HTMLElement, page: Page): void {
  whenPoured(page, host);
  const tryouts = new Tryouts(page);
  const list = h("ul", { class: "tryouts" });
  tryouts.onChange(() => fill(list, ...tryoutCards(page, tryouts)));
  host.append(
    h(
      "div",
      { class: "block" },
      h("h3", { class: "block-title" }, "Try-outs side by side"),
      h(
        "p",
        { class: "hint" },
        "Keep the settings as they are now, change what you like, keep again, and compare. The least " +
          "of each figure is underlined.",
      ),
      keepForm(page, tryouts),
      list,
    ),
  );
}

function keepForm(page: Page, tryouts: Tryouts): HTMLElement {
  const input = h("input", {
    id: "tryout-name",
    class: "input",
    type: "text",
    maxlength: 60,
    autocomplete: "off",
    on: {
      keydown: (event) => {
        if (event.key === "Enter") void keep();
      },
    },
  });
  async function keep(): Promise<void> {
    const name = input.value.trim() || suggested(page, tryouts);
    if (await tryouts.keep(name)) input.value = "";
  }
  return h(
    "div",
    { class: "field" },
    h("label", { class: "label", for: "tryout-name" }, "Name of this try-out"),
    h(
      "div",
      { class: "with-button" },
      input,
      button("Keep", () => void keep()),
    ),
  );
}

/** A name from what the try-out is, where none was typed. */
function suggested(page: Page, tryouts: Tryouts): string {
  const board = page.store.drawn?.board?.text;
  const plan = planOf(page.store.now);
  const words = [board, plan ? `${plan.days} days` : null].filter(Boolean).join(", ");
  return `${tryouts.list.length + 1}: ${words || "as it is"}`;
}
