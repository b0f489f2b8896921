/** Blocks that are drawn again when what they show has changed, and only then. */

import { type Child, fill, h } from "../dom";
import type { Known } from "../store";
import type { Page } from "../page";

/**
 * A block drawn from one part of what the page knows. It is drawn again only when `pick` gives
 * another value, so that the focus and opened details stay where nothing changed.
 */
export function block<T>(
  page: Page,
  className: string,
  keys: (keyof Known)[],
  pick: (known: Known) => T,
  draw: (value: T) => (Node | null)[],
): HTMLElement {
  const host = h("div", { class: className });
  let drawn: { value: T } | null = null;
  page.store.watch(keys, (known) => {
    const value = pick(known);
    if (drawn !== null && drawn.value === value) return;
    drawn = { value };
    refill(host, ...draw(value));
  });
  return host;
}

/** Fill a block anew. Where what had the focus is gone, the block itself takes it, not the page. */
export function refill(host: HTMLElement, ...children: Child[]): void {
  const hadFocus = host.contains(document.activeElement);
  fill(host, ...children);
  if (!hadFocus || host.contains(document.activeElement)) return;
  host.tabIndex = -1;
  host.focus({ preventScroll: true });
}
