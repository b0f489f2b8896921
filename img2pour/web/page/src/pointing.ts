/** Pointer, wheel and keys over a drawing: pan, pinch, zoom, a tap, and a crosshair for keys. */

import type { Point } from "./api";
import type { Zoom } from "./zoom";

export interface Pointing {
  /** A tap or click, or Enter at the crosshair. */
  pick(at: Point): void;
  /** The crosshair was moved by keys; null when it goes away. */
  cross(at: Point | null): void;
}

const STILL_PX = 6;
const STEP_PX = 8;
const ARROWS: Record<string, Point> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

export function point(element: SVGSVGElement, zoom: Zoom, to: Pointing): void {
  byFinger(element, zoom, to);
  byWheel(element, zoom);
  byKeys(element, zoom, to);
}

function byFinger(element: SVGSVGElement, zoom: Zoom, to: Pointing): void {
  const down = new Map<number, Point>();
  let moved = false;
  element.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    if (down.size === 0) moved = false;
    down.set(event.pointerId, [event.clientX, event.clientY]);
    if (down.size > 1) moved = true;
  });
  element.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (before === undefined) return;
    const now: Point = [event.clientX, event.clientY];
    if (!moved && distance(before, now) < STILL_PX) return;
    if (!moved) element.setPointerCapture(event.pointerId);
    moved = true;
    const other = [...down].find(([id]) => id !== event.pointerId)?.[1];
    if (other !== undefined) pinch(zoom, other, before, now);
    else zoom.move((now[0] - before[0]) * zoom.unit, (now[1] - before[1]) * zoom.unit);
    down.set(event.pointerId, now);
  });
  element.addEventListener("pointerup", (event) => {
    const was = down.delete(event.pointerId);
    if (was && !moved) to.pick(zoom.toDrawing(event.clientX, event.clientY));
  });
  element.addEventListener("pointercancel", (event) => down.delete(event.pointerId));
}

function pinch(zoom: Zoom, still: Point, before: Point, now: Point): void {
  const factor = distance(still, now) / Math.max(1, distance(still, before));
  zoom.by(factor, zoom.toDrawing((still[0] + now[0]) / 2, (still[1] + now[1]) / 2));
}

function byWheel(element: SVGSVGElement, zoom: Zoom): void {
  element.addEventListener(
    "wheel",
    (event) => {
      // At the whole picture a turn outwards scrolls the page as it does everywhere else.
      if (event.deltaY > 0 && zoom.factor <= 1) return;
      event.preventDefault();
      zoom.by(Math.exp(-event.deltaY / 400), zoom.toDrawing(event.clientX, event.clientY));
    },
    { passive: false },
  );
}

function byKeys(element: SVGSVGElement, zoom: Zoom, to: Pointing): void {
  let cross: Point | null = null;
  const put = (at: Point | null): void => {
    cross = at;
    if (at !== null) zoom.keepInSight(at);
    to.cross(at);
  };
  element.addEventListener("blur", () => put(null));
  element.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    if (arrow !== undefined) {
      const step = STEP_PX * zoom.unit * (event.shiftKey ? 5 : 1);
      const [x, y] = cross ?? zoom.middle;
      const [left, top, width, height] = zoom.box;
      const low = zoom.factor > 1 ? -step : 0;
      put([
        Math.min(left + width - low, Math.max(left + low, x + arrow[0] * step)),
        Math.min(top + height - low, Math.max(top + low, y + arrow[1] * step)),
      ]);
    } else if (event.key === "Enter" || event.key === " ") {
      if (cross === null) put(zoom.middle);
      else to.pick(cross);
    } else if (event.key === "+" || event.key === "=") zoom.by(1.5, cross ?? zoom.middle);
    else if (event.key === "-") zoom.by(1 / 1.5, cross ?? zoom.middle);
    else if (event.key === "0") zoom.fit();
    else if (event.key === "Escape" && cross !== null) put(null);
    else return;
    event.preventDefault();
  });
}

const distance = (a: Point, b: Point): number => Math.hypot(a[0] - b[0], a[1] - b[1]);
