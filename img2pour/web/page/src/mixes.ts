/** Step 4: seals, resins, mixes, days, cautions. */

import "./pours/mixes.css";
import { h } from "./dom";
import type { Page } from "./page";
import { cautionBlock } from "./pours/cautions";
import { mixBlock } from "./pours/mixcards";
import { whenPoured } from "./pours/plan";
import { productBlock } from "./pours/products";
import { resinBlock } from "./pours/resins";
import { scheduleBlock } from "./pours/schedule";
import { sealBlock } from "./pours/seals";

export function mount(host: HTMLElement, page: Page): void {
  whenPoured(page, host);
  host.append(
    part("Against bleed: the seal", sealBlock(page)),
    part("Resins", resinBlock(page)),
    part("What to mix", mixBlock(page), productBlock(page)),
    part("The days", scheduleBlock(page)),
    part("Cautions", cautionBlock(page)),
  );
}

const part = (title: string, ...blocks: HTMLElement[]): HTMLElement =>
  h("div", { class: "block" }, h("h3", { class: "block-title" }, title), ...blocks);
