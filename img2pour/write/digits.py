"""Numbers and rings drawn as plain outlines, for files that may hold no text."""

from __future__ import annotations

import numpy as np

from img2pour.plane.regionmap import FloatArray
from img2pour.write.outlines import Outline
from img2pour.write.values import Mark

LEAST_RING_MM = 2.0
"""Least radius of the ring about a place, so that it is found on a whole board."""

DIGIT_HEIGHT_MM = 4.0

# Strokes on a grid two wide and four high, origin at the digit's lower-left corner.
_STROKES: dict[str, list[list[tuple[float, float]]]] = {
    "0": [[(0, 0), (2, 0), (2, 4), (0, 4), (0, 0)]],
    "1": [[(0.3, 3), (1, 4), (1, 0)]],
    "2": [[(0, 4), (2, 4), (2, 2), (0, 2), (0, 0), (2, 0)]],
    "3": [[(0, 4), (2, 4), (2, 0), (0, 0)], [(0.5, 2), (2, 2)]],
    "4": [[(0, 4), (0, 2), (2, 2)], [(2, 4), (2, 0)]],
    "5": [[(2, 4), (0, 4), (0, 2), (2, 2), (2, 0), (0, 0)]],
    "6": [[(2, 4), (0, 4), (0, 0), (2, 0), (2, 2), (0, 2)]],
    "7": [[(0, 4), (2, 4), (0.7, 0)]],
    "8": [[(0, 0), (2, 0), (2, 4), (0, 4), (0, 0)], [(0, 2), (2, 2)]],
    "9": [[(2, 2), (0, 2), (0, 4), (2, 4), (2, 0), (0, 0)]],
}
_ADVANCE = 3.0


def mark_outlines(mark: Mark) -> list[Outline]:
    """Return a ring about the place and its number at the ring's upper right, in mm."""
    centre = np.array(mark.at_mm, dtype=np.float64)
    radius = max(mark.size_mm / 2, LEAST_RING_MM)
    start = centre + radius * np.sqrt(0.5) + 0.25 * DIGIT_HEIGHT_MM
    return [circle_outline(centre, radius), *number_outlines(mark.number, start)]


def circle_outline(centre: FloatArray, radius: float) -> Outline:
    """Return a circle as two half-circle arcs, anticlockwise."""
    ends = np.array([(-radius, 0.0), (radius, 0.0)]) + centre
    return Outline(ends, np.ones(2))


def number_outlines(number: int, start: FloatArray) -> list[Outline]:
    """Return the strokes of a number whose lower-left corner is `start`, in mm."""
    unit = DIGIT_HEIGHT_MM / 4
    outlines = []
    for place, digit in enumerate(str(number)):
        corner = start + np.array([place * _ADVANCE * unit, 0.0])
        for stroke in _STROKES[digit]:
            closed = stroke[0] == stroke[-1]
            points = np.array(stroke[:-1] if closed else stroke) * unit + corner
            outlines.append(Outline(points, np.zeros(len(points)), closed))
    return outlines
