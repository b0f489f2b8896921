/** The picture that is always in sight: the design, what is drawn over it, and what is picked. */

import type { Api, DesignPart, Face, Point } from "./api";
import { h, style, svg } from "./dom";
import { point } from "./pointing";
import type { Store } from "./store";
import { type Box, Zoom } from "./zoom";

export interface Pick {
  /** In drawing units: board millimetres with y down, or pixels while no size is known. */
  xy: Point;
  face: Face | null;
}
type PickListener = (pick: Pick) => void;

export class BoardView {
  readonly element: HTMLElement;
  /** Under the picture: what was picked; sections add their lines to it. */
  readonly tray = h("div", { class: "tray" });
  /** Buttons beside those for the zoom. */
  readonly tools = h("div", { class: "board-tools", role: "group", "aria-label": "View" });
  readonly zoom: Zoom;
  private readonly drawing: SVGSVGElement;
  private readonly faces = svg("g", { class: "faces" });
  private readonly artwork = svg("g");
  private readonly base = svg("g", { class: "base" });
  private readonly over = svg("g", { class: "over" });
  private readonly mark = svg("g", { class: "mark" });
  private readonly cross = svg("g", { class: "cross", visibility: "hidden" });
  private readonly caption = h("figcaption", { class: "board-caption" });
  private readonly layers = new Map<string, SVGGElement>();
  private listeners: PickListener[] = [];
  private claims: PickListener[] = [];
  private zoomListeners: (() => void)[] = [];
  private drawn: DesignPart | null = null;
  private captions = new Map<string, string>();

  constructor(
    private readonly store: Store,
    private readonly api: Api,
    private readonly say: (text: string) => void,
  ) {
    this.drawing = svg(
      "svg",
      {
        class: "drawing",
        id: "drawing",
        tabindex: 0,
        role: "application",
        "aria-label":
          "The board from above. Arrow keys move a crosshair, Enter picks the region under it, " +
          "plus and minus zoom, 0 shows the whole board.",
      },
      this.artwork,
      this.base,
      this.faces,
      this.over,
      this.mark,
      this.cross,
    );
    this.zoom = new Zoom(this.drawing, () => this.zoomed());
    this.element = h("figure", { class: "board" }, this.drawing, this.caption);
    point(this.drawing, this.zoom, {
      pick: (xy) => this.pick(xy),
      cross: (at) => this.moveCross(at),
    });
    store.watch(["parts", "state"], () => this.draw());
    store.watch(["selection"], () => this.drawSelection());
    store.watch(["state", "partRevision"], () => void this.drawArtwork());
  }

  /** A group over the design, made when it is first asked for; its owner fills and clears it. */
  layer(name: string): SVGGElement {
    let group = this.layers.get(name);
    if (group === undefined) {
      group = svg("g", { class: `layer layer-${name}` });
      this.layers.set(name, group);
      this.over.append(group);
    }
    return group;
  }

  /** Draw something in the place of the design, such as a stage; null is the design again. */
  setBase(nodes: SVGElement[] | null): void {
    this.base.replaceChildren(...(nodes ?? []));
    this.faces.setAttribute("visibility", nodes === null ? "visible" : "hidden");
  }

  /** A line of words under the picture; an empty text takes it away. */
  setCaption(owner: string, text: string): void {
    if (text) this.captions.set(owner, text);
    else this.captions.delete(owner);
    this.caption.textContent = [...this.captions.values()].join(" · ");
  }

  /** Be told of every pick. Returns the function that ends it. */
  onPick(listener: PickListener): () => void {
    this.listeners.push(listener);
    return () => {
      this.listeners = this.listeners.filter((other) => other !== listener);
    };
  }

  /** Be told whenever another part of the drawing is seen, or it is seen at another size. */
  onZoom(listener: () => void): void {
    this.zoomListeners.push(listener);
  }

  /** Take the next picks alone, until they are let go by the returned function. */
  claimPicks(listener: PickListener): () => void {
    this.claims.push(listener);
    return () => {
      this.claims = this.claims.filter((other) => other !== listener);
    };
  }

