/** Step 5: the board in three dimensions, loaded when it is asked for. */

import "./solid/solid.css";
import { Solid } from "./solid/solid";
import type { Page } from "./page";

export function mount(host: HTMLElement, page: Page): void {
  host.append(new Solid(page).element);
}
