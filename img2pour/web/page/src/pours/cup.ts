/** A cup with its marks: how high A stands, and then A and B together. */

import { svg } from "../dom";
import { millilitres } from "../panel/figures";

const HEIGHT = 84;
const TOP = 8;
const BOTTOM = TOP + HEIGHT;
const FULL_SHARE = 0.86;

export function cup(a_ml: number, b_ml: number): SVGSVGElement {
  const total = a_ml + b_ml;
  const level = (ml: number): number => BOTTOM - (HEIGHT * FULL_SHARE * ml) / Math.max(total, 1e-9);
  const [left, right] = [14, 66];
  return svg(
    "svg",
    { class: "cup", viewBox: "0 0 180 100", role: "img", "aria-label": cupWords(a_ml, total) },
    svg("rect", {
      class: "cup-b",
      x: left,
      y: level(total),
      width: right - left,
      height: level(a_ml) - level(total),
    }),
    svg("rect", {
      class: "cup-a",
      x: left,
      y: level(a_ml),
      width: right - left,
      height: BOTTOM - level(a_ml),
    }),
    svg("path", { class: "cup-wall", d: `M${left - 2} ${TOP}V${BOTTOM}H${right + 2}V${TOP}` }),
    mark(level(total), right, `A + B ${millilitres(total)}`),
    mark(level(a_ml), right, `A ${millilitres(a_ml)}`),
  );
}

const cupWords = (a_ml: number, total_ml: number): string =>
  `A cup: A up to ${millilitres(a_ml)}, then B up to ${millilitres(total_ml)}`;

function mark(y: number, right: number, words: string): SVGElement {
  return svg(
    "g",
    {},
    svg("path", { class: "cup-mark", d: `M${right - 8} ${y}H${right + 8}` }),
    svg("text", { class: "cup-words", x: right + 11, y: y + 4 }, words),
  );
}
