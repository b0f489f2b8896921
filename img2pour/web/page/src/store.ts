/** One store: what the page knows now. Sections watch the keys that they draw. */

import type { Fault, JobList, Parts, State, Tables } from "./api";

export interface Selection {
  /** Index of a colour, or null. */
  colour: number | null;
  /** Id of a face of the design, or null. */
  face: number | null;
  /** Number of the stage that is shown, or null for the finished design. */
  stage: number | null;
}

export interface Progress {
  step: string;
  share: number;
}

export interface Known {
  tables: Tables | null;
  jobs: JobList | null;
  /** Address of the picture that was just brought in, as the browser has it; shown until read. */
  brought: string | null;
  /** Id of the open job, known before its state has come. */
  open: string | null;
  state: State | null;
  /** The last parts that came; a part may be older than `state.revision` while work goes on. */
  parts: Partial<Parts>;
  /** Revision that each part is of. */
  partRevision: Partial<Record<keyof Parts, number>>;
  progress: Progress | null;
  /** Why the work of this revision could not be done. */
  trouble: string | null;
  /** What was wrong with the last edit, at its fields; the job stayed as it was. */
  faults: Fault[];
  connected: boolean;
  /** Revision that the output on disk is of. */
  outputRevision: number | null;
  selection: Selection;
}

export const NOTHING: Selection = { colour: null, face: null, stage: null };

type Listener = (known: Known) => void;

export class Store {
  private known: Known = {
    tables: null,
    jobs: null,
    brought: null,
    open: null,
    state: null,
    parts: {},
    partRevision: {},
    progress: null,
    trouble: null,
    faults: [],
    connected: true,
    outputRevision: null,
    selection: NOTHING,
  };
  private listeners: { keys: (keyof Known)[]; tell: Listener }[] = [];

  get now(): Readonly<Known> {
    return this.known;
  }

  /** Change some keys; those who watch one of them are told once. */
  change(news: Partial<Known>): void {
    const before = this.known;
    this.known = { ...before, ...news };
    const changed = (key: keyof Known): boolean => this.known[key] !== before[key];
    for (const { keys, tell } of [...this.listeners]) {
      if (keys.length === 0 || keys.some(changed)) tell(this.known);
    }
  }

  /** Be told of every change, and at once. Returns the function that ends it. */
  subscribe(tell: Listener): () => void {
    return this.watch([], tell);
  }

  /** Be told at once, and when one of these keys has changed. */
  watch(keys: (keyof Known)[], tell: Listener): () => void {
    const listener = { keys, tell };
    this.listeners.push(listener);
    tell(this.known);
    return () => {
      this.listeners = this.listeners.filter((other) => other !== listener);
    };
  }

  select(part: Partial<Selection>): void {
    this.change({ selection: { ...this.known.selection, ...part } });
  }

  /** The design as it is drawn: the full one, unless the half-size preview is newer. */
  get drawn(): Parts["design"] | null {
    const { parts, partRevision } = this.known;
    const design = partRevision.design ?? -1;
    const preview = partRevision.preview ?? -1;
    return (preview > design ? parts.preview : (parts.design ?? parts.preview)) ?? null;
  }
}
