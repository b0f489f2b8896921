"""Capital letters of our own, drawn as single lines of even width with round ends.

Each letter is a list of lines on a field one unit high (y down) and as wide as told.
"""

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tests.art.shapes import Point, spline, stroke

Line = list[Point]


def _bow(points: Line) -> Line:
    """Return a smooth curve through a few points, for the round parts."""
    return spline([(100 * x, 100 * y) for x, y in points])


def _loop(points: Line) -> Line:
    """Return a smooth closed curve, its first point repeated at the end."""
    curve = spline([(100 * x, 100 * y) for x, y in points], closed=True)
    return [*curve, curve[0]]


def _straight(points: Line) -> Line:
    return [(100 * x, 100 * y) for x, y in points]


_ROUND_O = [(0.36, 0), (0.08, 0.18), (0, 0.5), (0.08, 0.82), (0.36, 1), (0.64, 0.82)]
_ROUND_O += [(0.72, 0.5), (0.64, 0.18)]
_ROUND_G = [(0.66, 0.2), (0.55, 0.05), (0.36, 0), (0.1, 0.15), (0, 0.5), (0.1, 0.85)]
_ROUND_G += [(0.36, 1), (0.58, 0.94), (0.68, 0.78), (0.68, 0.56)]
_ROUND_S = [(0.5, 0.16), (0.4, 0.03), (0.26, 0), (0.06, 0.1), (0.05, 0.36), (0.27, 0.5)]
_ROUND_S += [(0.51, 0.63), (0.5, 0.9), (0.26, 1), (0.1, 0.96), (0, 0.82)]
_BOWL = [(0, 0), (0.3, 0), (0.5, 0.1), (0.5, 0.42), (0.3, 0.53), (0, 0.53)]

LETTERS: dict[str, tuple[float, list[Line]]] = {
    " ": (0.1, []),
    "A": (0.7, [_straight([(0, 1), (0.35, 0), (0.7, 1)]), _straight([(0.13, 0.66), (0.57, 0.66)])]),
    "E": (
        0.5,
        [_straight([(0.5, 0), (0, 0), (0, 1), (0.5, 1)]), _straight([(0, 0.48), (0.42, 0.48)])],
    ),
    "F": (0.48, [_straight([(0.48, 0), (0, 0), (0, 1)]), _straight([(0, 0.48), (0.4, 0.48)])]),
    "G": (0.68, [_bow(_ROUND_G), _straight([(0.42, 0.56), (0.68, 0.56)])]),
    "H": (
        0.62,
        [_straight([(x, 0), (x, 1)]) for x in (0, 0.62)] + [_straight([(0, 0.5), (0.62, 0.5)])],
    ),
    "I": (0.0, [_straight([(0, 0), (0, 1)])]),
    "K": (
        0.58,
        [
            _straight([(0, 0), (0, 1)]),
            _straight([(0.56, 0), (0, 0.58)]),
            _straight([(0.17, 0.41), (0.58, 1)]),
        ],
    ),
    "L": (0.48, [_straight([(0, 0), (0, 1), (0.48, 1)])]),
    "N": (0.64, [_straight([(0, 1), (0, 0), (0.64, 1), (0.64, 0)])]),
    "O": (0.72, [_loop(_ROUND_O)]),
    "P": (0.5, [_straight([(0, 0), (0, 1)]), _bow(_BOWL)]),
    "R": (0.54, [_straight([(0, 0), (0, 1)]), _bow(_BOWL), _straight([(0.25, 0.53), (0.54, 1)])]),
    "S": (0.54, [_bow(_ROUND_S)]),
    "T": (0.6, [_straight([(0, 0), (0.6, 0)]), _straight([(0.3, 0), (0.3, 1)])]),
}


def lettering(
    text: str, middle: Point, height: float, weight: float, spacing: float = 0.3
) -> BaseGeometry:
    """Return a word centred on `middle`; spacing is a share of the letters' height."""
    widths = [LETTERS[letter][0] for letter in text]
    x = -(sum(widths) + spacing * (len(text) - 1)) / 2
    parts = []
    for letter, width in zip(text, widths, strict=True):
        for line in LETTERS[letter][1]:
            points = (np.array(line) / 100 + (x, -0.5)) * height + middle
            parts.append(stroke([tuple(p) for p in points], weight, cap="round"))
        x += width + spacing
    return shapely.union_all(parts)
