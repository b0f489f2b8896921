/** The region that was picked on the picture: what it is, and what can be done with it alone. */

import { ApiError, type AtPoint, type Change, type Job, type Role } from "./api";
import type { Pick } from "./board";
import { button, chip, fill, h } from "./dom";
import type { Page } from "./page";
import { eraseChange, recolourChange, regionRoleChange } from "./palettes";
import { ROLES } from "./swatch";
import { areaText, plainText } from "./words";

/** Put the picked region into the tray under the picture. */
export function pickedTray(page: Page): void {
  const host = h("section", { class: "picked", "aria-label": "Picked region", hidden: true });
  const idle = h(
    "p",
    { class: "picked-idle" },
    "Press a region to change it alone. By keys: arrows move the crosshair, Enter picks.",
  );
  page.board.tray.prepend(idle, host);
  const tray = new Picked(page, host, idle);
  page.board.onPick((pick) => void tray.take(pick));
  page.store.watch(["selection"], ({ selection }) => {
    if (selection.face === null) tray.close();
  });
  page.store.watch(["open"], () => tray.close());
}

/** The program is still working out what is asked for. */
const BUSY = 503;
const REST_MS = 800;

class Picked {
  private at: AtPoint | null = null;
  private asked = 0;

  constructor(
    private readonly page: Page,
    private readonly host: HTMLElement,
    private readonly idle: HTMLElement,
  ) {
    host.addEventListener("keydown", (event) => {
      if (event.key === "Escape") this.leave();
    });
  }

  async take({ xy, face }: Pick): Promise<void> {
    const { open, selection } = this.page.store.now;
    if (open === null) return;
    const turn = ++this.asked;
    this.page.store.select({ face: face?.id ?? null, colour: null });
    if (face === null) return;
    const isAsked = (): boolean => turn === this.asked;
    await this.ask(() => this.page.api.at(open, xy, selection.stage ?? undefined), isAsked);
  }

  /** Ask what lies there; while it is worked out, ask again after a rest. */
  private async ask(call: () => Promise<AtPoint>, isAsked: () => boolean): Promise<void> {
    for (let isFirst = true; isAsked(); isFirst = false) {
      try {
        const at = await call();
        if (isAsked()) this.show(at);
        return;
      } catch (why) {
        if (!(why instanceof ApiError)) throw why;
        if (isAsked() && isFirst) this.showWords(plainText(why.message));
        if (why.status !== BUSY) return;
        await new Promise((rested) => window.setTimeout(rested, REST_MS));
      }
    }
  }

  /** Say why nothing can be told of the region. */
  private showWords(words: string): void {
    const close = button("Close", () => this.leave(), { class: "button button-quiet" });
    fill(this.host, h("p", { class: "picked-words" }, words), close);
    this.open();
    this.page.say(words);
  }

  private open(): void {
    this.host.hidden = false;
    this.idle.hidden = true;
  }

  close(): void {
    this.asked++;
    this.at = null;
    this.host.hidden = true;
    this.idle.hidden = false;
  }

  private leave(): void {
    this.page.store.select({ face: null });
    document.getElementById("drawing")?.focus({ preventScroll: true });
  }

  private show(at: AtPoint): void {
    this.at = at;
    const told = this.page.store.drawn?.colours.map((colour) => colour.area_text) ?? [];
    const words = `${at.colour ?? "nothing"}, ${at.role ?? "outside"}, ${areaText(at.region_mm2, told)}`;
    const close = button("Close", () => this.leave(), { class: "button button-quiet" });
    fill(
      this.host,
      h("p", { class: "picked-words" }, at.hex ? chip(at.hex) : null, ` This region: ${words}`),
      close,
      this.recolours(at),
      this.roles(at),
    );
    this.open();
    this.page.say(`Picked: ${words}`);
  }

  private recolours(at: AtPoint): HTMLElement {
    const group = h("div", { class: "picked-line", role: "group", "aria-label": "Recolour it" });
    group.append(h("span", { class: "label", "aria-hidden": "true" }, "Make it"));
    for (const colour of this.page.store.drawn?.colours ?? []) {
      if (colour.name === at.colour || colour.regions === 0) continue;
      const press = button(
        "",
        () => this.do(`Region recoloured ${colour.name}`, "to", colour.name),
        {
          class: "button button-chip",
          "aria-label": colour.name,
          title: colour.name,
        },
      );
      press.append(chip(colour.hex, "chip chip-big"));
      group.append(press);
    }
    const erase = button("Erase", () => this.do("Region erased", "erase"), {
      class: "button button-danger",
      title: "What surrounds it takes its place",
    });
    group.append(erase);
    return group;
  }

  private roles(at: AtPoint): HTMLElement {
    const label = "What becomes of this region alone";
    const group = h("div", { class: "segments roles", role: "group", "aria-label": label });
    for (const [role, word] of ROLES) {
      group.append(
        button(word, () => this.do(`Region: ${role}`, "role", role), {
          class: "button segment",
          "aria-pressed": String(at.role === role),
        }),
      );
    }
    return group;
  }

  private do(label: string, what: "to" | "erase" | "role", value = ""): void {
    if (this.at === null) return;
    const point = this.at.upright_px;
    const change = (job: Job): Change =>
      what === "to"
        ? recolourChange(job, point, value)
        : what === "erase"
          ? eraseChange(job, point)
          : regionRoleChange(job, point, value as Role);
    this.leave();
    void this.page.edit.follow(label, (job) => [change(job)]);
  }
}
