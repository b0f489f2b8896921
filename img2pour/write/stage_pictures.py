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
from img2pour.write.pictures import Canvas, fixed_point, on_board, png_bytes
from img2pour.write.sheet import Picture
from img2pour.write.values import Board

LONGEST_PX = 1100
NUMBER_PX = 25
"""Height of the numbers: 4 mm when the picture fills the width of an A4 sheet."""

FADE = 0.62
"""Share of white laid over what the stage leaves alone."""

BOX_RGB = (30, 30, 30)
WHITE = (255, 255, 255)
AWAY_PX = (0.0, 30.0, 52.0, 76.0)
"""How far from its point a number may stand."""

Image = NDArray[np.uint8]
Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Shown:
    """A shape that shows on the board, its name and its ``#rrggbb``."""

    name: str
    shape: shapely.Geometry
    hex: str


def stage_picture(
    shown: Sequence[Shown],
    own: Collection[str],
    board: Board,
    ground: str,
    numbers: Sequence[tuple[str, tuple[float, float]]],
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
    numbers : sequence of (number, (x, y))
        Of the pockets; where numbers would cover each other, the first ones stay.
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
    drawn = _number(picture, [(text, canvas.point(*at)) for text, at in numbers])
    return Picture(png_bytes(drawn), canvas.width_px, canvas.height_px, words)


def _tone(item: Shown, own: Collection[str]) -> NDArray[np.float64]:
    return np.array(rgb_from_hex(item.hex)) if item.name in own else _pale(item.hex)


def _pale(code: str) -> NDArray[np.float64]:
    tone: NDArray[np.float64] = np.array(rgb_from_hex(code)) * (1 - FADE) + 255 * FADE
    return tone


def _number(picture: Image, numbers: Sequence[tuple[str, tuple[float, float]]]) -> Image:
    """Return the picture with a boxed number at each point, moved aside where one is taken."""
    boxes: list[Box] = []
    words = []
    size = picture.shape[1], picture.shape[0]
    for text, point in numbers:
        box = _free_box(text, point, boxes, size)
        if box is None:
            continue
        boxes.append(box)
        _draw_box(picture, box, point)
        words.append(Words(text, box[0] + 5, (box[1] + box[3]) / 2, NUMBER_PX))
    return letter(picture, words)


def _free_box(
    text: str, point: tuple[float, float], taken: Sequence[Box], size: tuple[int, int]
) -> Box | None:
    """Return the nearest box for a number that covers no other and stays inside, if any."""
    half, tall = width_of(text, NUMBER_PX) / 2 + 5, NUMBER_PX / 2 + 3
    for away in AWAY_PX:
        for turn in range(8 if away else 1):
            x = point[0] + away * float(np.cos(turn * np.pi / 4))
            y = point[1] + away * float(np.sin(turn * np.pi / 4))
            box = x - half, y - tall, x + half, y + tall
            inside = box[0] > 0 and box[1] > 0 and box[2] < size[0] and box[3] < size[1]
            if inside and not any(_overlap(box, other) for other in taken):
                return box
    return None


def _overlap(one: Box, two: Box) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


def _draw_box(picture: Image, box: Box, point: tuple[float, float]) -> None:
    """Draw a number's empty box, with a line to its point where it stands aside."""
    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    if middle != point:
        for rgb, width in ((WHITE, 5), (BOX_RGB, 2)):
            cv2.line(picture, fixed_point(*point), fixed_point(*middle), rgb, width, cv2.LINE_AA, 4)
    corners = fixed_point(box[0], box[1]), fixed_point(box[2], box[3])
    cv2.rectangle(picture, *corners, WHITE, cv2.FILLED, cv2.LINE_8, 4)
    cv2.rectangle(picture, *corners, BOX_RGB, 1, cv2.LINE_AA, 4)
