/** A hand on the 3D picture: one finger or the mouse turns, two fingers come nearer. */

export interface Hand {
  drag(dx_px: number, dy_px: number): void;
  pinch(factor: number): void;
}

export function byHand(canvas: HTMLCanvasElement, hand: Hand): void {
  const down = new Map<number, [number, number]>();
  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, [event.clientX, event.clientY]);
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (before === undefined) return;
    const now: [number, number] = [event.clientX, event.clientY];
    const other = [...down].find(([id]) => id !== event.pointerId)?.[1];
    if (other) hand.pinch(distance(other, now) / Math.max(1, distance(other, before)));
    else hand.drag(now[0] - before[0], now[1] - before[1]);
    down.set(event.pointerId, now);
  });
  for (const kind of ["pointerup", "pointercancel"] as const) {
    canvas.addEventListener(kind, (event) => down.delete(event.pointerId));
  }
}

const distance = (a: [number, number], b: [number, number]): number =>
  Math.hypot(a[0] - b[0], a[1] - b[1]);
