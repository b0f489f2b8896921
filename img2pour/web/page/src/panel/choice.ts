/** One of a few with their words, as large radio buttons; fields that send in their own way. */

import type { Value } from "../api";
import { freshId, h } from "../dom";
import { faultLine, framed } from "../fields";
import type { Page } from "../page";

export interface Option {
  value: string;
  title: string;
  words?: string;
  picture?: Element;
}

export interface ChoiceWish {
  /** `section.field` of the job. */
  path: string;
  label: string;
  /** What is done with the option; by default the field is set to it. */
  send?: (option: Option) => Promise<boolean>;
  /** What is chosen now; by default the field's value. */
  read?: () => Value;
}

export function choice(page: Page, wish: ChoiceWish, options: readonly Option[]): HTMLElement {
  const name = freshId("choice");
  const read = wish.read ?? (() => page.edit.value(wish.path));
  const send =
    wish.send ??
    ((option: Option) => page.edit.set(`${wish.label}: ${option.title}`, wish.path, option.value));
  const inputs = options.map((option) =>
    h("input", {
      type: "radio",
      name,
      value: option.value,
      on: { change: () => void send(option) },
    }),
  );
  page.store.watch(["state", "faults"], () => {
    const value = read();
    for (const input of inputs) input.checked = input.value === value;
  });
  const labels = options.map((option, i) => optionLabel(option, inputs[i] as HTMLInputElement));
  return h(
    "fieldset",
    { class: "choice" },
    h("legend", { class: "label" }, wish.label),
    h("div", { class: "choice-row" }, ...labels),
    faultLine(page, wish.path),
  );
}

function optionLabel(option: Option, input: HTMLInputElement): HTMLElement {
  const words = option.words ? h("span", { class: "hint" }, option.words) : null;
  return h(
    "label",
    { class: "choice-item" },
    input,
    option.picture ?? null,
    h("span", { class: "choice-words" }, h("strong", {}, option.title), words),
  );
}

export interface SentWish {
  path: string;
  label: string;
  hint?: string;
  example?: string;
  /** Send what was typed; false keeps it in the field, so that it can be mended. */
  send: (typed: string) => Promise<boolean>;
}

/** A text field that sends what is typed in its own way. */
export function sentField(page: Page, wish: SentWish): HTMLElement {
  const input = h("input", {
    type: "text",
    id: freshId("field"),
    class: "input",
    placeholder: wish.example,
    autocomplete: "off",
    spellcheck: "false",
    on: { change: () => void sent() },
  });
  let refused = false;
  async function sent(): Promise<void> {
    refused = !(await wish.send(input.value.trim()));
  }
  page.store.watch(["state"], () => {
    if (refused || document.activeElement === input) return;
    const value = page.edit.value(wish.path);
    input.value = value === null || value === undefined ? "" : String(value);
  });
  return framed(page, wish, input);
}

/** A number to type in, with a comma or a point. */
export function numberField(page: Page, wish: Omit<SentWish, "send">): HTMLElement {
  return sentField(page, {
    ...wish,
    send: (typed) => {
      const value = Number(typed.replace(",", "."));
      const sent: Value = typed === "" ? null : Number.isFinite(value) ? value : typed;
      return page.edit.set(wish.label, wish.path, sent);
    },
  });
}
