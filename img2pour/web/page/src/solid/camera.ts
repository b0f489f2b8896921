// Where the viewer stands about the board: turned by hand, by keys or by buttons.

export interface Stand {
  /** Degrees about the upright axis; 0 looks from the board's lower edge. */
  turn_deg: number;
  /** Degrees above the board's face; 90 looks straight down. */
  height_deg: number;
  /** Distance, in lengths at which the whole board is just seen. */
  distance: number;
}

export type Move = "left" | "right" | "up" | "down" | "nearer" | "farther" | "above" | "corner";

const STEP_DEG = 10;
const NEARER = 0.85;
const LOWEST_DEG = 4;
const HIGHEST_DEG = 90;
const NEAREST = 0.2;
const FARTHEST = 2.5;
const DEG_PER_PX = 0.4;

export const FROM_CORNER: Stand = { turn_deg: -24, height_deg: 46, distance: 1 };
export const FROM_ABOVE: Stand = { turn_deg: 0, height_deg: HIGHEST_DEG, distance: 1 };

/** Return the stand after one step. */
export function moved(stand: Stand, move: Move): Stand {
  switch (move) {
    case "left":
      return turned(stand, -STEP_DEG, 0);
    case "right":
      return turned(stand, STEP_DEG, 0);
    case "up":
      return turned(stand, 0, STEP_DEG);
    case "down":
      return turned(stand, 0, -STEP_DEG);
    case "nearer":
      return stepped(stand, NEARER);
    case "farther":
      return stepped(stand, 1 / NEARER);
    case "above":
      return FROM_ABOVE;
    case "corner":
      return FROM_CORNER;
  }
}

/** Return the stand after a drag over the picture: the board follows the hand. */
export function dragged(stand: Stand, dx_px: number, dy_px: number): Stand {
  return turned(stand, -dx_px * DEG_PER_PX, dy_px * DEG_PER_PX);
}

/** Return the stand at a distance that is `factor` times as great. */
export function stepped(stand: Stand, factor: number): Stand {
  return { ...stand, distance: clamp(stand.distance * factor, NEAREST, FARTHEST) };
}

/** Say where the viewer stands, for the label of the picture. */
export function standWords(stand: Stand): string {
  const turn = ((Math.round(stand.turn_deg) % 360) + 360) % 360;
  const sides = ["the lower edge", "the right edge", "the upper edge", "the left edge"];
  if (stand.height_deg >= 85) return "seen from above";
  const side = sides[Math.round(turn / 90) % 4] ?? "the lower edge";
  return `seen from ${side}, ${Math.round(stand.height_deg)} degrees above the face`;
}

function turned(stand: Stand, turn_deg: number, height_deg: number): Stand {
  const height = clamp(stand.height_deg + height_deg, LOWEST_DEG, HIGHEST_DEG);
  return { ...stand, turn_deg: stand.turn_deg + turn_deg, height_deg: height };
}

function clamp(value: number, least: number, most: number): number {
  return Math.min(most, Math.max(least, value));
}
