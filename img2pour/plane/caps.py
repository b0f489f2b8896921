"""Blunt ends of thin strokes: a short piece between two sides that run nearly against each other.

Two corners a stroke's width apart look like one sharp turn. Left so, both sides would be drawn out
to where they meet, far beyond the stroke.
"""

from __future__ import annotations

import numpy as np

from img2pour.plane.corners import Outlines
from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.segment import Pieces

TURN_DEG = 110.0
"""Sides that turn back by more than this may have a blunt end between them."""

LONGEST_TIP_PX = 4.0
"""A tip may lie this far beyond the outline: blur and pixels round an acute one off so much."""

SIDE_POINTS = 10
"""Points from which the direction of a side is taken."""

SKIPPED_POINTS = 3
"""Points next to the turn that are not asked."""

OFF_SIDE_PX = 0.6
"""Points further than this from both sides belong to the end."""


def with_caps(pieces: Pieces, outlines: Outlines) -> Pieces:
    """Return the pieces with a straight one at every blunt end of a thin stroke."""
    before, after = neighbours(pieces, outlines)
    sharp = _turns_deg(pieces, outlines.points, before, after) > TURN_DEG
    first, last = pieces.first.copy(), pieces.last.copy()
    caps: list[tuple[int, int, int]] = []
    for p, q in zip(before[sharp].tolist(), after[sharp].tolist(), strict=True):
        found = _blunt_end(pieces, outlines.points, p, q)
        # A side between two blunt ends may have been shortened from its other end already.
        if found is None or found[0] <= first[p] or found[1] >= last[q]:
            continue
        last[p], first[q] = found
        if q == p + 1:
            caps.append((q, *found))
        elif pieces.last[p] - found[0] >= found[1] - pieces.first[q]:
            caps.append((p + 1, found[0], int(pieces.last[p])))
        else:
            caps.append((p + 1, int(pieces.first[q]), found[1]))
    if not caps:
        return pieces
    place, start, end = np.array(caps).T
    # A cap belongs to the arc of the piece before it, also where it follows an arc's last piece.
    added = np.searchsorted(np.sort(place - 1), pieces.offsets, side="left")
    return Pieces(
        np.insert(first, place, start),
        np.insert(last, place, end),
        np.insert(pieces.is_arc, place, False),
        pieces.offsets + added,
    )


def neighbours(pieces: Pieces, outlines: Outlines) -> tuple[IntArray, IntArray]:
    """Return all pairs of successive pieces, closed outlines' last and first among them."""
    counts = np.diff(pieces.offsets)
    several = np.flatnonzero(counts > 1)
    inner = np.ones(len(pieces.first), bool)
    inner[pieces.offsets[1:][counts > 0] - 1] = False
    before = np.flatnonzero(inner)
    wrapped = several[outlines.closed[several]]
    return (
        np.concatenate([before, pieces.offsets[wrapped + 1] - 1]),
        np.concatenate([before + 1, pieces.offsets[wrapped]]),
    )


def side_points(pieces: Pieces, p: IntArray, q: IntArray) -> tuple[IntArray, ...]:
    """Return the points from which the sides before and after a turn are taken."""
    near = np.maximum(pieces.last[p] - 1 - SKIPPED_POINTS, pieces.first[p])
    far = np.maximum(near - SIDE_POINTS, pieces.first[p])
    onwards = np.minimum(pieces.first[q] + SKIPPED_POINTS, pieces.last[q] - 1)
    away = np.minimum(onwards + SIDE_POINTS, pieces.last[q] - 1)
    return far, near, onwards, away


def _turns_deg(pieces: Pieces, points: FloatArray, p: IntArray, q: IntArray) -> FloatArray:
    """Return how far the outline turns from piece p to piece q, 0 to 180."""
    far, near, onwards, away = side_points(pieces, p, q)
    arrive, leave = points[near] - points[far], points[away] - points[onwards]
    cross = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
    turns: FloatArray = np.degrees(np.abs(np.arctan2(cross, (arrive * leave).sum(axis=1))))
    return turns


def _blunt_end(pieces: Pieces, points: FloatArray, p: int, q: int) -> tuple[int, int] | None:
    """Return the points at which the sides end, or None where they meet in a tip."""
    index = side_points(pieces, np.array([p]), np.array([q]))
    far, near, onwards, away = (points[int(i[0])] for i in index)
    turn = points[int(pieces.first[q])]
    tip = _crossing(near, near - far, onwards, away - onwards)
    if tip is not None and np.hypot(*(tip - turn)) <= LONGEST_TIP_PX:
        return None
    last, first = int(pieces.last[p]) - 1, int(pieces.first[q]) + 1
    lowest, highest = int(pieces.first[p]) + 1, int(pieces.last[q]) - 1
    while last > lowest and _distance(points[last - 1], near, near - far) > OFF_SIDE_PX:
        last -= 1
    while first < highest and _distance(points[first], onwards, away - onwards) > OFF_SIDE_PX:
        first += 1
    return (last, first) if last > lowest and first < highest else None


def _crossing(
    a: FloatArray, along_a: FloatArray, b: FloatArray, along_b: FloatArray
) -> FloatArray | None:
    """Return where two lines cross, None for parallel ones."""
    cross = along_a[0] * along_b[1] - along_a[1] * along_b[0]
    if abs(cross) < 1e-9:
        return None
    gap = b - a
    point: FloatArray = a + along_a * (gap[0] * along_b[1] - gap[1] * along_b[0]) / cross
    return point


def _distance(point: FloatArray, on_line: FloatArray, along: FloatArray) -> float:
    """Return the distance of a point from a line."""
    gap = point - on_line
    return float(abs(gap[0] * along[1] - gap[1] * along[0]) / max(np.hypot(*along), 1e-9))
