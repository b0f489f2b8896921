/** The part of a drawing that is seen, as the viewBox of an SVG. */

import type { Point } from "./api";

export type Box = [number, number, number, number];

const MOST = 40;

export class Zoom {
  private whole: Box = [0, 0, 1, 1];
  private seen: Box = [0, 0, 1, 1];

  constructor(
    private readonly element: SVGSVGElement,
    private readonly changed: () => void,
  ) {}

  /** How many times larger than the whole drawing. */
  get factor(): number {
    return this.whole[2] / this.seen[2];
  }

  get box(): Box {
    return this.seen;
  }

  /** Drawing units of one CSS pixel. */
  get unit(): number {
    const matrix = this.element.getScreenCTM();
    return matrix === null || matrix.a === 0 ? 1 : 1 / matrix.a;
  }

  /** Show another drawing; the view stays when it covers the same box. */
  setWhole(box: Box): void {
    if (box.every((value, i) => Math.abs(value - (this.whole[i] ?? 0)) < 1e-6)) return;
    this.whole = box;
    this.fit();
  }

  fit(): void {
    this.see(this.whole);
  }

  /** Zoom by a factor; the point of the drawing stays where it is on the screen. */
  by(factor: number, at: Point = this.middle): void {
    const wanted = Math.min(MOST, Math.max(1, this.factor * factor));
    if (wanted === 1) {
      this.fit();
      return;
    }
    const shrink = this.factor / wanted;
    const [x, y, width, height] = this.seen;
    this.see([
      at[0] + (x - at[0]) * shrink,
      at[1] + (y - at[1]) * shrink,
      width * shrink,
      height * shrink,
    ]);
  }

  /** Move the drawing by some of its units. */
  move(dx: number, dy: number): void {
    const [x, y, width, height] = this.seen;
    this.see([x - dx, y - dy, width, height]);
  }

  /** Bring a point into the middle, with so many units around it seen. */
  goTo([x, y]: Point, around: number): void {
    const [, , width, height] = this.whole;
    const share = Math.min(1, Math.max(1 / MOST, (2 * around) / Math.min(width, height)));
    this.see([x - (width * share) / 2, y - (height * share) / 2, width * share, height * share]);
  }

  /** Move only as much as is needed for a point to be seen. */
  keepInSight([x, y]: Point): void {
    const [left, top, width, height] = this.seen;
    const edge = 0.08;
    const dx = over(x, left + width * edge, left + width * (1 - edge));
    const dy = over(y, top + height * edge, top + height * (1 - edge));
    if ((dx !== 0 || dy !== 0) && this.factor > 1) this.move(-dx, -dy);
  }

  get middle(): Point {
    const [x, y, width, height] = this.seen;
    return [x + width / 2, y + height / 2];
  }

  /** The point of the drawing under a place on the screen. */
  toDrawing(clientX: number, clientY: number): Point {
    const matrix = this.element.getScreenCTM();
    if (matrix === null) return [0, 0];
    const point = new DOMPoint(clientX, clientY).matrixTransform(matrix.inverse());
    return [point.x, point.y];
  }

  private see(box: Box): void {
    const [x, y, width, height] = box;
    const [left, top, most_x, most_y] = this.whole;
    this.seen = [
      within(x, left, left + most_x - width),
      within(y, top, top + most_y - height),
      width,
      height,
    ];
    this.element.setAttribute("viewBox", this.seen.map((value) => +value.toFixed(4)).join(" "));
    this.changed();
  }
}

const within = (value: number, low: number, high: number): number =>
  Math.max(low, Math.min(high, value));

const over = (value: number, low: number, high: number): number =>
  value < low ? value - low : value > high ? value - high : 0;
