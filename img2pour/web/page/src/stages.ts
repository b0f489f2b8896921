/** Step 4: the stages, one after the other, on the picture and as cards. */

import "./pours/stages.css";
import { h } from "./dom";
import type { Page } from "./page";
import { stageCards } from "./pours/cards";
import { keptBlock } from "./pours/kept";
import { whenPoured } from "./pours/plan";
import { pocketInfo } from "./pours/pocketinfo";
import { stageSlider, stageTools } from "./pours/stepper";
import { followStage } from "./pours/stageview";
import { orderBlock } from "./pours/why";

export function mount(host: HTMLElement, page: Page): void {
  whenPoured(page, host);
  followStage(page);
  pocketInfo(page);
  page.board.tools.append(stageTools(page));
  host.append(
    h(
      "div",
      { class: "block" },
      h("h3", { class: "block-title" }, "Stage by stage"),
      stageSlider(page),
      h("p", { class: "hint" }, "While a stage is shown, a press on a pocket tells what it takes."),
      stageCards(page),
      orderBlock(page),
      keptBlock(page),
    ),
  );
}
