// Pockets drawn deeper than they are; the face stays where it is.

/** Wood that is drawn under the deepest pocket at least, in mm. */
const LEAST_UNDER_MM = 3;
const ROUNDING_MM = 1e-3;

export interface Heights {
  face_mm: number;
  /** Of the deepest pocket, below the face. */
  deepest_mm: number;
}

/** Return where the face lies, and how deep the deepest pocket is, from heights above the bed. */
export function heightsOf(positions_mm: Float32Array): Heights {
  let face = 0;
  for (let i = 1; i < positions_mm.length; i += 3) face = Math.max(face, positions_mm[i] ?? 0);
  let floor = face;
  for (let i = 1; i < positions_mm.length; i += 3) {
    const y = positions_mm[i] ?? 0;
    if (y > ROUNDING_MM) floor = Math.min(floor, y);
  }
  return { face_mm: face, deepest_mm: face - floor };
}

/** Return the height at which a point is drawn when depths are `times` as great. */
export function drawnHeight(y_mm: number, heights: Heights, times: number): number {
  if (y_mm > ROUNDING_MM) return heights.face_mm - (heights.face_mm - y_mm) * times;
  return Math.min(0, heights.face_mm - heights.deepest_mm * times - LEAST_UNDER_MM);
}

/** Return how dark a point is, 1 at the face: the deeper, the less light. */
export function shade(y_mm: number, heights: Heights): number {
  if (y_mm <= ROUNDING_MM || heights.deepest_mm === 0) return 0.8;
  return 1 - 0.42 * Math.min(1, (heights.face_mm - y_mm) / heights.deepest_mm);
}
