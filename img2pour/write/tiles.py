"""How a drawing at true scale is cut into sheets of paper, and what each of them shows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from reportlab.lib.units import mm

from img2pour.plane.regionmap import FloatArray
from img2pour.write.outlines import Outline
from img2pour.write.pdf_parts import Paper
from img2pour.write.sheet import Sheet
from img2pour.write.values import Pin

MARGIN_MM = 12.0
"""Most printers leave less than this; common practice, no source."""

FOOT_MM = 8.0
OVERLAP_MM = 12.0
AROUND_MM = 3.0
"""Paper shown beyond the board and the pins."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Tile:
    """One sheet of the template: its row from the top, its column, and the area it shows."""

    row: int
    column: int
    box: Box


@dataclass(frozen=True)
class Tiling:
    """How the drawing is cut into sheets.

    Attributes
    ----------
    width, height : float
        Of the paper, points; turned where that takes fewer sheets.
    tiles : tuple of Tile
    rows, columns : int
    """

    width: float
    height: float
    tiles: tuple[Tile, ...]
    rows: int
    columns: int


def tile_over(area: Box, paper: Paper) -> Tiling:
    """Return the sheets that cover an area, mm, each overlapping the next by `OVERLAP_MM`."""
    upright = _tiling(area, paper.width, paper.height)
    across = _tiling(area, paper.height, paper.width)
    return across if len(across.tiles) < len(upright.tiles) else upright


def _tiling(area: Box, width: float, height: float) -> Tiling:
    wide = width / mm - 2 * MARGIN_MM
    tall = height / mm - 2 * MARGIN_MM - FOOT_MM
    columns = _count(area[2] - area[0], wide)
    rows = _count(area[3] - area[1], tall)
    left = area[0] - (wide + (columns - 1) * (wide - OVERLAP_MM) - (area[2] - area[0])) / 2
    top = area[3] + (tall + (rows - 1) * (tall - OVERLAP_MM) - (area[3] - area[1])) / 2
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x = left + column * (wide - OVERLAP_MM)
            y = top - row * (tall - OVERLAP_MM) - tall
            tiles.append(Tile(row, column, (x, y, x + wide, y + tall)))
    return Tiling(width, height, tuple(tiles), rows, columns)


def _count(length: float, sheet: float) -> int:
    return max(1, math.ceil((length - OVERLAP_MM) / (sheet - OVERLAP_MM) - 1e-9))


@dataclass(frozen=True, eq=False)
class Lines:
    """The outlines with what each may touch, (n, 4): arcs reach beyond their points."""

    outlines: tuple[Outline, ...]
    boxes: FloatArray

    @classmethod
    def of(cls, outlines: tuple[Outline, ...]) -> Lines:
        """Return outlines with their boxes."""
        boxes = np.empty((len(outlines), 4))
        for index, outline in enumerate(outlines):
            low, high = outline.vertices.min(axis=0), outline.vertices.max(axis=0)
            reach = float((high - low).max()) if outline.bulges.any() else 0.0
            boxes[index] = [*(low - reach), *(high + reach)]
        return cls(outlines, boxes)

    def within(self, box: Box) -> list[Outline]:
        """Return the outlines that may show in a box."""
        low, high = self.boxes[:, :2], self.boxes[:, 2:]
        apart = (high < box[:2]).any(axis=1) | (low > box[2:]).any(axis=1)
        return [self.outlines[index] for index in np.flatnonzero(~apart)]


def shown_tiles(sheet: Sheet, lines: Lines, tiling: Tiling) -> tuple[Tile, ...]:
    """Return the sheets on which there is anything: an outline, the board's edge, a pin."""
    return tuple(
        tile
        for tile in tiling.tiles
        if lines.within(tile.box)
        or not _inside_board(tile.box, sheet)
        or any(_in_box(pin, tile.box) for pin in sheet.pins)
    )


def _inside_board(box: Box, sheet: Sheet) -> bool:
    wide, tall = sheet.board.width_mm, sheet.board.height_mm
    return box[0] > 0 and box[1] > 0 and box[2] < wide and box[3] < tall


def _in_box(pin: Pin, box: Box) -> bool:
    return box[0] <= pin[0] <= box[2] and box[1] <= pin[1] <= box[3]


def area_of(sheet: Sheet) -> Box:
    """Return what the template shows: the board and the pins, with some paper around."""
    left = min([0.0, *(x - d / 2 for x, _, d in sheet.pins)]) - AROUND_MM
    low = min([0.0, *(y - d / 2 for _, y, d in sheet.pins)]) - AROUND_MM
    right = max([sheet.board.width_mm, *(x + d / 2 for x, _, d in sheet.pins)]) + AROUND_MM
    high = max([sheet.board.height_mm, *(y + d / 2 for _, y, d in sheet.pins)]) + AROUND_MM
    return left, low, right, high
