/** Changes of colours as changes of the job; plain functions on its sections. */

import type { Change, Colour, DesignPart, Job, Point, Role, Section, Value } from "./api";
import { pointText } from "./cutting";

const listOf = (job: Job, section: string): Section[] => {
  const items = job[section];
  return Array.isArray(items) ? items : [];
};

/** The palette as a list, "#hex=name", so that one of its colours can be named alone. */
const listed = (colours: Colour[]): string[] =>
  [...colours]
    .filter(({ picture_hex }) => picture_hex !== null)
    .sort((a, b) => a.index - b.index)
    .map(({ picture_hex, name }) => `${picture_hex}=${name}`);

/** Give a colour another name; all that speaks of it follows. */
export function renamed(job: Job, design: DesignPart, colour: Colour, name: string): Change[] {
  const colours = design.colours.map((one) =>
    one.index === colour.index ? { ...one, name } : one,
  );
  const follow = (value: Value): Value => followed(value, colour.name, name);
  const changes: Change[] = [{ path: "colours.palette", value: listed(colours) }];
  for (const section of ["touch", "role", "override", "resin", "shape", "text", "cell"]) {
    const before = listOf(job, section);
    const after = before.map((item) => item && renamedIn(item, follow));
    if (JSON.stringify(after) !== JSON.stringify(before)) {
      changes.push({ path: section, value: after });
    }
  }
  for (const path of ["colours.wood", "pours.order", "pours.stages"]) {
    const [section = "", field = ""] = path.split(".");
    const before = (job[section] as Section | undefined)?.[field];
    const after = follow(before);
    if (JSON.stringify(after) !== JSON.stringify(before)) changes.push({ path, value: after });
  }
  return changes;
}

const SPEAKS_OF_COLOURS = ["colour", "colours", "touching", "to", "resin", "moat_colour"];

function renamedIn(item: Section, follow: (value: Value) => Value): Section {
  const entries = Object.entries(item).map(([field, value]) => [
    field,
    SPEAKS_OF_COLOURS.includes(field) ? follow(value) : value,
  ]);
  return Object.fromEntries(entries) as Section;
}

function followed(value: Value, before: string, after: string): Value {
  if (Array.isArray(value)) return value.map((item) => followed(item, before, after));
  if (value === before) return after;
  const isNamed = typeof value === "string" && value.endsWith(`=${before}`);
  return isNamed ? `${value.slice(0, -before.length)}${after}` : value;
}

/** Say what becomes of all regions of a colour. */
export const roleChange = (job: Job, colour: Colour, role: Role): Change =>
  overriding(job, colour, { role });

/** Pour a colour in another one than the picture shows; in its own again takes the wish away. */
export const shownChange = (job: Job, colour: Colour, hex: string): Change =>
  overriding(job, colour, { shown: hex === colour.picture_hex ? null : hex });

/** What differs for one colour, with one thing more; it is called by its name. */
function overriding(job: Job, colour: Colour, more: Section): Change {
  const isOwn = (item: Section): boolean =>
    [colour.name, colour.hex, colour.picture_hex].includes(String(item.colour));
  const others = listOf(job, "override");
  const own = { ...others.find(isOwn), colour: colour.name, ...more };
  const kept = others.some(isOwn)
    ? others.map((item) => (isOwn(item) ? own : item))
    : [...others, own];
  return { path: "override", value: kept.filter(saysSomething) };
}

const saysSomething = ({ role, bits, small, shown }: Section): boolean =>
  Boolean(role ?? bits ?? small ?? shown);

/** Make one colour another, wherever it is. */
export const mergeChange = (job: Job, from: string, to: string): Change => ({
  path: "touch",
  value: [...listOf(job, "touch"), { action: "merge", colour: from, to }],
});

/** Give the region at a point another colour. */
export const recolourChange = (job: Job, at: Point, to: string): Change => ({
  path: "touch",
  value: [...listOf(job, "touch"), { action: "recolour", at: [pointText(at)], to }],
});

/** Give the region at a point to what surrounds it. */
export const eraseChange = (job: Job, at: Point): Change => ({
  path: "touch",
  value: [...listOf(job, "touch"), { action: "erase", at: [pointText(at)] }],
});

/** Say what becomes of the region at a point alone. */
export const regionRoleChange = (job: Job, at: Point, role: Role): Change => ({
  path: "role",
  value: [...listOf(job, "role"), { role, at: [pointText(at)] }],
});
