import "./tokens.css";
import "./base.css";
import "./frame.css";
import { api } from "./api";
import { BoardView } from "./board";
import * as boardbits from "./boardbits";
import * as colours from "./colours";
import { h } from "./dom";
import { Edit } from "./edit";
import { build, type Step } from "./frame";
import * as jobs from "./jobs";
import { pageKeys } from "./keys";
import * as mixes from "./mixes";
import type { Page } from "./page";
import * as picture from "./picture";
import * as pours from "./pours";
import * as solid from "./solid";
import * as stages from "./stages";
import { Store } from "./store";
import { Sync } from "./sync";
import * as takeaway from "./takeaway";
import * as tryouts from "./tryouts";

const STEPS: Step[] = [
  {
    number: 1,
    title: "Picture",
    words: "Straighten it, cut it to what you want, say how large it is.",
    mounts: [picture.mount],
  },
  {
    number: 2,
    title: "Colours",
    words: "Few flat colours. Each is poured, left as wood, or not part of the piece.",
    mounts: [colours.mount],
  },
  {
    number: 3,
    title: "Board and bits",
    words: "The wood, the cutters, and what they cannot reach.",
    mounts: [boardbits.mount],
  },
  {
    number: 4,
    title: "Pours",
    words: "What is carved and poured when, how much of it, and how long it takes.",
    mounts: [pours.mount, stages.mount, mixes.mount, tryouts.mount],
  },
  {
    number: 5,
    title: "In the round",
    words: "The board as it will lie in your hands.",
    mounts: [solid.mount],
  },
  {
    number: 6,
    title: "Take away",
    words: "Everything for the machine and for the wall of the shop.",
    mounts: [takeaway.mount],
  },
];

const live = h("div", { class: "unseen", role: "status", "aria-live": "polite" });
let clearing: number | undefined;

function say(text: string): void {
  window.clearTimeout(clearing);
  // The same words twice are told twice only when the region was empty in between.
  live.textContent = "";
  clearing = window.setTimeout(() => {
    live.textContent = text;
  }, 60);
}

const store = new Store();
const page: Page = {
  store,
  board: new BoardView(store, api, say),
  edit: new Edit(store, api, say),
  api,
  sync: new Sync(store, api, say),
  say,
};

document.body.append(live);
build(document.querySelector<HTMLElement>("#page") ?? document.body, page, jobs.mount, STEPS);
pageKeys(page);
void page.sync.start();
