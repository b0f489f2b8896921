"""Where the outline may turn, and where pieces may begin: the candidates for the segmentation."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, IntArray

INNER, OUTER = 2, 7
"""Points on each side, from INNER to OUTER away, whose directions are compared."""

CORNER_TURN_DEG = 22.0
"""A turn above this makes a candidate for a corner."""

BEND_TURN_DEG, BEND_SPACING = 15.0, 2
"""Where the outline turns by more than this, every second point is a candidate."""

MOST_CANDIDATES = 120
"""Candidates of one arc, corners aside: their spacing grows with the arc."""

LEAST_SPACING = 4
"""Points between candidates on short arcs."""


@dataclass(frozen=True, eq=False)
class Outlines:
    """Points of all arcs that are to be fitted, closed ones begun at their sharpest corner.

    Attributes
    ----------
    points : (N, 2) float64
    offsets : (A + 1,) int64
    closed : (A,) bool
        No node on the way: the last point is followed by the first.
    """

    points: FloatArray
    offsets: IntArray
    closed: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Candidates:
    """Places at which a piece may begin or end.

    Attributes
    ----------
    index : (M,) int64
        The point before which the place lies; an arc's last candidate is one past its points.
    offsets : (A + 1,) int64
        Candidates of each arc.
    is_corner : (M,) bool
    """

    index: IntArray
    offsets: IntArray
    is_corner: NDArray[np.bool_]


def turns_deg(outlines: Outlines) -> FloatArray:
    """Return how much each outline turns around each point, 0 near the ends of open ones."""
    offsets, closed = outlines.offsets, outlines.closed
    counts = np.diff(offsets)
    arc = np.repeat(np.arange(len(counts)), counts)
    count, first = counts[arc], offsets[arc]
    local = np.arange(len(arc)) - first
    # Short outlines are compared over shorter spans, so that a turn is not counted twice.
    outer = np.clip(count // 5, INNER + 1, OUTER)
    wraps = closed[arc]

    def at(step: IntArray) -> FloatArray:
        place = local + step
        place = np.where(wraps, place % count, np.clip(place, 0, count - 1))
        picked: FloatArray = outlines.points[first + place]
        return picked

    inner = np.full(len(arc), INNER)
    ahead = at(outer) - at(inner)
    behind = at(-inner) - at(-outer)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    turn = np.abs(np.degrees(np.arctan2(cross, (ahead * behind).sum(axis=1))))
    near_end = ~wraps & ((local < outer) | (local + outer >= count))
    return np.where(near_end, 0.0, turn)


def begin_at_corner(outlines: Outlines) -> Outlines:
    """Return the outlines with every closed one rolled to begin at its sharpest turn."""
    turn = turns_deg(outlines)
    order = np.arange(len(turn))
    for arc in np.flatnonzero(outlines.closed):
        low, high = outlines.offsets[arc], outlines.offsets[arc + 1]
        if high > low:
            order[low:high] = np.roll(order[low:high], -int(np.argmax(turn[low:high])))
    return Outlines(outlines.points[order], outlines.offsets, outlines.closed)


def candidates(outlines: Outlines) -> Candidates:
    """Return the candidate breaks of every outline: its ends, its corners, and evenly between."""
    turn = turns_deg(outlines)
    is_peak = _peaks(turn, outlines.offsets) & (turn > CORNER_TURN_DEG)
    is_bend = (turn > BEND_TURN_DEG) & (np.arange(len(turn)) % BEND_SPACING == 0)
    index: list[IntArray] = []
    corner: list[NDArray[np.bool_]] = []
    for low, high, closed in zip(
        outlines.offsets[:-1].tolist(),
        outlines.offsets[1:].tolist(),
        outlines.closed.tolist(),
        strict=True,
    ):
        peaks = low + np.flatnonzero(is_peak[low:high])
        peaks = peaks[(peaks > low) & (peaks < high)]
        bends = low + np.flatnonzero(is_bend[low:high])
        found = np.unique(np.concatenate([_spread(low, peaks, high), bends]))
        index.append(found)
        at_corner = np.isin(found, peaks)
        sharp_start = closed and high > low and turn[low] > CORNER_TURN_DEG
        at_corner[[0, -1]] = not closed or sharp_start
        corner.append(at_corner)
    offsets = np.concatenate([[0], np.cumsum([len(part) for part in index])])
    return Candidates(np.concatenate(index), offsets.astype(np.int64), np.concatenate(corner))


def _peaks(turn: FloatArray, offsets: IntArray) -> NDArray[np.bool_]:
    """Return where the turn is the greatest within four points."""
    if len(turn) == 0:
        return np.zeros(0, bool)
    padded = np.pad(turn, 4, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 9)
    highest = around.max(axis=1)
    first = np.argmax(around, axis=1) == 4
    peaks: NDArray[np.bool_] = first & (turn == highest)
    return peaks


def _spread(low: int, peaks: IntArray, high: int) -> IntArray:
    """Return low, peaks and high with evenly spaced places between them."""
    spacing = max(LEAST_SPACING, (high - low) // MOST_CANDIDATES)
    stops = [low, *peaks.tolist(), high]
    places = [low]
    for start, end in pairwise(stops):
        steps = max(1, round((end - start) / spacing))
        places.extend(start + (end - start) * k // steps for k in range(1, steps + 1))
    return np.unique(np.array(places, dtype=np.int64))
