/** The try-outs that are kept: fetched when the job opens, and while one is still worked on. */

import { ApiError, type Tryout } from "../api";
import type { Page } from "../page";

const AGAIN_MS = 1500;

export class Tryouts {
  private all: Tryout[] = [];
  private timer: number | undefined;
  private listeners: (() => void)[] = [];

  constructor(private readonly page: Page) {
    page.store.watch(["open"], () => {
      this.set([]);
      void this.load();
    });
  }

  get list(): readonly Tryout[] {
    return this.all;
  }

  onChange(tell: () => void): void {
    this.listeners.push(tell);
    tell();
  }

  async keep(name: string): Promise<boolean> {
    return this.during(async (id) => {
      await this.page.api.keepTryout(id, name);
      this.page.say(`Kept as try-out: ${name}.`);
    });
  }

  async drop(one: Tryout): Promise<boolean> {
    return this.during(async (id) => {
      await this.page.api.dropTryout(id, one.k);
      this.page.say(`Try-out away: ${one.name}.`);
    });
  }

  take(one: Tryout): Promise<boolean> {
    return this.page.edit.take(`Try-out taken: ${one.name}`, [], (id) =>
      this.page.api.takeTryout(id, one.k),
    );
  }

  private async during(act: (id: string) => Promise<void>): Promise<boolean> {
    const id = this.page.store.now.open;
    if (id === null) return false;
    try {
      await act(id);
    } catch (why) {
      if (!(why instanceof ApiError)) throw why;
      this.page.say(why.message);
      return false;
    }
    await this.load();
    return true;
  }

  private async load(): Promise<void> {
    window.clearTimeout(this.timer);
    const id = this.page.store.now.open;
    if (id === null) return;
    try {
      const all = await this.page.api.tryouts(id);
      if (this.page.store.now.open === id) this.set(all);
    } catch (why) {
      if (!(why instanceof ApiError)) throw why;
      return;
    }
    if (this.all.some((one) => !one.ready)) {
      this.timer = window.setTimeout(() => void this.load(), AGAIN_MS);
    }
  }

  private set(all: Tryout[]): void {
    if (JSON.stringify(all) === JSON.stringify(this.all)) return;
    this.all = all;
    for (const tell of this.listeners) tell();
  }
}
