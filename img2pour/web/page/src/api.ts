/** What the server sends and takes, and the calls for it. All figures come from there. */

export type Point = [number, number];

export interface Fault {
  path: string;
  message: string;
}

/** An answer that is no success: one clear line, and faults at their fields. */
export class ApiError extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly faults: Fault[] = [],
  ) {
    super(message);
  }
}

export interface Tables {
  version: string;
  bits: { name: string; kind: string; words: string }[];
  resins: { name: string; words: string }[];
  species: string[];
  sheets: string[];
  enums: Record<string, string[]>;
  limits: { max_mb: number; max_megapixels: number };
}

export interface JobNote {
  id: string;
  title: string;
  created: string;
  changed: string;
  bytes: number;
}

export interface JobList {
  jobs: JobNote[];
  used_bytes: number;
  cap_bytes: number;
}

/** One field of a job, as it is typed. */
export type Value =
  string | number | boolean | null | undefined | Value[] | { [key: string]: Value };
export type Section = Record<string, Value>;
export type Job = Record<string, Section | Section[] | undefined>;

export interface State {
  id: string;
  title: string;
  revision: number;
  job: Job;
  has_size?: boolean;
  can_undo: boolean;
  can_redo: boolean;
  undo_label: string | null;
  redo_label: string | null;
  picture: { width_px: number; height_px: number; name: string } | null;
  warnings?: string[];
  phase: "idle" | "working";
}

export interface Change {
  path: string;
  value: Value;
}

export interface SourcePart {
  revision?: number;
  width_px: number;
  height_px: number;
  corners_px: Point[] | null;
  corners_given: boolean;
  said: string;
  /** Density stored in the picture, pixels an inch. */
  dpi: number | null;
  sheet: string | null;
  card: string | null;
  notes: string[];
}

export type Role = "pour" | "wood" | "outside";

export interface Colour {
  index: number;
  name: string;
  /** As it is poured and shown. */
  hex: string;
  /** As the picture's palette has it; null for the colour of a piece laid over the picture. */
  picture_hex: string | null;
  role: Role;
  area_text: string;
  area_percent: number;
  volume_ml: number | null;
  volume_text: string | null;
  regions: number;
  resin: string | null;
}

export interface Face {
  id: number;
  colour: number;
  d: string;
}

export interface DesignPart {
  revision: number;
  half: boolean;
  board: { width_mm: number; height_mm: number; thickness_mm: number; text: string } | null;
  viewbox: [number, number, number, number];
  colours: Colour[];
  alike: string[];
  faces: Face[];
  warnings: string[];
  changes: string[];
  removed: { colour: string; area_text: string; xy: Point }[];
}

export interface Place {
  number: number;
  kind: string;
  xy: Point;
  d?: string;
  words: string;
  width_text: string;
  width_mm?: number;
  colour?: string;
}

/** A row of the report: its fields are shown by name. */
export type Row = Record<string, unknown>;

export interface CheckPart {
  revision?: number;
  word: string;
  accepted: boolean;
  lost_percent: number;
  colours: Row[];
  places: Place[];
  advice: { words: string; changes: Change[]; button: string | null }[];
  ladder: {
    width_text: string;
    lost_percent: number;
    volume_ml: number;
    minutes: number;
    changes: Change[];
  }[];
}

export interface Pocket {
  pour: string;
  hex: string;
  d: string;
  under_d: string | null;
  depth_mm: number;
  depth_text: string;
  floor_mm: number;
  bits: string[];
  area_mm2: number;
  layer: string;
  ml: number;
}

export interface Stage {
  number: number;
  name: string;
  kind: string;
  done: boolean;
  /** Name of its drawing among the files. */
  file: string;
  top_mm: number;
  machine_hours: number | null;
  pockets: Pocket[];
  look: { pour: string; hex: string; d: string }[];
  seal: boolean;
  mixes: Row[];
  words: string[];
}

export interface PlanPart {
  revision?: number;
  days: number;
  days_alone: number;
  machine_hours: number;
  cost: number | null;
  total_ml: number;
  order: {
    pours: string[];
    stages: string[][];
    why: string | null;
    runner_up: string[][] | null;
    given: boolean;
  };
  stages: Stage[];
  seals: Row[];
  /** What to mix for a seal that is brushed. */
  coat: Row | null;
  /** What to mix of each coloured resin for pinholes. */
  touch_ups: Row[];
  unsealed: { xy: Point; length_mm: number; length_text: string }[];
  losses: Row[];
  standing_lines: Row[];
  thin_wood: Row[];
  products: Row[];
  schedule: Row;
  findings: string[];
  cautions: { title: string; text: string }[];
  hints: string[];
  /** What bare wood looks like. */
  wood_hex: string;
  /** Names of the pours of each stage, as the job keeps them when some are done. */
  kept_stages: string[][];
}

export interface Parts {
  source: SourcePart;
  preview: DesignPart;
  design: DesignPart;
  check: CheckPart;
  plan: PlanPart;
  work: { rows: Row[] };
}
export type PartName = keyof Parts;
export const PART_NAMES: PartName[] = ["source", "preview", "design", "check", "plan", "work"];

export interface AtPoint {
  face: number | null;
  colour: string | null;
  hex: string | null;
  role: Role | null;
  region_mm2: number | null;
  upright_px: Point;
  pocket: {
    pour: string;
    stage: number;
    ml: number;
    depth_mm: number;
    floor_mm: number;
    at_mm: Point;
  } | null;
  fill: Row | null;
}

