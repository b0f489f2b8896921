/** Keeps the store in step with the server: the open job, its events, its parts. */

import { type Api, ApiError, PART_NAMES, type PartName, type Parts, type State } from "./api";
import type { Store } from "./store";
import { NOTHING } from "./store";

export class Sync {
  private stop: () => void = () => undefined;
  private lost = false;
  private reloading: number | undefined;
  /** Revision that each part was told to be ready of. */
  private told: Partial<Record<PartName, number>> = {};

  constructor(
    private readonly store: Store,
    private readonly api: Api,
    private readonly say: (text: string) => void,
  ) {
    store.watch(["state"], ({ state }) => {
      if (state !== null) void this.fetchTold(state);
    });
    window.addEventListener("hashchange", () => void this.openFromAddress());
  }

  async start(): Promise<void> {
    await Promise.all([this.loadTables(), this.listJobs(), this.openFromAddress()]);
  }

  async listJobs(): Promise<void> {
    try {
      this.store.change({ jobs: await this.api.jobs() });
    } catch (why) {
      this.trouble(why);
    }
  }

  private async loadTables(): Promise<void> {
    try {
      this.store.change({ tables: await this.api.tables() });
    } catch (why) {
      this.trouble(why);
    }
  }

  private async openFromAddress(): Promise<void> {
    const [, name] = /^#job=(.+)$/.exec(location.hash) ?? [];
    const id = name === undefined ? null : decodeURIComponent(name);
    if (id !== this.store.now.open) await this.open(id);
  }

  /** Open a job, or none. `brought` is the picture as the browser has it, just after it came. */
  async open(id: string | null, brought: string | null = null): Promise<void> {
    this.stop();
    this.told = {};
    const { brought: before } = this.store.now;
    this.store.change({ ...EMPTY, open: id, brought });
    if (before !== null) URL.revokeObjectURL(before);
    if (id === null) return;
    try {
      const state = await this.api.state(id);
      if (this.store.now.open !== id) return;
      this.store.change({ state });
      this.stop = this.hear(id);
    } catch (why) {
      if (why instanceof ApiError && why.status === 404) this.store.change({ open: null });
      this.trouble(why);
    }
  }

  private hear(id: string): () => void {
    return this.api.listen(id, {
      connected: (yes) => this.connected(yes),
      on: (kind, data) => {
        const state = this.store.now.state;
        if (state === null || this.store.now.open !== id || data.revision < state.revision) return;
        if (data.revision > state.revision) this.reloadSoon(id);
        if (kind === "progress" && "share" in data) {
          this.store.change({ progress: { step: data.step, share: data.share } });
        } else if (kind === "ready" && "part" in data) this.ready(id, data.part, data.revision);
        else if (kind === "fault" && "message" in data) {
          this.store.change({ trouble: data.message, progress: null });
          this.say(data.message);
        } else if (kind === "idle") this.store.change({ progress: null });
      },
    });
  }

  private connected(yes: boolean): void {
    this.store.change({ connected: yes });
    const id = this.store.now.open;
    if (!yes) this.lost = true;
    else if (this.lost && id !== null) {
      this.lost = false;
      this.store.change({ faults: [], trouble: null });
      void this.reload(id);
      void this.listJobs();
    }
  }

  private async reload(id: string): Promise<void> {
    try {
      const state = await this.api.state(id);
      const { open, state: known } = this.store.now;
      if (open === id && state.revision !== known?.revision) this.store.change({ state });
    } catch (why) {
      this.trouble(why);
    }
  }

  private ready(id: string, part: PartName | "output", revision: number): void {
    if (part === "output") this.store.change({ outputRevision: revision });
    else if (PART_NAMES.includes(part)) {
      this.told[part] = revision;
      if (this.store.now.state?.revision === revision) void this.fetch(id, part, revision);
    }
  }

  /** Fetch the parts that were told of before the state itself had come. */
  private async fetchTold({ id, revision }: State): Promise<void> {
    const have = this.store.now.partRevision;
    const wanted = PART_NAMES.filter(
      (name) => this.told[name] === revision && have[name] !== revision,
    );
    await Promise.all(wanted.map((name) => this.fetch(id, name, revision)));
  }

  /** A newer revision was told of: by our own edit, whose answer is on its way, or by another page. */
  private reloadSoon(id: string): void {
    window.clearTimeout(this.reloading);
    this.reloading = window.setTimeout(() => void this.reload(id), 300);
  }

  private async fetch(id: string, name: PartName, revision: number): Promise<void> {
    let part: Parts[PartName];
    try {
      part = await this.api.part(id, name, revision);
    } catch (why) {
      // Not ready yet, or a newer change has come: the events tell when to ask again.
      if (why instanceof ApiError && [0, 404, 409].includes(why.status)) return;
      this.trouble(why);
      return;
    }
    const { open, state, parts, partRevision } = this.store.now;
    if (open !== id || state?.revision !== revision) return;
    this.store.change({
      parts: { ...parts, [name]: part },
      partRevision: { ...partRevision, [name]: revision },
    });
  }

  private trouble(why: unknown): void {
    if (!(why instanceof ApiError)) throw why;
    if (why.status === 0) this.store.change({ connected: false });
    else {
      this.store.change({ trouble: why.message });
      this.say(why.message);
    }
  }
}

const EMPTY = {
  brought: null,
  state: null,
  parts: {},
  partRevision: {},
  progress: null,
  trouble: null,
  faults: [],
  outputRevision: null,
  selection: NOTHING,
};
