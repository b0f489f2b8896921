/** The map between a square and four corners: for the view while a corner is dragged, and crops. */

import type { Point } from "./api";

/** Row by row, the last is 1. */
export type Matrix = [number, number, number, number, number, number, number, number, number];

/** The map from the unit square (upper left first, clockwise) to four corners. */
export function fromSquare([p0, p1, p2, p3]: readonly [Point, Point, Point, Point]): Matrix {
  const [x0, y0] = p0;
  const [dx1, dy1] = [p1[0] - p2[0], p1[1] - p2[1]];
  const [dx2, dy2] = [p3[0] - p2[0], p3[1] - p2[1]];
  const [sx, sy] = [p0[0] - p1[0] + p2[0] - p3[0], p0[1] - p1[1] + p2[1] - p3[1]];
  const area = dx1 * dy2 - dx2 * dy1;
  const g = (sx * dy2 - dx2 * sy) / area;
  const h = (dx1 * sy - sx * dy1) / area;
  return [
    p1[0] - x0 + g * p1[0],
    p3[0] - x0 + h * p3[0],
    x0,
    p1[1] - y0 + g * p1[1],
    p3[1] - y0 + h * p3[1],
    y0,
    g,
    h,
    1,
  ];
}

export function inverse([a, b, c, d, e, f, g, h, i]: Matrix): Matrix {
  const adjoint: Matrix = [
    e * i - f * h,
    c * h - b * i,
    b * f - c * e,
    f * g - d * i,
    a * i - c * g,
    c * d - a * f,
    d * h - e * g,
    b * g - a * h,
    a * e - b * d,
  ];
  return adjoint.map((value) => value / adjoint[8]) as Matrix;
}

export function mapped([a, b, c, d, e, f, g, h, i]: Matrix, [x, y]: Point): Point {
  const w = g * x + h * y + i;
  return [(a * x + b * y + c) / w, (d * x + e * y + f) / w];
}

/**
 * The CSS transform, origin upper left, that lays what is inside some corners of a picture, given
 * in its shown pixels, over a box of a width and height.
 */
export function straightening(
  corners: readonly [Point, Point, Point, Point],
  width: number,
  height: number,
): string {
  const [a, b, c, d, e, f, g, h, i] = inverse(fromSquare(corners));
  const [w, t] = [width, height];
  const columns = [
    [a * w, d * t, 0, g],
    [b * w, e * t, 0, h],
    [0, 0, 1, 0],
    [c * w, f * t, 0, i],
  ];
  return `matrix3d(${columns.flat().join(",")})`;
}

/** Whether four corners go round once without a dent, so that they can be a sheet. */
export function isSheet(corners: readonly Point[]): boolean {
  const turns = corners.map((corner, i) => {
    const next = corners[(i + 1) % 4] ?? corner;
    const after = corners[(i + 2) % 4] ?? corner;
    return (
      (next[0] - corner[0]) * (after[1] - next[1]) - (next[1] - corner[1]) * (after[0] - next[0])
    );
  });
  return turns.every((turn) => turn > 0);
}
