"""Pictures of the board: the finished piece, and the canvas that other pictures draw on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.colour import rgb_from_hex
from img2pour.errors import OutputError
from img2pour.plane.placement import Placement, place
from img2pour.plane.regionmap import FloatArray, RegionMap
from img2pour.write.coverage import Edges, map_edges, paint, rectangle_edges, shape_edges
from img2pour.write.values import Board

LONGEST_SIDE_PX = 2000
RIM_PX = 16
"""Paper left around the board."""

WOOD_TONE = "#c8a06a"
"""A plain wood, for boards whose own colour was not told."""

PAPER = "#ffffff"
EDGE_RGB = (64, 48, 32)
EDGE_PX = 2.0
"""Colour and width of the line around the board, drawn on the paper."""

PNG_LEVEL = 4
"""zlib level for what must be small: within 5 % of the smallest file on flat art."""

QUICK_PNG: tuple[int, ...] = (cv2.IMWRITE_PNG_STRATEGY, cv2.IMWRITE_PNG_STRATEGY_RLE)
if hasattr(cv2, "IMWRITE_PNG_FILTER"):
    QUICK_PNG = (*QUICK_PNG, cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_UP)
"""Runs alone, of differences to the row above where that can be asked for: a fifth more than with
the level above, in a third of its time."""

Image = NDArray[np.uint8]


@dataclass(frozen=True)
class Canvas:
    """A picture of the board and the way onto it.

    Attributes
    ----------
    px_per_mm : float
    width_px, height_px : int
        Of the whole picture, rim included.
    to_px : Placement
        From mm on the board (y up) to pixels of the picture (y down).
    """

    px_per_mm: float
    width_px: int
    height_px: int
    to_px: Placement

    @classmethod
    def of(
        cls, board: Board, longest_side_px: int = LONGEST_SIDE_PX, rim_px: int = RIM_PX
    ) -> Canvas:
        """Return the canvas of a board, its longer side `longest_side_px` with the rim."""
        longest_mm = max(board.width_mm, board.height_mm)
        scale = (longest_side_px - 2 * rim_px) / longest_mm
        width = int(np.ceil(board.width_mm * scale - 1e-9)) + 2 * rim_px
        height = int(np.ceil(board.height_mm * scale - 1e-9)) + 2 * rim_px
        top = rim_px + board.height_mm * scale
        matrix = np.array([[scale, 0, rim_px], [0, -scale, top], [0, 0, 1.0]])
        return cls(scale, width, height, Placement(matrix))

    def point(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Return a point of the board in pixels of the picture."""
        ((x, y),) = self.to_px.apply(np.array([[x_mm, y_mm]])).tolist()
        return x, y


def finished_png(
    board_map: RegionMap,
    fills: Sequence[str],
    board: Board,
    *,
    ground: str = WOOD_TONE,
    outside: str = PAPER,
    longest_side_px: int = LONGEST_SIDE_PX,
) -> bytes:
    """Return a picture of the finished piece as PNG.

    Parameters
    ----------
    board_map : RegionMap
        In mm, y up, the board's lower-left corner at the origin.
    fills : sequence of str
        ``#rrggbb`` of each colour of the palette, wood included.
    board : Board
    ground, outside : str
        Colour of the board around the artwork, and of what is not part of the piece.
    longest_side_px : int
        Of the picture; `RIM_PX` of paper lies around the board.
    """
    canvas = Canvas.of(board, longest_side_px)
    picture = board_picture(canvas, board_map, fills, board, ground=ground, outside=outside)
    return png_bytes(picture)


def look_png(
    shapes: Sequence[shapely.Geometry],
    fills: Sequence[str],
    board: Board,
    *,
    ground: str = WOOD_TONE,
    longest_side_px: int = LONGEST_SIDE_PX,
) -> bytes:
    """Return a picture of shapes on the board as PNG, for example of the look after a stage.

    Parameters
    ----------
    shapes : sequence of shapely geometry
        In mm on the board; no two may overlap.
    fills : sequence of str
        ``#rrggbb`` of each shape.
    board : Board
    ground : str
        Colour of the board where no shape lies.
    longest_side_px : int
    """
    canvas = Canvas.of(board, longest_side_px)
    wood = np.array(rgb_from_hex(ground))
    edges = [
        shape_edges(shape, canvas.to_px, np.array(rgb_from_hex(fill)) - wood)
        for shape, fill in zip(shapes, fills, strict=True)
    ]
    return png_bytes(on_board(canvas, board, edges, wood))


def board_picture(
    canvas: Canvas,
    board_map: RegionMap,
    fills: Sequence[str],
    board: Board,
    *,
    ground: str = WOOD_TONE,
    outside: str = PAPER,
) -> Image:
    """Return a region map on its board, (H, W, 3) uint8 sRGB."""
    wood = np.array(rgb_from_hex(ground))
    colours = np.array([rgb_from_hex(fill) for fill in fills], dtype=np.float64).reshape(-1, 3)
    placed = place(board_map, canvas.to_px)
    edges = map_edges(placed, colours, np.array(rgb_from_hex(outside)), wood)
    return on_board(canvas, board, [edges], wood)


def on_board(canvas: Canvas, board: Board, edges: list[Edges], wood: FloatArray) -> Image:
    """Return a picture of edges on a board of colour `wood`, on paper and with an outline."""
    paper, line = np.array(rgb_from_hex(PAPER)), np.array(EDGE_RGB, np.float64)
    left, bottom = canvas.point(0.0, 0.0)
    right, top = canvas.point(board.width_mm, board.height_mm)
    wide = EDGE_PX
    ground = [
        rectangle_edges(left - wide, top - wide, right + wide, bottom + wide, line - paper),
        rectangle_edges(left, top, right, bottom, wood - line),
    ]
    return paint([*ground, *edges], paper, (canvas.height_px, canvas.width_px))


FIXED_BITS = 4
"""Binary places of the coordinates handed to the drawing routines."""


def fixed_point(x: float, y: float) -> tuple[int, int]:
    """Return a point in pixels as the drawing routines take it.

    Their pixel centres are whole numbers, ours lie at halves.
    """
    scale = 1 << FIXED_BITS
    return round((x - 0.5) * scale), round((y - 0.5) * scale)


def png_bytes(picture: Image) -> bytes:
    """Return an RGB picture as PNG; the same picture always gives the same bytes."""
    done, data = cv2.imencode(".png", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), QUICK_PNG)
    if not done:
        raise OutputError(
            f"a picture of {picture.shape[1]} x {picture.shape[0]} px was not encoded"
        )
    return data.tobytes()
