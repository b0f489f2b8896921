/** Places that need a look: numbered on the picture, listed beside it; each leads to the other. */

import type { Place } from "../api";
import { button, h, svg } from "../dom";
import type { Page } from "../page";
import { refill } from "../panel/keeping";
import { count, gap } from "../panel/figures";
import { KIND_WORDS, sign, signPicture } from "./signs";

const FIRST = 12;
/** Millimetres that are seen around a place that is gone to, at least. */
const AROUND_MM = 12;
/** Screen pixels between signs: so many that a finger still finds the picture between them. */
const APART_PX = 34;
const LAYER = "places";
const NONE: Place[] = [];

export function placesBlock(page: Page): HTMLElement {
  return new Places(page).element;
}

class Places {
  readonly element = h("div", { class: "places" });
  private readonly toggle: HTMLButtonElement;
  private places = NONE;
  private isShown = true;
  private listsAll = false;
  private chosen: number | null = null;
  private frame = 0;

  constructor(private readonly page: Page) {
    this.toggle = button("Places", () => this.show(!this.isShown), {
      class: "button button-bar",
      title: "Numbered places on the picture",
    });
    page.board.tools.append(this.toggle);
    page.board.onZoom(() => {
      window.cancelAnimationFrame(this.frame);
      this.frame = window.requestAnimationFrame(() => this.drawSigns());
    });
    page.store.watch(["parts", "selection"], ({ parts }) => {
      // A size that is taken back leaves old places, in millimetres of a board that is no more.
      const hasBoard = page.store.drawn?.board != null;
      const places = hasBoard ? (parts.check?.places ?? NONE) : NONE;
      if (places !== this.places) this.take(places);
      this.drawSigns();
    });
  }

  private take(places: Place[]): void {
    this.places = places;
    this.chosen = null;
    this.drawList();
  }

  private show(isShown: boolean): void {
    this.isShown = isShown;
    this.drawSigns();
    this.page.say(isShown ? "The numbered places are shown." : "The numbered places are hidden.");
  }

  private drawSigns(): void {
    const stage = this.page.store.now.selection.stage;
    const shown = this.isShown && stage === null ? this.places : [];
    this.toggle.hidden = this.places.length === 0;
    this.toggle.setAttribute("aria-pressed", String(this.isShown));
    const { board } = this.page;
    const signs = apart(shown, APART_PX * board.zoom.unit, this.chosen);
    const shapes = shown.filter(({ d }) => d).map(shapeOf);
    board.layer(LAYER).replaceChildren(...shapes, ...signs.map((place) => this.mark(place)));
    const more = shown.length - signs.length;
    board.setCaption(LAYER, more > 0 ? `${count(more, "more place")} when you come closer` : "");
  }

  private mark(place: Place): SVGGElement {
    const group = svg(
      "g",
      { class: "place", transform: `translate(${place.xy[0]} ${place.xy[1]})` },
      svg(
        "g",
        { class: "to-size" },
        sign(place.kind),
        svg("text", { x: 12, y: -9, class: "place-number" }, String(place.number)),
        svg("circle", { class: "place-target", r: 16 }),
      ),
    );
    group.classList.toggle("chosen", place.number === this.chosen);
    // The press stays here: the region under the sign is not picked as well.
    group.addEventListener("pointerdown", (event) => event.stopPropagation());
    group.addEventListener("click", () => this.fromPicture(place));
    return group;
  }

  private fromPicture(place: Place): void {
    this.listsAll ||= this.places.indexOf(place) >= FIRST;
    this.choose(place);
    document.getElementById(idOf(place))?.focus();
    document.getElementById(idOf(place))?.scrollIntoView({ block: "center" });
  }

  private choose(place: Place): void {
    this.chosen = place.number;
    this.drawList();
    this.drawSigns();
    this.page.say(`Place ${place.number}: ${place.words}, ${widthOf(place)} wide`);
  }

  private toPicture(place: Place): void {
    if (this.page.store.now.selection.stage !== null) this.page.store.select({ stage: null });
    this.isShown = true;
    this.choose(place);
    this.page.board.goTo(place.xy, AROUND_MM);
  }

  private drawList(): void {
    const { places } = this;
    if (places.length === 0) {
      refill(this.element);
      return;
    }
    const listed = this.listsAll ? places : places.slice(0, FIRST);
    const rest = places.length - listed.length;
    refill(
      this.element,
      h("h4", {}, `${count(places.length, "place")} to look at`),
      key(places),
      h("ol", { class: "place-list" }, ...listed.map((place) => this.row(place))),
      rest > 0 ? button(`Show ${rest} more`, () => this.listAll(), { id: "places-more" }) : null,
    );
  }

  private listAll(): void {
    this.listsAll = true;
    this.drawList();
    const next = this.places[FIRST];
    if (next) document.getElementById(idOf(next))?.focus();
  }

  private row(place: Place): HTMLElement {
    const isChosen = place.number === this.chosen;
    const go = h(
      "button",
      {
        type: "button",
        id: idOf(place),
        class: "place-row",
        "aria-current": isChosen ? "true" : null,
        on: { click: () => this.toPicture(place) },
      },
      h("b", { class: "place-no" }, String(place.number)),
      signPicture(place.kind),
      h("span", {}, place.colour ? `${place.colour}: ${place.words}` : place.words),
      h("span", { class: "place-width" }, widthOf(place)),
    );
    return h("li", {}, go);
  }
}

const shapeOf = ({ d }: Place): SVGElement => svg("path", { class: "place-shape", d: d ?? "" });

/** The places whose signs stand far enough from those before them; the chosen one is first. */
function apart(places: Place[], gap: number, chosen: number | null): Place[] {
  const first = places.filter(({ number }) => number === chosen);
  const kept: Place[] = [];
  for (const place of [...first, ...places]) {
    const isFree = kept.every(
      ({ xy }) => Math.hypot(xy[0] - place.xy[0], xy[1] - place.xy[1]) >= gap,
    );
    if (isFree) kept.push(place);
  }
  return kept.sort((a, b) => a.number - b.number);
}

/** As a calliper shows it: such widths are below a mark of an inch rule. */
const widthOf = (place: Place): string =>
  place.width_mm === undefined ? place.width_text : gap(place.width_mm);

const idOf = (place: Place): string => `place-${place.number}`;

/** The key: what each form of sign means, of those that are there. */
function key(places: Place[]): HTMLElement {
  const kinds = [...new Set(places.map((place) => place.kind))];
  return h(
    "ul",
    { class: "place-key", "aria-label": "What the signs mean" },
    ...kinds.map((kind) => h("li", {}, signPicture(kind), KIND_WORDS[kind] ?? kind)),
  );
}
