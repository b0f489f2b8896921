"""Tells a line drawing: lines on paper that close, and hardly anything else."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.picture import Picture
from img2pour.sketch.cells import find_cells
from img2pour.sketch.colouring import oklab
from img2pour.sketch.gaps import bridge_reach, bridged, look_back
from img2pour.sketch.hatching import without_hatching
from img2pour.sketch.ink import find_ink
from img2pour.sketch.step import LineDrawing
from img2pour.sketch.thinning import thinned

# Share of the picture that may differ from paper without being a line.
_MOST_FILLED = 0.02
_MOST_INK = 0.25
# What the lines must enclose, as a share of the picture.
_LEAST_ENCLOSED = 0.05
_LEAST_CELLS = 3
# Share of the drawn lines that must part two cells: of lettering, whose bowls are closed but whose
# strokes end freely, 0.79 to 0.91 do inside a frame; of drawings nearly all.
_LEAST_BOUNDING = 0.95
_PAPER_LEVEL = 205
# A pixel is of its cell's colour within this distance (OKLab x 100). Others that are broader than
# so many line widths are an area of another colour; how much of that a drawing may have.
_PLAIN = 12.0
_WIDER_THAN_LINES = 2.5
_MOST_FOREIGN = 0.03
_ENOUGH_PX = 200_000
# At a glance: longer side of a small view, and what is wider than any drawn line there.
_GLANCE_PX = 400
_GLANCE_LINE_PX = 9


def is_line_drawing(picture: Picture) -> bool:
    """Return whether the evenly lit picture is drawn in lines alone, with cells between them."""
    if _plainly_filled(picture.rgb):
        return False
    ink = find_ink(picture.rgb, full_size=False)
    if ink is None or ink.mask.mean() > _MOST_INK:
        return False
    size = (ink.mask.shape[1], ink.mask.shape[0])
    small = cv2.resize(picture.rgb, size, interpolation=cv2.INTER_AREA)
    reach = 2 * int(np.ceil(ink.width_px / ink.scale)) + 3
    near_ink = cv2.dilate(ink.mask.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    filled = (small.min(axis=2) < _PAPER_LEVEL) & ~near_ink
    if filled.mean() > _MOST_FILLED:
        return False
    width = ink.width_px / ink.scale
    lines = without_hatching(thinned(ink.mask), width)
    closed, _ = bridged(lines, bridge_reach(2 * width, width), look_back(width))
    cells = find_cells(closed, ink.mask.astype(np.float32), width)
    if _bounding_share(cells.label, lines) < _LEAST_BOUNDING:
        return False
    areas = np.bincount(cells.label.ravel(), minlength=cells.count + 1)
    rim = np.concatenate([cells.label[0], cells.label[-1], cells.label[:, 0], cells.label[:, -1]])
    areas[np.unique(rim)] = 0
    return bool(
        (areas[1:] > 0).sum() >= _LEAST_CELLS - 1
        and areas[1:].sum() > _LEAST_ENCLOSED * cells.label.size
    )


def cells_are_plain(picture: Picture, drawing: LineDrawing) -> bool:
    """Return whether the cells are of one colour each, but for lines, hatching and smudges.

    Where they are not, the picture is made of areas of colour, and lines do not bound them.
    """
    step = max(1, int(np.sqrt(drawing.cell_of.size / _ENOUGH_PX)))
    cells = drawing.cell_of[::step, ::step]
    rgb = cv2.GaussianBlur(picture.rgb, (0, 0), 1.0)[::step, ::step]
    own = oklab(np.asarray(rgb.reshape(-1, 3), np.float64))
    away = np.linalg.norm(own - oklab(drawing.typical)[cells.ravel()], axis=1) > _PLAIN
    reach = int(np.ceil(_WIDER_THAN_LINES * drawing.line_width_px / step)) | 1
    kernel = np.ones((max(3, reach),) * 2, np.uint8)
    broad = cv2.erode(away.reshape(cells.shape).astype(np.uint8), kernel)
    return bool(cv2.dilate(broad, kernel).mean() <= _MOST_FOREIGN)


def _bounding_share(label: NDArray[np.int32], lines: NDArray[np.uint8]) -> float:
    """Return the share of line pixels that have two cells beside them.

    Lines of a drawing part cells; strokes of lettering end within one, and would be lost as cells.
    """
    window = np.ones((3, 3), np.uint8)
    seen = label.astype(np.float32)
    highest = cv2.dilate(seen, window)
    lowest = cv2.erode(np.where(seen == 0, np.float32(np.inf), seen), window)
    parts = np.isfinite(lowest) & (lowest != highest) & (lines > 0)
    return float(parts.sum() / max(int((lines > 0).sum()), 1))


def _plainly_filled(rgb: NDArray[np.uint8]) -> bool:
    """Return whether a small view already shows areas that no line is wide enough to be.

    Most flat art ends here, in a hundredth of the time.
    """
    height, width = rgb.shape[:2]
    scale = _GLANCE_PX / max(height, width)
    if scale >= 1:
        return False
    size = max(1, round(width * scale)), max(1, round(height * scale))
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    filled = (small.min(axis=2) < _PAPER_LEVEL).astype(np.uint8)
    solid = cv2.erode(filled, np.ones((_GLANCE_LINE_PX, _GLANCE_LINE_PX), np.uint8))
    return bool(solid.mean() > _MOST_FILLED)
