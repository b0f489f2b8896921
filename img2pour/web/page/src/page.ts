/** What each section of the page is given. */

import type { Api } from "./api";
import type { BoardView } from "./board";
import type { Edit } from "./edit";
import type { Store } from "./store";
import type { Sync } from "./sync";

export interface Page {
  store: Store;
  board: BoardView;
  edit: Edit;
  api: Api;
  /** Opens jobs and lists them; follows the server. */
  sync: Sync;
  /** Tell something in the live region, for those who do not see it. */
  say(text: string): void;
}

export type Mount = (host: HTMLElement, page: Page) => void;
