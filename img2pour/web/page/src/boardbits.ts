/** Step 3: the board, the wood, the bits, and what the bits cannot reach. */

import "./panel/panel.css";
import "./boardbits/boardbits.css";
import { adviceBlock } from "./boardbits/advice";
import { bitFields } from "./boardbits/bits";
import { bitWorkBlock } from "./boardbits/bitwork";
import { perColour } from "./boardbits/percolour";
import { placesBlock } from "./boardbits/places";
import { sizeFields } from "./boardbits/size";
import { smallFields } from "./boardbits/small";
import { verdictBlock } from "./boardbits/verdict";
import { woodFields } from "./boardbits/wood";
import { h } from "./dom";
import type { Page } from "./page";
import { troubleNote } from "./panel/trouble";

export function mount(host: HTMLElement, page: Page): void {
  host.append(
    part("The board", sizeFields(page), woodFields(page)),
    part("The bits", bitFields(page), perColour(page), smallFields(page)),
    part(
      "Can it be carved?",
      troubleNote(page),
      verdictBlock(page),
      placesBlock(page),
      adviceBlock(page),
      bitWorkBlock(page),
    ),
  );
}

const part = (title: string, ...blocks: HTMLElement[]): HTMLElement =>
  h("div", { class: "block" }, h("h3", { class: "block-title" }, title), ...blocks);
