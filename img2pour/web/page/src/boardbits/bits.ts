/** The bits on the shelf: ticked from the table, or typed. */

import type { Value } from "../api";
import { button, freshId, h } from "../dom";
import type { Page } from "../page";
import { refill } from "../panel/keeping";
import { faultLine } from "../fields";
import { cutterPicture } from "./cutter";

const TYPED = "typed";

export function bitFields(page: Page): HTMLElement {
  const list = h("div", { class: "bit-list" });
  page.store.watch(["state", "tables"], () => refill(list, ...bitTicks(page, shelf(page), save)));

  function save(names: string[], said: string): Promise<boolean> {
    return page.edit.set(said, "bits.use", names);
  }

  return h(
    "fieldset",
    { class: "bits" },
    h("legend", { class: "label" }, "Bits on the shelf"),
    list,
    typedBit(page, "Another bit", (name) => save([...shelf(page), name], `Bit added: ${name}`)),
    faultLine(page, "bits"),
  );
}

/** The bits that the job names. */
export function shelf(page: Page): string[] {
  return asNames(page.edit.value("bits.use"));
}

export function asNames(value: Value): string[] {
  return Array.isArray(value) ? value.filter((one): one is string => typeof one === "string") : [];
}

/** One tick for each bit of the table and each that was typed. */
export function bitTicks(
  page: Page,
  used: string[],
  save: (names: string[], said: string) => Promise<boolean>,
  where = "",
): HTMLElement[] {
  const table = page.store.now.tables?.bits ?? [];
  const known = table.map((bit) => bit.name);
  const typed = used.filter((name) => !known.includes(name));
  const all = [...typed.map((name) => ({ name, words: TYPED })), ...table];
  return all.map((bit) => {
    const input = h("input", {
      type: "checkbox",
      id: `bit-${where}-${bit.name}`.replaceAll(" ", "-"),
      on: { change: () => void take(input.checked) },
    });
    input.checked = used.includes(bit.name);
    async function take(isOn: boolean): Promise<void> {
      const names = isOn ? [...used, bit.name] : used.filter((name) => name !== bit.name);
      const kept = await save(names, isOn ? `Bit added: ${bit.name}` : `Bit away: ${bit.name}`);
      if (!kept) input.checked = !isOn;
    }
    return h(
      "label",
      { class: "bit" },
      input,
      cutterPicture(bit.name),
      h("span", { class: "choice-words" }, h("strong", {}, bit.name), wordsOf(bit)),
    );
  });
}

/** The name of a flat or ball bit is its size; of others the width is told beside it. */
function wordsOf(bit: { name: string; words: string }): HTMLElement | null {
  const isSize = /^(flat|ball)\b/.test(bit.name) && bit.words !== TYPED;
  return isSize ? null : h("span", { class: "hint" }, bit.words);
}

/** A line to type a bit in, with a button. */
export function typedBit(
  page: Page,
  label: string,
  add: (name: string) => Promise<boolean>,
): HTMLElement {
  const id = freshId("bit");
  const input = h("input", {
    id,
    class: "input",
    type: "text",
    autocomplete: "off",
    spellcheck: "false",
    autocapitalize: "off",
    "aria-describedby": `${id}-hint`,
    on: {
      keydown: (event) => {
        if (event.key === "Enter") void take();
      },
    },
  });
  async function take(): Promise<void> {
    const name = input.value.trim();
    if (name === "") page.say("Type a bit first, like flat 3 mm.");
    else if (await add(name)) input.value = "";
  }
  return h(
    "div",
    { class: "field" },
    h("label", { class: "label", for: id }, label),
    h("span", { class: "hint", id: `${id}-hint` }, "flat 3/32 in, vee 45 deg, ball 3 mm"),
    h(
      "div",
      { class: "with-button" },
      input,
      button("Add", () => void take()),
    ),
  );
}
