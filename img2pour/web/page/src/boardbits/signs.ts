/** Signs for numbered places: each kind has a form of its own, told apart without colour. */

import { svg } from "../dom";

const R = 9;
const RING = `M${R} 0A${R} ${R} 0 1 1 ${-R} 0A${R} ${R} 0 1 1 ${R} 0Z`;
const HATCHING = "M-9 0L0 -9M-6.4 6.4L6.4 -6.4M0 9L9 0";
const ARROWS = `M${R + 9} 0H${R}m4 -4l-4 4l4 4M${-R - 9} 0H${-R}m-4 -4l4 4l-4 4`;

const FORMS: Record<string, string> = {
  lost: `${RING}M-6.4 -6.4L6.4 6.4M-6.4 6.4L6.4 -6.4`,
  neck: `${RING}${ARROWS}`,
  end: `${RING}M0 -9V9M-9 0H9`,
  wall: `${RING}${HATCHING}`,
  edge: "M-9 -9H9V9H-9Z",
};

const DASHES: Record<string, string> = { shallow: "6 3", corner: "1.5 3" };

/** What the key says of each kind. */
export const KIND_WORDS: Record<string, string> = {
  lost: "lost: smaller than the bit",
  neck: "neck: narrower than the bit",
  end: "end: too narrow for the bit",
  corner: "corner: comes out round",
  shallow: "shallow: cut less deep than asked",
  wall: "wall: too thin to stand",
  edge: "edge: runs off the board",
};

/** The sign of a kind about (0, 0), in CSS pixels; a rim parts it from what lies under it. */
export function sign(kind: string): SVGGElement {
  const d = FORMS[kind] ?? RING;
  const dashes = DASHES[kind] ?? null;
  return svg(
    "g",
    { class: `sign sign-${kind}` },
    svg("path", { class: "sign-rim", d }),
    svg("path", { class: "sign-line", d, "stroke-dasharray": dashes }),
  );
}

/** The sign as a small picture of its own, for lists and the key. */
export function signPicture(kind: string): SVGSVGElement {
  return svg(
    "svg",
    { class: "sign-picture", viewBox: "-20 -12 40 24", "aria-hidden": "true" },
    sign(kind),
  );
}
