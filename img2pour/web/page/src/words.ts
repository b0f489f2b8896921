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
