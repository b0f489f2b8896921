"""Signs for numbered places: each kind has a form of its own, told apart without colour."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.write.pictures import FIXED_BITS, fixed_point
from img2pour.write.values import MarkKind

Image = NDArray[np.uint8]
Rgb = tuple[int, int, int]
Line = list[tuple[float, float]]

LINE_PX = 3
HALO_PX = 7
ARROW_PX = 30.0
WHITE: Rgb = (255, 255, 255)


@dataclass(frozen=True)
class Sign:
    """How a kind of place is shown.

    Attributes
    ----------
    words : str
        What the key says.
    rgb : (red, green, blue)
        Okabe and Ito's colours, which people with any colour vision can tell apart (from memory).
    """

    words: str
    rgb: Rgb


SIGNS: dict[MarkKind, Sign] = {
    "lost": Sign("lost: smaller than the bit", (213, 94, 0)),
    "neck": Sign("neck: narrower than the bit", (0, 114, 178)),
    "end": Sign("end: too narrow for the bit", (0, 90, 140)),
    "corner": Sign("corner: comes out round", (0, 120, 90)),
    "shallow": Sign("shallow: cut less deep than asked", (170, 70, 130)),
    "wall": Sign("wall: too thin to stand", (20, 20, 20)),
    "edge": Sign("edge: runs off the board", (150, 100, 0)),
}


def draw_sign(picture: Image, kind: MarkKind, x: float, y: float, radius: float) -> None:
    """Draw the sign of a kind about a point, in pixels; a white rim parts it from the art."""
    lines = _lines(kind, radius)
    arcs = _ring(kind)
    for rgb, width in ((WHITE, HALO_PX), (SIGNS[kind].rgb, LINE_PX)):
        for start, end in arcs:
            _draw_arc(picture, (x, y, radius), (start, end), rgb, width)
        for line in lines:
            _draw_line(picture, [(x + dx, y + dy) for dx, dy in line], rgb, width)


def sign_reach(kind: MarkKind, radius: float) -> tuple[float, float]:
    """Return how far a sign reaches from its middle, sideways and upright, in pixels."""
    reach = radius + HALO_PX / 2
    return (reach + ARROW_PX, reach) if kind == "neck" else (reach, reach)


def _ring(kind: MarkKind) -> list[tuple[float, float]]:
    """Return the arcs, in degrees, of the ring about the place."""
    if kind == "shallow":
        return [(start, start + 30.0) for start in range(0, 360, 60)]
    if kind == "corner":
        return [(start, start + 10.0) for start in range(0, 360, 24)]
    if kind == "edge":
        return []
    return [(0.0, 360.0)]


def _lines(kind: MarkKind, radius: float) -> list[Line]:
    """Return the straight strokes of a sign about (0, 0)."""
    if kind == "lost":
        reach = radius * 0.707
        return [[(-reach, -reach), (reach, reach)], [(-reach, reach), (reach, -reach)]]
    if kind == "neck":
        return [_arrow(radius, side) for side in (-1, 1)]
    if kind == "end":
        return [[(0.0, radius), (0.0, -radius)], [(-radius, 0.0), (radius, 0.0)]]
    if kind == "wall":
        return _hatching(radius)
    if kind == "edge":
        r = radius
        return [[(-r, -r), (r, -r), (r, r), (-r, r), (-r, -r)]]
    return []


def _arrow(radius: float, side: int) -> Line:
    """Return an arrow that points at the ring from the left (-1) or the right (1)."""
    tip, tail = radius * side, (radius + ARROW_PX) * side
    head = tip + 10.0 * side
    return [(tail, 0.0), (tip, 0.0), (head, -8.0), (tip, 0.0), (head, 8.0)]


def _hatching(radius: float) -> list[Line]:
    """Return three slanting chords of the ring."""
    chords: list[Line] = []
    for share in (-0.5, 0.0, 0.5):
        half = radius * (1 - share**2) ** 0.5 * 0.707
        middle = radius * share * 0.707
        chords.append([(middle - half, middle + half), (middle + half, middle - half)])
    return chords


def _draw_line(picture: Image, line: Line, rgb: Rgb, width: int) -> None:
    points = np.array([fixed_point(x, y) for x, y in line], np.int32)
    cv2.polylines(picture, [points], False, rgb, width, cv2.LINE_AA, FIXED_BITS)


def _draw_arc(
    picture: Image,
    circle: tuple[float, float, float],
    span_deg: tuple[float, float],
    rgb: Rgb,
    width: int,
) -> None:
    x, y, radius = circle
    start, end = np.radians(span_deg)
    angles = np.linspace(start, end, max(8, int(radius * (end - start) / 3)))
    points = np.stack([x + radius * np.cos(angles), y + radius * np.sin(angles)], axis=1)
    _draw_line(picture, [(float(px), float(py)) for px, py in points], rgb, width)
