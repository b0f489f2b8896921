/** Edits of the open job, one after the other; the server checks them and keeps the history. */

import { type Api, ApiError, type Change, type Job, type Section, type State, type Value } from "./api";
import type { Store } from "./store";

export class Edit {
  private last: Promise<unknown> = Promise.resolve();

  constructor(
    private readonly store: Store,
    private readonly api: Api,
    private readonly say: (text: string) => void,
  ) {}

  /** Make one step of the history out of some changes; false when the job refuses them. */
  apply(label: string, changes: Change[]): Promise<boolean> {
    return this.follow(label, () => changes);
  }

  /**
   * Changes that add to what the job holds, made when their turn comes: of two presses in a row
   * the second builds on what the first has made.
   */
  follow(label: string, made: (job: Job) => Change[]): Promise<boolean> {
    const turn = this.last.then(() => {
      const job = this.store.now.state?.job;
      // Of two changes of one setting the later counts.
      const changes = new Map((job ? made(job) : []).map((change) => [change.path, change]));
      const paths = [...changes.keys()];
      return this.takeNow(label, paths, (id) => this.api.edit(id, label, [...changes.values()]));
    });
    this.last = turn;
    return turn;
  }

  /** Set one field, `section.field`; null is its default. */
  set(label: string, path: string, value: Value): Promise<boolean> {
    return this.apply(label, [{ path, value }]);
  }

  /** Add to a section that is a list, such as `touch`. */
  add(label: string, section: string, ...items: Section[]): Promise<boolean> {
    return this.apply(label, [{ path: section, value: [...this.list(section), ...items] }]);
  }

  undo(): Promise<boolean> {
    const what = this.store.now.state?.undo_label;
    return this.take(`Undone${what ? `: ${what}` : ""}`, [], (id) => this.api.undo(id));
  }

  redo(): Promise<boolean> {
    const what = this.store.now.state?.redo_label;
    return this.take(`Done again${what ? `: ${what}` : ""}`, [], (id) => this.api.redo(id));
  }

  /** Send a call that answers with the new state. */
  take(label: string, paths: string[], call: (id: string) => Promise<State>): Promise<boolean> {
    const turn = this.last.then(() => this.takeNow(label, paths, call));
    this.last = turn;
    return turn;
  }

  /** The items of a section that is a list. */
  list(section: string): Section[] {
    const items = this.store.now.state?.job[section];
    return Array.isArray(items) ? items : [];
  }

  /** The value of `section.field`, as it is typed. */
  value(path: string): Value {
    const [section = "", field = ""] = path.split(".");
    const fields = this.store.now.state?.job[section];
    return fields === undefined || Array.isArray(fields) ? undefined : fields[field];
  }

  private async takeNow(
    label: string,
    paths: string[],
    call: (id: string) => Promise<State>,
  ): Promise<boolean> {
    const id = this.store.now.open;
    if (id === null) return false;
    try {
      const state = await call(id);
      if (this.store.now.open !== id) return false;
      this.store.change({ state, faults: [], trouble: null });
      this.say(`${label}.`);
      return true;
    } catch (why) {
      this.refuse(why, paths);
      return false;
    }
  }

  private refuse(why: unknown, paths: string[]): void {
    if (!(why instanceof ApiError)) throw why;
    const told = why.faults.length > 0 ? why.faults : [];
    const faults = told.length > 0 ? told : [{ path: paths[0] ?? "", message: why.message }];
    this.store.change({ faults });
    this.say(faults.map((fault) => fault.message).join(" "));
  }
}
