/** The straightened picture; while a corner is dragged, what the browser makes of it at once. */

import type { Point } from "./api";
import { h, style } from "./dom";
import { straightening } from "./homography";
import type { Page } from "./page";

export class Result {
  readonly element: HTMLElement;
  private readonly image = h("img", { class: "pane-image", alt: "The picture straightened" });
  private readonly warp = h("img", { class: "warp-image", alt: "" });
  private readonly warpBox = h("div", { class: "warp", hidden: true }, this.warp);
  private readonly pane = h("div", { class: "pane pane-result" }, this.image, this.warpBox);
  private shown = "";

  constructor(
    private readonly page: Page,
    private readonly source: HTMLImageElement,
  ) {
    const name = h("figcaption", { class: "pane-name" }, "As it is taken");
    this.element = h("figure", { class: "pane-frame" }, this.pane, name);
    page.store.watch(["open"], () => {
      this.shown = "";
      this.image.removeAttribute("src");
      this.warpBox.hidden = true;
    });
    page.store.watch(["state", "partRevision"], () => void this.load());
  }

  /** The pane keeps the proportions of the picture as it came, so that nothing jumps. */
  setRatio(width: number, height: number): void {
    style(this.pane, {
      "aspect-ratio": `${width} / ${height}`,
      "--ratio": (width / height).toFixed(4),
    });
  }

  /** Lay what is inside four corners over the pane, in the browser alone. */
  showWarped(corners: Point[], width: number, height: number): void {
    const [a, b, c, d] = corners;
    if (!a || !b || !c || !d) return;
    const across = (length(a, b) + length(d, c)) / 2;
    const down = (length(a, d) + length(b, c)) / 2;
    const scale = Math.min(this.pane.clientWidth / across, this.pane.clientHeight / down);
    const [w, t] = [across * scale, down * scale];
    const shown = (point: Point): Point => [point[0] * scale, point[1] * scale];
    if (this.warp.src !== this.source.src) this.warp.src = this.source.src;
    style(this.warp, {
      width: `${width * scale}px`,
      height: `${height * scale}px`,
      transform: straightening([shown(a), shown(b), shown(c), shown(d)], w, t),
    });
    style(this.warpBox, { width: `${w}px`, height: `${t}px` });
    this.image.classList.add("is-covered");
    this.warpBox.hidden = false;
  }

  /** Show the server's picture of this revision, when one of its settings has changed. */
  private async load(): Promise<void> {
    const { state, partRevision } = this.page.store.now;
    if (state === null || partRevision.source !== state.revision) return;
    const { photo, touch, artwork } = state.job;
    const wanted = JSON.stringify([state.id, photo, touch, artwork]);
    if (wanted === this.shown) return;
    this.shown = wanted;
    const next = new Image();
    next.src = this.page.api.url.artwork(state.id, state.revision);
    try {
      await next.decode();
    } catch {
      this.shown = "";
      return;
    }
    if (this.shown !== wanted) return;
    this.image.src = next.src;
    this.image.classList.remove("is-covered");
    this.warpBox.hidden = true;
  }
}

const length = (a: Point, b: Point): number => Math.hypot(a[0] - b[0], a[1] - b[1]);
