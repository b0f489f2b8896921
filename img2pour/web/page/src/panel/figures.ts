/** Figures as a person reads them, always with their unit; the same words as on the work sheet. */

import type { Row } from "../api";
import type { Store } from "../store";

export type Units = "in" | "mm";

const MM_PER_INCH = 25.4;
const ML_PER_FL_OZ = 29.5735295625;

/** A number with at most so many decimals, without needless zeros. */
export function plain(value: number, places = 1): string {
  const text = value.toFixed(places);
  const short = text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  return short === "-0" ? "0" : short;
}

export function millilitres(ml: number): string {
  if (ml > 0 && ml < 0.05) return "under 0.1 ml";
  return `${plain(ml, ml < 100 ? 1 : 0)} ml`;
}

export const fluidOunces = (ml: number): string => `${(ml / ML_PER_FL_OZ).toFixed(2)} fl oz`;

export const grams = (value: number): string => `${plain(value)} g`;

export function hours(value: number): string {
  return value > 0 && value < 1 ? `${Math.round(value * 60)} min` : `${plain(value)} h`;
}

export function days(value: number): string {
  const text = plain(value);
  return text === "1" ? "1 day" : `${text} days`;
}

/** What is not whole never reads as 100 or 0. */
export function percent(value: number): string {
  if (value >= 99.95 && value < 100) return "99.9 %";
  return value > 0 && value < 0.05 ? "below 0.1 %" : `${plain(value)} %`;
}

/** A price: the user knows in which money. */
export const money = (value: number): string => value.toFixed(2);

/** A length: `3.175 mm`, or `0.125 in` where inches are read. */
export function span(mm: number, units: Units): string {
  if (units === "mm") return `${plain(mm, mm < 100 ? 2 : 0)} mm`;
  const inches = mm / MM_PER_INCH;
  return `${plain(inches, inches < 10 ? 3 : 1)} in`;
}

/** A width or a length in mm as a calliper or a tape shows it. */
export const gap = (mm: number): string => `${plain(mm, mm < 10 ? 2 : 0)} mm`;

/** `1 pocket`, `3 pockets`. */
export const count = (n: number, one: string, many = `${one}s`): string =>
  `${n} ${n === 1 ? one : many}`;

/** The units that a person reads: as asked for, else as the size was typed. */
export function unitsOf(store: Store): Units {
  const job = store.now.state?.job;
  const output = job?.["output"];
  const size = job?.["size"];
  const carving = job?.["carving"];
  const asked = Array.isArray(output) ? undefined : output?.["units"];
  if (asked === "in" || asked === "mm") return asked;
  const typed = Array.isArray(size) ? [] : [size?.["width"], size?.["height"], size?.["board"]];
  if (!Array.isArray(carving)) typed.push(carving?.["depth"]);
  const first = typed.find((text) => typeof text === "string" && text !== "");
  return typeof first === "string" && /in|ft|"|'/.test(first) ? "in" : "mm";
}

/** A number of a row, or null where it has none of that name. */
export function num(row: Row, name: string): number | null {
  const value = row[name];
  return typeof value === "number" ? value : null;
}

export function text(row: Row, name: string): string {
  const value = row[name];
  return typeof value === "string" ? value : "";
}

export function rows(row: Row, name: string): Row[] {
  const value = row[name];
  return Array.isArray(value) ? (value as Row[]) : [];
}

export function words(row: Row, name: string): string[] {
  const value = row[name];
  return Array.isArray(value) ? value.filter((one): one is string => typeof one === "string") : [];
}

/** Say a figure with its own words, or nothing where there is none. */
export const said = (value: number | null, say: (value: number) => string): string =>
  value === null ? "" : say(value);
