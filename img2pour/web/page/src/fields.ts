/** Fields bound to the job: they show what is typed, send what changed, and say what is wrong. */

import type { Fault, Value } from "./api";
import { type Child, freshId, h } from "./dom";
import type { Page } from "./page";

export interface FieldWish {
  /** `section.field` of the job. */
  path: string;
  label: string;
  /** Words under the field. */
  hint?: string;
  /** Shown in grey while nothing is typed. */
  example?: string;
  /** What the step is called in the history; the label unless told. */
  step?: string;
}

/** A text field, such as a length as people type it. An empty field is the default. */
export function textField(page: Page, wish: FieldWish): HTMLElement {
  const input = h("input", {
    type: "text",
    id: freshId("field"),
    class: "input",
    placeholder: wish.example,
    autocomplete: "off",
    spellcheck: "false",
    on: { change: () => void send() },
  });
  const send = (): Promise<boolean> =>
    page.edit.set(wish.step ?? wish.label, wish.path, input.value.trim() || null);
  const frame = framed(page, wish, input);
  page.store.watch(["state"], () => {
    const value = show(page.edit.value(wish.path));
    if (document.activeElement !== input || input.value.trim() === "") input.value = value;
  });
  return frame;
}

/** A choice among a few words, as a list to open. `options` are [value, words]. */
export function choiceField(
  page: Page,
  wish: FieldWish,
  options: [string, string][] | (() => [string, string][]),
): HTMLElement {
  const select = h("select", {
    id: freshId("field"),
    class: "input",
    on: {
      change: () => void page.edit.set(wish.step ?? wish.label, wish.path, select.value || null),
    },
  });
  const frame = framed(page, wish, select);
  page.store.watch(["state", "tables"], () => {
    const value = show(page.edit.value(wish.path));
    const all = typeof options === "function" ? options() : options;
    const listed = all.some(([key]) => key === value) ? all : [[value, value] as const, ...all];
    select.replaceChildren(
      ...listed.map(([key, words]) => h("option", { value: key, selected: key === value }, words)),
    );
    select.value = value;
  });
  return frame;
}

/** A switch between two values; `on` and `off` are what the job then holds. */
export function switchField(page: Page, wish: FieldWish, on: Value, off: Value): HTMLElement {
  const input = h("input", {
    type: "checkbox",
    role: "switch",
    id: freshId("field"),
    class: "switch",
    on: {
      change: () =>
        void page.edit.set(wish.step ?? wish.label, wish.path, input.checked ? on : off),
    },
  });
  page.store.watch(["state", "faults"], () => {
    input.checked = page.edit.value(wish.path) !== off;
  });
  const label = h("label", { class: "switch-label", for: input.id }, wish.label);
  return h("div", { class: "field field-switch" }, input, label, ...below(page, wish, input));
}

/** Set a field, its label, its hint and the place of its faults together. */
export function framed(
  page: Page,
  wish: FieldWish,
  input: HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement,
): HTMLElement {
  const label = h("label", { class: "label", for: input.id }, wish.label);
  return h("div", { class: "field" }, label, input, ...below(page, wish, input));
}

function below(page: Page, wish: FieldWish, input: HTMLElement): Child[] {
  const hint = wish.hint ? h("p", { class: "hint", id: freshId("hint") }, wish.hint) : null;
  const fault = faultLine(page, wish.path, input, hint?.id);
  return [hint, fault];
}

/** The line that says what is wrong with the field of a path; empty when all is well. */
export function faultLine(
  page: Page,
  path: string,
  input?: HTMLElement,
  hintId?: string,
): HTMLElement {
  const line = h("p", { class: "fault", id: freshId("fault"), hidden: true });
  page.store.watch(["faults"], ({ faults }) => {
    const own = faults.filter((fault) => concerns(fault, path));
    line.textContent = own.map((fault) => fault.message).join(" ");
    line.hidden = own.length === 0;
    if (input === undefined) return;
    input.setAttribute("aria-invalid", String(own.length > 0));
    const ids = [own.length > 0 ? line.id : "", hintId ?? ""].filter(Boolean).join(" ");
    if (ids) input.setAttribute("aria-describedby", ids);
    else input.removeAttribute("aria-describedby");
  });
  return line;
}

/** Whether a fault belongs to the field of a path, or to something inside it. */
export const concerns = (fault: Fault, path: string): boolean =>
  fault.path === path || fault.path.startsWith(`${path}.`);

const show = (value: Value): string =>
  value === null || value === undefined ? "" : Array.isArray(value) ? value.join(", ") : `${value}`;
