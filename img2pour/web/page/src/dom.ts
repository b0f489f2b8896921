/** Small helpers to build the page without a framework, and without inline styles. */

export type Child = Node | string | null | undefined | false;
type Handlers = { [K in keyof HTMLElementEventMap]?: (event: HTMLElementEventMap[K]) => void };
export interface Props {
  class?: string;
  id?: string;
  on?: Handlers;
  [attribute: string]: unknown;
}

/** Make an element: `h("button", {class: "button", on: {click: go}}, "Go")`. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  props: Props = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  dress(element, props);
  element.append(...children.filter(isThere));
  return element;
}

/** Make an SVG element. */
export function svg<K extends keyof SVGElementTagNameMap>(
  tag: K,
  props: Props = {},
  ...children: Child[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  dress(element, props);
  element.append(...children.filter(isThere));
  return element;
}

function dress(element: Element, props: Props): void {
  for (const [name, value] of Object.entries(props)) {
    if (name === "on") listenTo(element, value as Handlers);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(name, String(value));
    }
  }
}

function listenTo(element: Element, handlers: Handlers): void {
  for (const [kind, handler] of Object.entries(handlers)) {
    element.addEventListener(kind, handler as EventListener);
  }
}

const isThere = (child: Child): child is Node | string =>
  child !== null && child !== undefined && child !== false;

/** Put children in the place of those that are there; the focus stays where an id stays. */
export function fill(host: Element, ...children: Child[]): void {
  const active = document.activeElement;
  const id = active !== null && host.contains(active) ? active.id : "";
  host.replaceChildren(...children.filter(isThere));
  if (id) document.getElementById(id)?.focus({ preventScroll: true });
}

/** Set a custom property or style through the object model, as the content policy allows. */
export function style(element: HTMLElement | SVGElement, values: Record<string, string>): void {
  for (const [name, value] of Object.entries(values)) element.style.setProperty(name, value);
}

/** A chip of colour. */
export function chip(hex: string, kind = "chip"): HTMLElement {
  const element = h("span", { class: kind, "aria-hidden": "true" });
  style(element, { "--chip": hex });
  return element;
}

export function button(
  text: string,
  click: (event: MouseEvent) => void,
  props: Props = {},
): HTMLButtonElement {
  return h("button", { type: "button", class: "button", ...props, on: { click } }, text);
}

let lastId = 0;
/** An id that is used nowhere else on the page. */
export const freshId = (word: string): string => `${word}-${++lastId}`;
