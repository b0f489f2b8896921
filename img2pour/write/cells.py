"""The cells of a line drawing, each with its number: what a job file's colours speak of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import rgb_from_hex
from img2pour.write.lettering import Words, letter, width_of
from img2pour.write.pictures import png_bytes

if TYPE_CHECKING:
    from img2pour.sketch import LineDrawing

LONGEST_SIDE_PX = 2000
LEAST_SIDE_PX = 1000
"""Small drawings are enlarged, so that numbers have room."""

FADE = 0.55
EDGE_RGB = (60, 60, 60)
NUMBER_PX, LEAST_NUMBER_PX = 34, 13


def cells_png(drawing: LineDrawing) -> bytes:
    """Return a PNG of the cells in pale colours, their borders, and a number inside each.

    Parameters
    ----------
    drawing : LineDrawing
        Its pixels are those of the artwork.
    """
    height, width = drawing.labels.shape
    longest = max(height, width)
    scale = min(LONGEST_SIDE_PX, max(LEAST_SIDE_PX, longest)) / longest
    size = max(1, round(width * scale)), max(1, round(height * scale))
    cells = cv2.resize(
        drawing.cell_of.astype(np.float32), size, interpolation=cv2.INTER_NEAREST
    ).astype(np.int32)
    picture = _pale(drawing, size)
    picture[_borders(cells)] = EDGE_RGB
    words = []
    for cell in drawing.cells:
        room = 2 * np.sqrt(cell.area_px2 / np.pi) * scale
        text = str(cell.number)
        height_px = int(np.clip(0.5 * room, LEAST_NUMBER_PX, NUMBER_PX))
        x = cell.at_px[0] * scale - width_of(text, height_px) / 2
        words.append(Words(text, x, cell.at_px[1] * scale, height_px))
    return png_bytes(letter(picture, words))


def _pale(drawing: LineDrawing, size: tuple[int, int]) -> NDArray[np.uint8]:
    """Return the drawing's colours with white laid over them."""
    table = np.full((256, 3), 255.0)
    colours = [rgb_from_hex(code) for _, code in drawing.colours]
    table[: len(colours)] = np.array(colours) * (1 - FADE) + 255 * FADE
    labels = cv2.resize(drawing.labels, size, interpolation=cv2.INTER_NEAREST)
    pale: NDArray[np.uint8] = np.rint(table[labels]).astype(np.uint8)
    return pale


def _borders(cells: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Return the pixels whose right or lower neighbour is of another cell."""
    border = np.zeros(cells.shape, bool)
    border[:, :-1] |= cells[:, :-1] != cells[:, 1:]
    border[:-1] |= cells[:-1] != cells[1:]
    return border