  /** Bring a place into the middle and ring it. */
  goTo(xy: Point, around = this.zoom.box[2] / 8): void {
    this.zoom.goTo(xy, around);
    const ring = svg("circle", { class: "ring", cx: xy[0], cy: xy[1], r: 16 * this.zoom.unit });
    this.mark.replaceChildren(ring);
    window.setTimeout(() => ring.remove(), 2400);
  }

  /** The face of the design at a point, or null. */
  faceAt([x, y]: Point): Face | null {
    const place = new DOMPoint(x, y);
    const hit = [...this.faces.children].find(
      (path) => path instanceof SVGPathElement && path.isPointInFill(place),
    );
    const id = hit instanceof SVGElement ? Number(hit.dataset.face) : NaN;
    return this.drawn?.faces.find((face) => face.id === id) ?? null;
  }

  private draw(): void {
    const drawn = this.store.drawn;
    if (drawn === this.drawn) return;
    this.drawn = drawn;
    this.artwork.replaceChildren();
    const hex = new Map(drawn?.colours.map((colour) => [colour.index, colour] as const) ?? []);
    this.faces.replaceChildren(
      ...(drawn?.faces ?? []).map((face) => {
        const colour = hex.get(face.colour);
        const path = svg("path", {
          d: face.d,
          "fill-rule": "evenodd",
          "data-face": face.id,
          class: `face face-${colour?.role ?? "pour"}`,
        });
        style(path, { "--face": colour?.hex ?? "transparent" });
        return path;
      }),
    );
    if (drawn !== null) this.zoom.setWhole(drawn.viewbox as Box);
    this.drawSelection();
  }

  /** Until the first design is there, the straightened picture is shown. */
  private async drawArtwork(): Promise<void> {
    const { state, partRevision, open, brought } = this.store.now;
    if (state === null || this.drawn !== null) return;
    const isRead = partRevision.source === state.revision;
    if (!isRead && brought === null) return;
    const image = new Image();
    image.src = isRead ? this.api.url.artwork(state.id, state.revision) : (brought ?? "");
    try {
      await image.decode();
    } catch {
      return;
    }
    if (this.store.now.open !== open || this.drawn !== null) return;
    if (!isRead && this.store.now.partRevision.source !== undefined) return;
    const { naturalWidth: width, naturalHeight: height } = image;
    this.artwork.replaceChildren(svg("image", { href: image.src, width, height }));
    this.zoom.setWhole([0, 0, width, height]);
  }

  private drawSelection(): void {
    const { face, colour } = this.store.now.selection;
    // Paths stand in the order of the faces.
    this.drawn?.faces.forEach((own, index) => {
      const chosen = face !== null ? own.id === face : colour !== null && own.colour === colour;
      this.faces.children[index]?.classList.toggle("chosen", chosen);
    });
    this.faces.classList.toggle("choosing", face !== null || colour !== null);
  }

  private zoomed(): void {
    const near = this.zoom.factor > 1.001;
    this.drawing.classList.toggle("near", near);
    style(this.drawing, { "--unit": String(this.zoom.unit) });
    this.sizeCross();
    for (const tell of this.zoomListeners) tell();
  }

  private pick(xy: Point): void {
    const pick = { xy, face: this.faceAt(xy) };
    const claim = this.claims.at(-1);
    for (const tell of claim === undefined ? this.listeners : [claim]) tell(pick);
  }

  private moveCross(at: Point | null): void {
    this.cross.setAttribute("visibility", at === null ? "hidden" : "visible");
    if (at === null) return;
    this.cross.dataset.x = String(at[0]);
    this.cross.dataset.y = String(at[1]);
    this.sizeCross();
    const face = this.faceAt(at);
    const colour = this.drawn?.colours.find((other) => other.index === face?.colour);
    this.say(colour === undefined ? "nothing" : `${colour.name}, ${colour.role}`);
  }

  private sizeCross(): void {
    const [x, y] = [Number(this.cross.dataset.x ?? 0), Number(this.cross.dataset.y ?? 0)];
    const arm = 18 * this.zoom.unit;
    const gap = 4 * this.zoom.unit;
    const d =
      `M${x - arm} ${y}H${x - gap}M${x + gap} ${y}H${x + arm}` +
      `M${x} ${y - arm}V${y - gap}M${x} ${y + gap}V${y + arm}`;
    this.cross.replaceChildren(svg("path", { d, class: "cross-under" }), svg("path", { d }));
  }
}
