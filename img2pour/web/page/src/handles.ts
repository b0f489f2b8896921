/** Handles over the upright picture: moved by mouse, finger and keys, sent when let go. */

import type { Point } from "./api";
import { h, style, svg } from "./dom";

export interface Grip {
  /** Names of the handles, for those who do not see them. */
  names: string[];
  at: Point[];
  closed: boolean;
  /** Where all handles lie when one of them is moved to a point. */
  moved(index: number, to: Point, at: Point[]): Point[];
  /** Seen while it moves. */
  moving?(at: Point[]): void;
  /** Let go; the answer comes when it was taken or refused. */
  done(at: Point[]): Promise<unknown>;
}

const ARROWS: Record<string, Point> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};
const KEYS_REST_MS = 700;
const LOUPE = 3;

export class Handles {
  readonly element: HTMLElement;
  private readonly shade = svg("path", { class: "pane-shade", "fill-rule": "evenodd" });
  private readonly outline = svg("path", { class: "pane-outline" });
  private readonly outlineUnder = svg("path", { class: "pane-outline pane-outline-under" });
  private readonly drawing: SVGSVGElement;
  private readonly loupe = h("div", { class: "loupe", "aria-hidden": "true", hidden: true });
  private buttons: HTMLButtonElement[] = [];
  private grip: Grip | null = null;
  private at: Point[] = [];
  private width = 1;
  private height = 1;
  private resting: number | undefined;
  private held = false;
  private sending = 0;

  constructor(
    private readonly image: HTMLImageElement,
    private readonly sent: () => void,
  ) {
    this.drawing = svg(
      "svg",
      { class: "pane-drawing", "aria-hidden": "true", preserveAspectRatio: "none" },
      this.shade,
      this.outlineUnder,
      this.outline,
    );
    this.element = h("div", { class: "pane" }, image, this.drawing, this.loupe);
  }

  /** Say how many pixels the picture has; handles are placed in them. */
  setSize(width: number, height: number): void {
    [this.width, this.height] = [width, height];
    this.drawing.setAttribute("viewBox", `0 0 ${width} ${height}`);
    style(this.element, {
      "aspect-ratio": `${width} / ${height}`,
      "--ratio": (width / height).toFixed(4),
    });
    this.draw();
  }

  /** Show the handles of a tool, or none. What is held or on its way is not taken away. */
  show(grip: Grip | null): void {
    if (this.held || this.resting !== undefined || this.sending > 0) return;
    const names = grip?.names ?? [];
    const same = names.join() === (this.grip?.names ?? []).join();
    this.grip = grip;
    this.at = grip?.at ?? [];
    if (!same) {
      for (const handle of this.buttons) handle.remove();
      this.buttons = names.map((name, index) => this.handle(name, index));
      this.element.append(...this.buttons);
    }
    this.draw();
  }

  private handle(name: string, index: number): HTMLButtonElement {
    const button = h("button", { type: "button", class: "handle", "data-name": name });
    button.addEventListener("pointerdown", (event) => this.drag(button, index, event));
    button.addEventListener("keydown", (event) => this.key(index, event));
    button.addEventListener("blur", () => this.settle());
    return button;
  }

  private drag(button: HTMLButtonElement, index: number, event: PointerEvent): void {
    if (event.button !== 0) return;
    button.setPointerCapture(event.pointerId);
    button.focus({ preventScroll: true });
    event.preventDefault();
    this.held = true;
    const start = this.at[index] ?? [0, 0];
    const from = this.toPicture(event);
    const move = (now: PointerEvent): void => {
      const to = this.toPicture(now);
      this.move(index, [start[0] + to[0] - from[0], start[1] + to[1] - from[1]]);
      this.showLoupe(index);
    };
    const end = (): void => {
      button.removeEventListener("pointermove", move);
      this.held = false;
      this.loupe.hidden = true;
      const now = this.at[index] ?? start;
      if (now[0] !== start[0] || now[1] !== start[1]) void this.send();
    };
    button.addEventListener("pointermove", move);
    button.addEventListener("lostpointercapture", end, { once: true });
    this.showLoupe(index);
  }

  private key(index: number, event: KeyboardEvent): void {
    const arrow = ARROWS[event.key];
    if (event.key === "Enter") this.settle();
    if (arrow === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const shown = this.width / Math.max(1, this.element.clientWidth);
    const step = Math.max(1, Math.round(shown)) * (event.shiftKey ? 10 : 1);
    const [x, y] = this.at[index] ?? [0, 0];
    this.move(index, [x + arrow[0] * step, y + arrow[1] * step]);
    window.clearTimeout(this.resting);
    this.resting = window.setTimeout(() => this.settle(), KEYS_REST_MS);
  }

  /** Send what keys have moved, once they rest. */
  private settle(): void {
    if (this.resting === undefined) return;
    window.clearTimeout(this.resting);
    this.resting = undefined;
    void this.send();
  }

  private async send(): Promise<void> {
    this.sending++;
    await this.grip?.done(this.at);
    this.sending--;
    this.sent();
  }

  private move(index: number, [x, y]: Point): void {
    if (this.grip === null) return;
    const to: Point = [
      Math.min(this.width, Math.max(0, Math.round(x * 10) / 10)),
      Math.min(this.height, Math.max(0, Math.round(y * 10) / 10)),
    ];
    this.at = this.grip.moved(index, to, this.at);
    this.draw();
    this.grip.moving?.(this.at);
  }

  private draw(): void {
    const line = this.at.map(([x, y], i) => `${i === 0 ? "M" : "L"}${x} ${y}`).join("");
    const closed = this.grip?.closed === true && this.at.length > 2;
    const whole = `M0 0H${this.width}V${this.height}H0Z`;
    this.outline.setAttribute("d", closed ? `${line}Z` : line);
    this.outlineUnder.setAttribute("d", closed ? `${line}Z` : line);
    this.shade.setAttribute("d", closed ? `${whole}${line}Z` : "");
    this.buttons.forEach((button, i) => {
      const [x, y] = this.at[i] ?? [0, 0];
      style(button, {
        left: `${(x / this.width) * 100}%`,
        top: `${(y / this.height) * 100}%`,
      });
      const name = button.dataset.name ?? "";
      button.setAttribute(
        "aria-label",
        `${name}, ${Math.round(x)} across, ${Math.round(y)} down. Arrow keys move it.`,
      );
    });
  }

  /** A magnified detail, so that the finger does not hide the corner. */
  private showLoupe(index: number): void {
    const [x, y] = this.at[index] ?? [0, 0];
    const [width, height] = [this.element.clientWidth, this.element.clientHeight];
    this.loupe.hidden = false;
    this.loupe.classList.toggle("loupe-right", x < this.width / 2);
    const radius = this.loupe.clientWidth / 2;
    style(this.loupe, {
      "background-image": `url("${this.image.currentSrc}")`,
      "background-size": `${width * LOUPE}px ${height * LOUPE}px`,
      "background-position":
        `${radius - (x / this.width) * width * LOUPE}px ` +
        `${radius - (y / this.height) * height * LOUPE}px`,
    });
  }

  private toPicture(event: PointerEvent): Point {
    const box = this.element.getBoundingClientRect();
    return [
      ((event.clientX - box.left) / box.width) * this.width,
      ((event.clientY - box.top) / box.height) * this.height,
    ];
  }
}
