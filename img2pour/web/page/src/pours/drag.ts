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
const SCROLL_PX = 8;

/** Start dragging at a handle's pointerdown event; ends by itself. */
export function drag(event: PointerEvent, handle: HTMLElement, about: Dragging): void {
  if (event.button !== 0) return;
  event.preventDefault();
  handle.setPointerCapture(event.pointerId);
  const start = event.clientY + window.scrollY;
  let y = event.clientY;
  let target = about.from;
  let frame = requestAnimationFrame(follow);

  /** The page scrolls on while the pointer is held near an edge, so the card follows each frame. */
  function follow(): void {
    frame = requestAnimationFrame(follow);
    const travelled = y + window.scrollY - start;
    const card = about.cards()[about.from];
    if (!card || (target === about.from && Math.abs(travelled) < STILL_PX)) return;
    card.classList.add("dragged");
    card.style.setProperty("--dragged", `${travelled}px`);
    target = targetAt(about, y);
    mark(about, target);
    scrollNearEdge(y);
  }

  const move = (next: PointerEvent): void => {
    y = next.clientY;
  };
  const ending = new AbortController();
  function end(isDropped: boolean): void {
    cancelAnimationFrame(frame);
    ending.abort();
    const card = about.cards()[about.from];
    card?.classList.remove("dragged");
    card?.style.removeProperty("--dragged");
    mark(about, about.from);
    if (isDropped && target !== about.from) about.drop(target);
  }

  const { signal } = ending;
  handle.addEventListener("pointermove", move, { signal });
  handle.addEventListener("pointerup", () => end(true), { signal });
  handle.addEventListener("pointercancel", () => end(false), { signal });
  const escape = (key: KeyboardEvent): void => {
    if (key.key === "Escape") end(false);
  };
  window.addEventListener("keydown", escape, { capture: true, signal });
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
  if (y < topOfSheet() + EDGE_PX) window.scrollBy(0, -SCROLL_PX);
  else if (y > window.innerHeight - EDGE_PX) window.scrollBy(0, SCROLL_PX);
}

/** On a narrow page the picture covers the upper part of the sheet. */
function topOfSheet(): number {
  const view = document.querySelector(".view")?.getBoundingClientRect();
  return view && view.width > window.innerWidth / 2 + 1 && view.height < window.innerHeight * 0.9
    ? Math.max(0, view.bottom)
    : 0;
}