export interface Tryout {
  k: number;
  name: string;
  /** Its figures, once it is worked out. */
  rows: Row | null;
  hexes: { name: string; hex: string; role: Role }[];
  /** Where the picture of the finished piece is. */
  finished: string | null;
  fault: string | null;
  ready: boolean;
}

export interface OutputList {
  revision: number;
  files: { name: string; bytes: number }[];
}

export interface EventMap {
  progress: { revision: number; phase: string; step: string; share: number };
  ready: { revision: number; part: PartName | "output" };
  fault: { revision: number; message: string };
  idle: { revision: number };
}
export interface Hearing {
  on<K extends keyof EventMap>(kind: K, data: EventMap[K]): void;
  connected(yes: boolean): void;
}

const job = (id: string, rest = ""): string => `/api/jobs/${encodeURIComponent(id)}${rest}`;

export const api = {
  tables: () => get<Tables>("/api/tables"),
  jobs: () => get<JobList>("/api/jobs"),
  state: (id: string) => get<State>(job(id)),
  remove: (id: string) => call<void>("DELETE", job(id)),
  upload: (picture: Blob, name: string) =>
    call<{ id: string }>("POST", "/api/jobs", picture, { "X-File-Name": encodeURIComponent(name) }),
  edit: (id: string, label: string, changes: Change[]) =>
    send<State>("POST", job(id, "/edit"), { label, changes }),
  undo: (id: string) => call<State>("POST", job(id, "/undo")),
  redo: (id: string) => call<State>("POST", job(id, "/redo")),
  split: (id: string, colour: string) => send<State>("POST", job(id, "/split"), { colour }),
  advice: (id: string, n: number) => call<State>("POST", job(id, `/advice/${n}`)),
  part: <K extends PartName>(id: string, name: K, revision: number) =>
    get<Parts[K]>(job(id, `/parts/${name}?revision=${revision}`)),
  at: (id: string, [x, y]: Point, stage?: number) =>
    get<AtPoint>(job(id, `/at?x_mm=${x}&y_mm=${y}${stage === undefined ? "" : `&stage=${stage}`}`)),
  tryouts: (id: string) => get<Tryout[]>(job(id, "/tryouts")),
  keepTryout: (id: string, name: string) => send<unknown>("POST", job(id, "/tryouts"), { name }),
  dropTryout: (id: string, k: number) => call<void>("DELETE", job(id, `/tryouts/${k}`)),
  takeTryout: (id: string, k: number) => call<State>("POST", job(id, `/tryouts/${k}/take`)),
  makeOutput: (id: string) => call<unknown>("POST", job(id, "/output")),
  output: (id: string) => get<OutputList>(job(id, "/output")),
  putJobFile: (id: string, text: string) =>
    call<State>("PUT", job(id, "/job.toml"), new Blob([text], { type: "application/toml" })),
  url: {
    source: (id: string, revision: number) => job(id, `/source.jpg?revision=${revision}`),
    artwork: (id: string, revision: number) => job(id, `/artwork.jpg?revision=${revision}`),
    jobFile: (id: string) => job(id, "/job.toml"),
    zip: (id: string) => job(id, "/output.zip"),
    file: (id: string, name: string) =>
      job(id, `/output/${name.split("/").map(encodeURIComponent).join("/")}`),
  },
  listen,
};
export type Api = typeof api;

const get = <T>(url: string): Promise<T> => call<T>("GET", url);

const send = <T>(method: string, url: string, body: unknown): Promise<T> =>
  call<T>(method, url, JSON.stringify(body), { "Content-Type": "application/json" });

async function call<T>(
  method: string,
  url: string,
  body?: BodyInit,
  headers: Record<string, string> = {},
): Promise<T> {
  let answer: Response;
  try {
    answer = await fetch(url, { method, body, headers, credentials: "same-origin" });
    if (answer.ok) return (answer.status === 204 ? undefined : await answer.json()) as T;
  } catch {
    // No answer, or one that broke off in the middle.
    throw new ApiError(0, "The program does not answer. Is img2pour serve still running?");
  }
  throw await errorOf(answer);
}

async function errorOf(answer: Response): Promise<ApiError> {
  try {
    const told = (await answer.json()) as { message?: string; faults?: Fault[] };
    return new ApiError(answer.status, told.message ?? answer.statusText, told.faults ?? []);
  } catch {
    return new ApiError(answer.status, answer.statusText || `The answer was ${answer.status}.`);
  }
}

/** Listen to the events of a job until the returned function is called; reconnects by itself. */
function listen(id: string, ear: Hearing): () => void {
  let source: EventSource | null = null;
  let again: number | undefined;
  let wait_ms = 500;
  const connect = (): void => {
    source = new EventSource(job(id, "/events"));
    source.onopen = () => {
      wait_ms = 500;
      ear.connected(true);
    };
    source.onerror = () => {
      ear.connected(false);
      source?.close();
      again = window.setTimeout(connect, wait_ms);
      wait_ms = Math.min(wait_ms * 2, 8000);
    };
    for (const kind of ["progress", "ready", "fault", "idle"] as const) {
      source.addEventListener(kind, (event) => {
        ear.on(kind, JSON.parse((event as MessageEvent<string>).data));
      });
    }
  };
  connect();
  return () => {
    window.clearTimeout(again);
    source?.close();
  };
}
