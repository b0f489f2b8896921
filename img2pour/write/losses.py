"""The artwork with every lost, narrow or thin place marked and numbered as in the list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import RegionMap
from img2pour.write.lettering import INK, Words, letter, width_of
from img2pour.write.marks import HALO_PX, SIGNS, WHITE, draw_sign, sign_reach
from img2pour.write.pictures import (
    FIXED_BITS,
    LONGEST_SIDE_PX,
    WOOD_TONE,
    Canvas,
    board_picture,
    fixed_point,
    png_bytes,
)
from img2pour.write.values import Board, Mark

NUMBER_PX = 38
"""Height of the numbers: 5 mm when 2000 px fill the width of an A4 sheet, read at arm's length."""

KEY_PX = 34
FADE = 0.55
"""Share of white laid over the artwork, so that signs and numbers stand out."""

LEAST_RADIUS_PX = 18.0
MOST_RADIUS_PX = 160.0

Image = NDArray[np.uint8]
Box = tuple[float, float, float, float]


def losses_png(
    board_map: RegionMap,
    fills: Sequence[str],
    board: Board,
    marks: Sequence[Mark],
    *,
    ground: str = WOOD_TONE,
    longest_side_px: int = LONGEST_SIDE_PX,
) -> bytes:
    """Return the picture of all marked places as PNG.

    Parameters
    ----------
    board_map : RegionMap
        In mm, y up, the board's lower-left corner at the origin.
    fills : sequence of str
        ``#rrggbb`` of each colour of the palette.
    board : Board
    marks : sequence of Mark
        Where labels would cover each other, the first ones keep theirs; every place has its sign.
    ground : str
        Colour of the board around the artwork.
    longest_side_px : int
        Of the board's picture; the key stands below it.
    """
    canvas = Canvas.of(board, longest_side_px)
    art = board_picture(canvas, board_map, fills, board, ground=ground)
    picture = np.rint(art * (1 - FADE) + 255 * FADE).astype(np.uint8)
    signs = [_placed(canvas, mark) for mark in marks]
    labels = place_labels(signs, (canvas.width_px, canvas.height_px))
    for label in labels:
        _draw_leader(picture, label)
    for sign in signs:
        draw_sign(picture, sign.mark.kind, sign.x, sign.y, sign.radius)
    for label in labels:
        _draw_box(picture, label)
    words = [
        Words(str(label.sign.mark.number), label.box[0] + 7, _middle(label.box)[1], NUMBER_PX)
        for label in labels
    ]
    return png_bytes(np.vstack([letter(picture, words), _key(marks, labels, canvas.width_px)]))


@dataclass(frozen=True)
class PlacedSign:
    """A mark's sign in pixels."""

    mark: Mark
    x: float
    y: float
    radius: float


@dataclass(frozen=True)
class Label:
    """A number's box (x0, y0, x1, y1) in pixels, and the sign it belongs to."""

    sign: PlacedSign
    box: Box


def _placed(canvas: Canvas, mark: Mark) -> PlacedSign:
    x, y = canvas.point(*mark.at_mm)
    radius = mark.size_mm / 2 * canvas.px_per_mm + 10
    return PlacedSign(mark, x, y, float(np.clip(radius, LEAST_RADIUS_PX, MOST_RADIUS_PX)))


def place_labels(signs: Sequence[PlacedSign], size_px: tuple[int, int]) -> list[Label]:
    """Return the labels that find room, nearest to their signs, none over another or a sign.

    Parameters
    ----------
    signs : sequence of PlacedSign
    size_px : (width, height)
        Of the picture; labels stay inside.
    """
    rings = np.array([_box_of(sign) for sign in signs]).reshape(-1, 4)
    taken: list[Box] = []
    labels: list[Label] = []
    for sign in signs:
        boxes = _candidates(sign, size_px)
        others = np.vstack([rings, np.array(taken).reshape(-1, 4)])
        free = ~_overlaps(boxes, others).any(axis=1)
        if free.any():
            x0, y0, x1, y1 = boxes[int(np.argmax(free))].tolist()
            taken.append((x0, y0, x1, y1))
            labels.append(Label(sign, (x0, y0, x1, y1)))
    return labels


