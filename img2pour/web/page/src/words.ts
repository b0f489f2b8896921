/** Figures as words. */

/** Bytes as people read them. */
export function bytesText(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  if (bytes < 1e6) return `${(bytes / 1e3).toFixed(0)} kB`;
  if (bytes < 1e9) return `${(bytes / 1e6).toFixed(1)} MB`;
  return `${(bytes / 1e9).toFixed(1)} GB`;
}

/** A moment in the words of this place. */
export function momentText(moment: string): string {
  const date = new Date(moment);
  if (Number.isNaN(date.getTime())) return moment;
  return date.toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
}

/** A share of the area: no figure of more places than it is worth. */
export function percentText(percent: number): string {
  if (percent > 0 && percent < 0.05) return "under 0.1 %";
  return `${percent.toFixed(percent < 10 ? 1 : 0)} %`;
}

export const plural = (count: number, word: string): string =>
  `${count} ${word}${count === 1 ? "" : "s"}`;

/** A message as the page says it: settings have no dashes here. */
export const plainText = (message: string): string =>
  message.replace(/--([a-z]+)/g, "$1").replace(/^./, (letter) => letter.toUpperCase());

/** A volume in the unit that the sheet's other volumes are told in. */
export function volumeText(ml: number, like: (string | null)[]): string {
  return like.some((text) => text?.includes("fl oz"))
    ? `${(ml / ML_PER_FL_OZ).toFixed(1)} fl oz`
    : `${Math.round(ml)} ml`;
}

/** An area in the unit that the sheet's other areas are told in. */
export function areaText(area_mm2: number | null, like: string[]): string {
  if (area_mm2 === null) return "of no known size";
  if (like.some((text) => text.includes("sq in"))) {
    return `${(area_mm2 / MM_PER_INCH ** 2).toFixed(2)} sq in`;
  }
  return area_mm2 < 100 ? `${area_mm2.toFixed(1)} mm²` : `${(area_mm2 / 100).toFixed(1)} cm²`;
}

const MM_PER_INCH = 25.4;

/** US fluid ounce. */
const ML_PER_FL_OZ = 29.5735295625;

const STEPS: Record<string, string> = {
  waiting: "Waiting for its turn",
  read: "Reading the picture",
  straighten: "Straightening",
  frame: "Straightening",
  light: "Evening out the light",
  drawing: "Following the lines of the drawing",
  tones: "Finding the tones",
  colours: "Finding the colours",
  half: "A first look",
  "half labels": "A first look",
  "half trace": "A first look",
  labels: "Giving every spot its colour",
  trace: "Drawing the outlines",
  pockets: "Measuring the pockets",
  work: "Working out the way of the bits",
  check: "Looking for what gets lost",
  plan: "Planning the pours",
  write: "Writing the files",
};

/** What is being done, in words; steps that are over at once have none of their own. */
export const stepText = (step: string): string => STEPS[step] ?? "Working";
