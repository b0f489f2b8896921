/** Cards in a column that are dragged by a handle, with mouse, pen or finger. */

export interface Dragging {
  /** Index of the card, among those of the column. */
  from: number;
  cards(): HTMLElement[];
  /** Tell whether the card may come to lie at this index. */
  allowed(to: number): boolean;
  drop(to: number): void;
}

const STILL_PX = 4;
const EDGE_PX = 60;
const SCROLL_PX = 12;

/** Start dragging at a handle's pointerdown event; ends by itself. */
export function drag(event: PointerEvent, handle: HTMLElement, about: Dragging): void {
  if (event.button !== 0) return;
  event.preventDefault();
  handle.setPointerCapture(event.pointerId);
  const startY = event.clientY;
  const startScroll = window.scrollY;
  let target = about.from;

  function move(next: PointerEvent): void {
    const travelled = next.clientY - startY + (window.scrollY - startScroll);
    const card = about.cards()[about.from];
    if (!card || (target === about.from && Math.abs(travelled) < STILL_PX)) return;
    card.classList.add("dragged");
    card.style.setProperty("--dragged", `${travelled}px`);
    target = targetAt(about, next.clientY);
    mark(about, target);
    scrollNearEdge(next.clientY);
  }

  function end(isDropped: boolean): void {
    handle.removeEventListener("pointermove", move);
    handle.removeEventListener("pointerup", up);
    handle.removeEventListener("pointercancel", cancel);
    window.removeEventListener("keydown", escape, true);
    const card = about.cards()[about.from];
    card?.classList.remove("dragged");
    card?.style.removeProperty("--dragged");
    mark(about, about.from);
    if (isDropped && target !== about.from) about.drop(target);
  }

  const up = (): void => end(true);
  const cancel = (): void => end(false);
  const escape = (key: KeyboardEvent): void => {
    if (key.key === "Escape") end(false);
  };
  handle.addEventListener("pointermove", move);
  handle.addEventListener("pointerup", up);
  handle.addEventListener("pointercancel", cancel);
  window.addEventListener("keydown", escape, true);
}

/** Return the index at which the card would lie: the card under the pointer gives way. */
function targetAt(about: Dragging, y: number): number {
  let best = about.from;
  about.cards().forEach((card, index) => {
    if (index === about.from || !about.allowed(index)) return;
    const box = card.getBoundingClientRect();
    const middle = box.top + box.height / 2;
    if (index < about.from && y < middle) best = Math.min(best, index);
    if (index > about.from && y > middle) best = Math.max(best, index);
  });
  return best;
}

function mark(about: Dragging, target: number): void {
  about.cards().forEach((card, index) => {
    card.classList.toggle("drop-above", index === target && target < about.from);
    card.classList.toggle("drop-below", index === target && target > about.from);
  });
}

function scrollNearEdge(y: number): void {
  if (y < EDGE_PX) window.scrollBy(0, -SCROLL_PX);
  else if (y > window.innerHeight - EDGE_PX) window.scrollBy(0, SCROLL_PX);
}
