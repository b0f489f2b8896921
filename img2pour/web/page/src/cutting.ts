/** Crop, turn and mirror as touch-ups of the job; plain functions on its lists. */

import type { Point, Section, Value } from "./api";
import { fromSquare, inverse, mapped, type Matrix } from "./homography";

/** "x,y" as the job holds it. */
export const pointText = ([x, y]: Point): string => `${round(x)},${round(y)}`;

export function readPoint(value: Value): Point | null {
  const [x, y] = String(value).split(",").map(Number);
  return x === undefined || y === undefined || Number.isNaN(x + y) ? null : [x, y];
}

export const readPoints = (value: Value): Point[] =>
  (Array.isArray(value) ? value : [])
    .map(readPoint)
    .filter((point): point is Point => point !== null);

/** Four corners as the job holds them, "x,y x,y x,y x,y"; null for "auto", "off" or nothing. */
export function readCorners(value: Value): Point[] | null {
  const points = readPoints(String(value ?? "").split(" "));
  return points.length === 4 ? points : null;
}

/** The quad that a crop is drawn in: the corners of the sheet, or the whole picture. */
export function cropFrame(corners: Point[] | null, width: number, height: number): Matrix {
  const whole: [Point, Point, Point, Point] = [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
  ];
  const [a, b, c, d] = corners ?? whole;
  return fromSquare(a && b && c && d ? [a, b, c, d] : whole);
}

/** The four corners of the present crop; the whole frame when there is none. */
export function cropCorners(touches: Section[], frame: Matrix): Point[] {
  const crop = touches.find((touch) => touch.action === "crop");
  const back = inverse(frame);
  const inside = readPoints(crop?.inside).map((point) => mapped(back, point));
  const xs = inside.length > 1 ? inside.map(([x]) => x) : [0, 1];
  const ys = inside.length > 1 ? inside.map(([, y]) => y) : [0, 1];
  return boxCorners(Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys), frame);
}

const LEAST_SIDE = 0.02;

/** Where the corners of a crop lie when one is moved: its two sides go along. */
export function cropMoved(index: number, to: Point, at: Point[], frame: Matrix): Point[] {
  const back = inverse(frame);
  const [x, y] = mapped(back, to).map((value) => Math.min(1, Math.max(0, value))) as Point;
  const [[left, top], , [right, bottom]] = at.map((point) => mapped(back, point)) as [
    Point,
    Point,
    Point,
    Point,
  ];
  const isLeft = index === 0 || index === 3;
  const isTop = index < 2;
  return boxCorners(
    isLeft ? Math.min(x, right - LEAST_SIDE) : left,
    isTop ? Math.min(y, bottom - LEAST_SIDE) : top,
    isLeft ? right : Math.max(x, left + LEAST_SIDE),
    isTop ? bottom : Math.max(y, top + LEAST_SIDE),
    frame,
  );
}

function boxCorners(x0: number, y0: number, x1: number, y1: number, frame: Matrix): Point[] {
  const corners: Point[] = [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ];
  return corners.map((corner) => mapped(frame, corner));
}

/** The touch-ups with another crop in the place of theirs; null takes it away. */
export function withCrop(touches: Section[], corners: Point[] | null): Section[] {
  const others = touches.filter((touch) => touch.action !== "crop");
  if (corners === null) return others;
  return [{ action: "crop", inside: corners.map(pointText) }, ...others];
}

/** The touch-ups with one quarter more, to the right or left. */
export function turned(touches: Section[], by: 90 | 270): Section[] {
  const last = touches.at(-1);
  if (last?.action !== "turn") return [...touches, { action: "turn", by }];
  const sum = (Number(last.by) + by) % 360;
  const before = touches.slice(0, -1);
  return sum === 0 ? before : [...before, { action: "turn", by: sum }];
}

/** The touch-ups with left and right once more changed. */
export function mirrored(touches: Section[]): Section[] {
  const last = touches.at(-1);
  if (last?.action === "mirror" && last.across === "left-right") return touches.slice(0, -1);
  return [...touches, { action: "mirror", across: "left-right" }];
}

const round = (value: number): number => Math.round(value * 10) / 10;
