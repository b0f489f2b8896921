/** A drawing of a bit from its name, so that the shelf is read at a glance. */

import { svg } from "../dom";

const SHANK = "M16 2h8v14h-8z";

/** Return a small picture of a bit: the shank above, the cutting end below. */
export function cutterPicture(name: string): SVGSVGElement {
  return svg(
    "svg",
    { class: "cutter", viewBox: "5 1 30 42", "aria-hidden": "true" },
    svg("path", { class: "cutter-shank", d: SHANK }),
    svg("path", { class: "cutter-end", d: endOf(name) }),
  );
}

function endOf(name: string): string {
  const kind = name.trim().split(/\s+/)[0];
  if (kind === "vee") return veeEnd(Number(/([\d.]+)\s*(deg|°)/.exec(name)?.[1] ?? 60));
  if (kind === "taper") return "M15 16h10l-3.4 21a1.6 1.6 0 0 1-3.2 0z";
  const half = halfWidth(name);
  const [left, right] = [20 - half, 20 + half];
  if (kind === "ball") {
    return `M${left} 16H${right}V${40 - half}A${half} ${half} 0 0 1 ${left} ${40 - half}Z`;
  }
  return `M${left} 16H${right}V40H${left}Z`;
}

/** The cone keeps its angle: blunt ones are short, sharp ones long. */
function veeEnd(angle_deg: number): string {
  const slope = Math.tan((Math.min(Math.max(angle_deg, 8), 150) * Math.PI) / 360);
  const half = Math.min(14, 22 * slope);
  const top = 40 - half / slope;
  return `M${20 - half} 16H${20 + half}V${top}L20 40L${20 - half} ${top}Z`;
}

/** Half of the drawn width: about true to size, and never too thin to be seen. */
function halfWidth(name: string): number {
  const fraction = /(\d+)\s*\/\s*(\d+)/.exec(name);
  const whole = /([\d.]+)\s*(mm|in)/.exec(name);
  const mm = fraction
    ? (25.4 * Number(fraction[1])) / Number(fraction[2])
    : whole
      ? Number(whole[1]) * (whole[2] === "in" ? 25.4 : 1)
      : 6;
  return Math.min(12, Math.max(2, mm * 1.2));
}
