"""Corners that pixels and blur cut off: a few points of a short piece between two clear sides.

Where the sides, drawn on, meet no further from the outline than a true corner is rounded off, the
short piece goes and the sides meet in the corner.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.caps import LONGEST_TIP_PX, neighbours, side_points
from img2pour.plane.corners import Outlines
from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.segment import Pieces

LEAST_TIP_POINTS = 4
"""A piece of more points (one more per half pixel of blur) is a shape of its own."""

ROUNDS = 3
"""Tips may lie side by side; each round takes one of two neighbours."""


def without_cut_tips(
    pieces: Pieces, outlines: Outlines, rounding_px: float, blur_px: float
) -> Pieces:
    """Return the pieces without those that only cut off a corner.

    Parameters
    ----------
    pieces : Pieces
    outlines : Outlines
    rounding_px : float
        How far a true corner of half angle 90 degrees is rounded off; an acute one is further.
    blur_px : float
    """
    most_points = LEAST_TIP_POINTS + round(2 * blur_px)
    for _ in range(ROUNDS):
        cut = _cut_tips(pieces, outlines, rounding_px, most_points)
        if not cut.any():
            return pieces
        kept = ~cut
        before = np.concatenate([[0], np.cumsum(kept)])
        pieces = Pieces(
            pieces.first[kept],
            pieces.last[kept],
            pieces.is_arc[kept],
            before[pieces.offsets],
        )
    return pieces


def _cut_tips(
    pieces: Pieces, outlines: Outlines, rounding_px: float, most_points: int
) -> NDArray[np.bool_]:
    """Return which pieces only cut off a corner, no two of them side by side."""
    before, after = neighbours(pieces, outlines)
    count = len(pieces.first)
    previous, following = np.full(count, -1), np.full(count, -1)
    previous[after], following[before] = before, after
    sizes = pieces.last - pieces.first
    short = np.flatnonzero((sizes <= most_points) & (previous >= 0) & (following >= 0))
    p, q = previous[short], following[short]
    longer = (sizes[p] > sizes[short]) & (sizes[q] > sizes[short]) & (p != q)
    short, p, q = short[longer], p[longer], q[longer]
    tip, turn = _tips(pieces, outlines.points, p, q)
    middle = _middles(pieces, outlines.points, short)
    # The half angle between sides that turn by t is 90 degrees less t / 2.
    allowed = np.minimum(rounding_px / np.maximum(np.cos(turn / 2), 0.05), LONGEST_TIP_PX)
    fits = (np.hypot(*(tip - middle).T) <= allowed) & (turn > np.radians(20))
    cut = np.zeros(count, bool)
    cut[short[fits]] = True
    cut[1:] &= ~cut[:-1]
    return cut


def _middles(pieces: Pieces, points: FloatArray, which: IntArray) -> FloatArray:
    """Return the mean of the first and last point of some pieces."""
    last = np.maximum(pieces.last[which] - 1, pieces.first[which])
    middle: FloatArray = (points[pieces.first[which]] + points[last]) / 2
    return middle


def _tips(
    pieces: Pieces, points: FloatArray, p: IntArray, q: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return where the sides of pieces p and q meet, and by how much they turn (radians)."""
    far, near, onwards, away = (points[index] for index in side_points(pieces, p, q))
    arrive, leave = near - far, away - onwards
    cross = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
    gap = onwards - near
    share = gap[:, 0] * leave[:, 1] - gap[:, 1] * leave[:, 0]
    share = share / np.where(np.abs(cross) < 1e-9, np.inf, cross)
    tip = near + arrive * share[:, None]
    turn = np.abs(np.arctan2(cross, (arrive * leave).sum(axis=1)))
    return tip, turn
