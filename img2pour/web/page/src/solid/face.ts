// The face of the finished board as a picture: what each stage leaves to be seen.

export interface Look {
  hex: string;
  /** Outline as an SVG path in mm on the board, y down. */
  d: string;
}

const MOST_PX = 4096;
const PX_PER_MM = 16;

/** Draw the resins of the finished board on a clear ground, the board's upper left corner first. */
export function facePicture(
  looks: readonly Look[],
  width_mm: number,
  height_mm: number,
): HTMLCanvasElement {
  const scale = Math.min(PX_PER_MM, MOST_PX / Math.max(width_mm, height_mm));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(width_mm * scale));
  canvas.height = Math.max(1, Math.round(height_mm * scale));
  const pen = canvas.getContext("2d");
  if (pen === null) throw new Error("the browser cannot draw the finished face");
  pen.scale(canvas.width / width_mm, canvas.height / height_mm);
  for (const look of looks) {
    const outline = new Path2D(look.d);
    pen.fillStyle = look.hex;
    pen.fill(outline, "evenodd");
    // A seam of a hair's width would show between neighbours that are drawn apart.
    pen.strokeStyle = look.hex;
    pen.lineWidth = 1 / scale;
    pen.stroke(outline);
  }
  return canvas;
}