def _box_of(sign: PlacedSign) -> Box:
    across, up = sign_reach(sign.mark.kind, sign.radius)
    return sign.x - across, sign.y - up, sign.x + across, sign.y + up


def _candidates(sign: PlacedSign, size_px: tuple[int, int]) -> NDArray[np.float64]:
    """Return the boxes where a number may stand, the nearest first, (n, 4)."""
    width = width_of(str(sign.mark.number), NUMBER_PX) + 14
    height = NUMBER_PX + 6.0
    away = sign.radius + HALO_PX + np.repeat([4.0, 24.0, 50.0, 90.0, 140.0, 200.0], 16)
    angles = np.radians(-45 + np.tile(np.arange(16) * 22.5, 6))
    x = sign.x + np.cos(angles) * (away + width / 2)
    y = sign.y + np.sin(angles) * (away + height / 2)
    boxes = np.stack([x - width / 2, y - height / 2, x + width / 2, y + height / 2], axis=1)
    inside = (boxes[:, :2] >= 2).all(axis=1) & (boxes[:, 2:] <= np.array(size_px) - 2).all(axis=1)
    return boxes[inside]


def _overlaps(boxes: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell for each box and each other whether they overlap, (n, m)."""
    a, b = boxes[:, None], others[None]
    across = (a[..., 0] < b[..., 2]) & (b[..., 0] < a[..., 2])
    up = (a[..., 1] < b[..., 3]) & (b[..., 1] < a[..., 3])
    both: NDArray[np.bool_] = across & up
    return both


def _middle(box: Box) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _draw_leader(picture: Image, label: Label) -> None:
    """Draw the line from the sign's edge to the number's box, which covers its end."""
    sign, (x, y) = label.sign, _middle(label.box)
    share = sign.radius / float(np.hypot(x - sign.x, y - sign.y))
    start = fixed_point(sign.x + (x - sign.x) * share, sign.y + (y - sign.y) * share)
    for rgb, width in ((WHITE, HALO_PX), (SIGNS[sign.mark.kind].rgb, 2)):
        cv2.line(picture, start, fixed_point(x, y), rgb, width, cv2.LINE_AA, FIXED_BITS)


def _draw_box(picture: Image, label: Label) -> None:
    """Draw the number's box, still empty."""
    x0, y0, x1, y1 = label.box
    corners = fixed_point(x0, y0), fixed_point(x1, y1)
    rgb = SIGNS[label.sign.mark.kind].rgb
    cv2.rectangle(picture, *corners, WHITE, cv2.FILLED, cv2.LINE_8, FIXED_BITS)
    cv2.rectangle(picture, *corners, rgb, 2, cv2.LINE_AA, FIXED_BITS)


def _key(marks: Sequence[Mark], labels: Sequence[Label], width_px: int) -> Image:
    """Return the strip that tells what the signs mean and how often they occur."""
    counts = Counter(mark.kind for mark in marks)
    entries = [f"{SIGNS[kind].words} ({counts[kind]})" for kind in SIGNS if counts[kind]]
    kinds = [kind for kind in SIGNS if counts[kind]]
    hidden = len(marks) - len(labels)
    closing = [f"{hidden} more without room for a number: see the list"] if hidden else []
    if not marks:
        closing = ["nothing is lost, narrow or thin"]
    row_px, left = int(KEY_PX * 1.8), 124.0
    strip = np.full((row_px * (len(entries) + len(closing)) + 20, width_px, 3), 255, np.uint8)
    words = []
    for row, text in enumerate(entries + closing):
        y = (row + 0.5) * row_px + 4
        if row < len(kinds):
            draw_sign(strip, kinds[row], 62.0, y, 15.0)
        words.append(Words(text, left if row < len(kinds) else 20.0, y, KEY_PX, INK))
    return letter(strip, words)
