/** Step 4: what the whole plan comes to. */

import type { Page } from "./page";
import { troubleNote } from "./panel/trouble";
import { summaryBlock } from "./pours/summary";

export function mount(host: HTMLElement, page: Page): void {
  host.append(troubleNote(page), summaryBlock(page));
}
