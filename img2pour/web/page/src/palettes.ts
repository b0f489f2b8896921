/** Changes of colours as changes of the job; plain functions on its sections. */

import type { Change, Colour, DesignPart, Job, Point, Role, Section, Value } from "./api";
import { pointText } from "./cutting";

const listOf = (job: Job, section: string): Section[] => {
  const items = job[section];
  return Array.isArray(items) ? items : [];
};

/** The palette as a list, "#hex=name", so that one of its colours can be changed alone. */
const listed = (colours: Colour[]): string[] =>
  [...colours].sort((a, b) => a.index - b.index).map(({ hex, name }) => `${hex}=${name}`);

/** Give a colour another name or hex; all that speaks of it follows. */
export function changedColour(
  job: Job,
  design: DesignPart,
  colour: Colour,
  to: { name?: string; hex?: string },
): Change[] {
  const { name = colour.name, hex = colour.hex } = to;
  const colours = design.colours.map((one) =>
    one.index === colour.index ? { ...one, name, hex } : one,
  );
  const follow = (value: Value): Value => followed(value, colour, name, hex);
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

function followed(value: Value, colour: Colour, name: string, hex: string): Value {
  if (Array.isArray(value)) return value.map((item) => followed(item, colour, name, hex));
  if (value === colour.name) return name;
  if (value === colour.hex) return hex;
  return value === `${colour.hex}=${colour.name}` ? `${hex}=${name}` : value;
}

/** Say what becomes of all regions of a colour. */
export function roleChange(job: Job, colour: Colour, role: Role): Change {
  const isOwn = (item: Section): boolean =>
    item.colour === colour.name || item.colour === colour.hex;
  const others = listOf(job, "override");
  const own = others.find(isOwn);
  const value =
    own === undefined
      ? [...others, { colour: colour.name, role }]
      : others.map((item) => (isOwn(item) ? { ...item, role } : item));
  return { path: "override", value };
}

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

/** Give the region at a point to what surrounds it; `whole` holds the picture's corners. */
export const eraseChange = (job: Job, at: Point, whole: Point[]): Change => ({
  path: "touch",
  value: [
    ...listOf(job, "touch"),
    { action: "erase", at: [pointText(at)], inside: whole.map(pointText) },
  ],
});

/** Say what becomes of the region at a point alone. */
export const regionRoleChange = (job: Job, at: Point, role: Role): Change => ({
  path: "role",
  value: [...listOf(job, "role"), { role, at: [pointText(at)] }],
});

/** Corners that hold all of the picture, a little beyond them so that no edge is cut. */
export function wholePicture(corners: Point[] | null, width: number, height: number): Point[] {
  const own = corners ?? [
    [0, 0],
    [width, 0],
    [width, height],
    [0, height],
  ];
  const [x, y] = [0, 1].map((axis) => own.reduce((sum, p) => sum + (p[axis] ?? 0), 0) / own.length);
  return own.map(([px, py]) => [
    px + 0.05 * (px - (x ?? 0)),
    py + 0.05 * (py - (y ?? 0)),
  ]);
}
