"""A stage on the work sheet: its own pockets in full colour and numbered, the rest pale."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.colour import rgb_from_hex
from img2pour.write.coverage import shape_edges
from img2pour.write.lettering import Words, letter, width_of
from img2pour.write.pictures import FIXED_BITS, Canvas, fixed_point, on_board, png_bytes
from img2pour.write.values import Board, Picture

LONGEST_PX = 1100
NUMBER_PX = 23
"""Height of the numbers: 4 mm when the picture fills the width of an A4 sheet."""

FADE = 0.62
"""Share of white laid over what the stage leaves alone."""

BOX_RGB = (30, 30, 30)
BARE_RGB, BARE_PX = (214, 0, 108), 3
WHITE = (255, 255, 255)
AWAY_PX = (0.0, 26.0, 38.0, 52.0, 68.0)
"""How far from its point a number may stand."""

Image = NDArray[np.uint8]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Shown:
    """A shape that shows on the board, its name and its ``#rrggbb``."""

    name: str
    shape: shapely.Geometry
    hex: str


@dataclass(frozen=True, eq=False)
class StageMarks:
    """What is marked on the picture of a stage.

    Attributes
    ----------
    numbers : sequence of (number, (x, y))
        Of the pockets; where numbers would cover each other, the first ones stay.
    bare : sequence of shapely LineString
        Edge that the seal does not reach, drawn in a loud colour.
    """

    numbers: Sequence[tuple[str, tuple[float, float]]] = ()
    bare: Sequence[shapely.Geometry] = ()


def stage_picture(
    shown: Sequence[Shown],
    own: Collection[str],
    board: Board,
    ground: str,
    marks: StageMarks,
    words: str,
) -> Picture:
    """Return the board after a stage, what the stage made standing out.

    Parameters
    ----------
    shown : sequence of Shown
        In mm on the board; no two overlap.
    own : collection of str
        Names of what the stage made.
    board : Board
    ground : str
        ``#rrggbb`` of the wood.
    marks : StageMarks
    words : str
        What the picture shows.
    """
    canvas = Canvas.of(board, LONGEST_PX)
    wood = _pale(ground)
    edges = [
        shape_edges(item.shape, canvas.to_px, _tone(item, own) - wood)
        for item in shown
        if not item.shape.is_empty
    ]
    picture = on_board(canvas, board, edges, wood)
    rings = _rings(canvas, [item.shape for item in shown if item.name in own])
    cv2.polylines(picture, rings, True, BOX_RGB, 1, cv2.LINE_AA, FIXED_BITS)
    lines = [canvas.to_px.apply(shapely.get_coordinates(line)) for line in marks.bare]
    cv2.polylines(picture, _fixed(lines), False, BARE_RGB, BARE_PX, cv2.LINE_AA, FIXED_BITS)
    points = [(text, canvas.point(*at)) for text, at in marks.numbers]
    drawn = _number(picture, points, _mask(rings, picture.shape[:2]))
    return Picture(png_bytes(drawn), canvas.width_px, canvas.height_px, words)


def _rings(canvas: Canvas, shapes: Sequence[shapely.Geometry]) -> list[NDArray[np.int32]]:
    """Return all outlines of some shapes as the drawing routines take them."""
    parts = shapely.get_parts(np.array(list(shapes), dtype=object))
    rings = shapely.get_rings(parts[shapely.area(parts) > 0])
    return _fixed([canvas.to_px.apply(shapely.get_coordinates(ring)) for ring in rings])


def _fixed(places: Sequence[NDArray[np.float64]]) -> list[NDArray[np.int32]]:
    """Return points in pixels as the drawing routines take them."""
    scale = 1 << FIXED_BITS
    return [np.rint((place - 0.5) * scale).astype(np.int32) for place in places]


def _mask(rings: list[NDArray[np.int32]], shape: tuple[int, ...]) -> Image:
    """Return where the stage's own pockets lie, (H, W) uint8, 1 inside."""
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, rings, 1, cv2.LINE_8, FIXED_BITS)
    return mask


def _tone(item: Shown, own: Collection[str]) -> NDArray[np.float64]:
    return np.array(rgb_from_hex(item.hex)) if item.name in own else _pale(item.hex)


def _pale(code: str) -> NDArray[np.float64]:
    tone: NDArray[np.float64] = np.array(rgb_from_hex(code)) * (1 - FADE) + 255 * FADE
    return tone


def _number(
    picture: Image, numbers: Sequence[tuple[str, tuple[float, float]]], mask: Image
) -> Image:
    """Return the picture with a boxed number for each point."""
    boxes: list[Box] = []
    words = []
    for text, point in numbers:
        box = _best_box(_boxes(text, point, picture.shape), boxes, mask)
        if box is None:
            continue
        boxes.append(box)
        _draw_box(picture, box, point)
        words.append(Words(text, box[0] + 4, (box[1] + box[3]) / 2, NUMBER_PX))
    return letter(picture, words)


def _boxes(text: str, point: tuple[float, float], shape: tuple[int, ...]) -> list[Box]:
    """Return where a number may stand, the nearest first, all inside the picture."""
    half, tall = width_of(text, NUMBER_PX) / 2 + 4, NUMBER_PX / 2 + 2
    found = []
    for away in AWAY_PX:
        for turn in range(12 if away else 1):
            x = point[0] + away * float(np.cos(turn * np.pi / 6))
            y = point[1] + away * float(np.sin(turn * np.pi / 6))
            found.append((x - half, y - tall, x + half, y + tall))
    return [b for b in found if b[0] > 0 and b[1] > 0 and b[2] < shape[1] and b[3] < shape[0]]


def _best_box(boxes: Sequence[Box], taken: Sequence[Box], mask: Image) -> Box | None:
    """Return the nearest box that covers no other number and hides no outline of a pocket.

    Where there is none, the one that hides least.
    """
    free = [box for box in boxes if not any(_overlap(box, other) for other in taken)]
    hidden = [_hidden(box, mask) for box in free]
    return free[hidden.index(min(hidden))] if free else None


def _hidden(box: Box, mask: Image) -> float:
    """Return how evenly a box lies on pockets and beside them: 0 for wholly on or off."""
    left, top, right, bottom = (round(value) for value in box)
    share = float(mask[top:bottom, left:right].mean())
    return round(min(share, 1.0 - share), 2)


def _overlap(one: Box, two: Box) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


def _draw_box(picture: Image, box: Box, point: tuple[float, float]) -> None:
    """Draw a number's empty box, with a line to its point where it stands aside."""
    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    if middle != point:
        for rgb, width in ((WHITE, 5), (BOX_RGB, 2)):
            cv2.line(
                picture,
                fixed_point(*point),
                fixed_point(*middle),
                rgb,
                width,
                cv2.LINE_AA,
                FIXED_BITS,
            )
    corners = fixed_point(box[0], box[1]), fixed_point(box[2], box[3])
    cv2.rectangle(picture, *corners, WHITE, cv2.FILLED, cv2.LINE_8, FIXED_BITS)
    cv2.rectangle(picture, *corners, BOX_RGB, 1, cv2.LINE_AA, FIXED_BITS)
