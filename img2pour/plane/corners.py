"""Where the outline may turn, and where pieces may begin: the candidates for the segmentation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, IntArray

INNER, OUTER = 2, 7
"""Points on each side, from INNER to OUTER away, whose directions are compared."""

CORNER_TURN_DEG = 22.0
"""A turn above this makes a candidate for a corner."""

BEND_TURN_DEG, BEND_SPACING = 15.0, 2
"""Where the outline turns by more than this, every second point is a candidate."""

PEAK_REACH = 4
"""Of corners that lie so many points apart or less, the sharper one is taken."""

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


@dataclass(frozen=True, eq=False)
class Turns:
    """How much each outline turns around each of its points.

    Attributes
    ----------
    degrees : (N,) float64
        Turn between the directions on both sides; 0 near the ends of open outlines.
    rise_px : (N,) float64
        Distance from the chord between the points on both sides: it peaks at a corner, where the
        turn itself has a plateau.
    """

    degrees: FloatArray
    rise_px: FloatArray


def turns(outlines: Outlines) -> Turns:
    """Return how much each outline turns around each of its points."""
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
    ahead, behind = at(outer), at(-outer)
    degrees = np.degrees(np.abs(_angles(at(-inner) - behind, ahead - at(inner))))
    chord, away = ahead - behind, outlines.points - behind
    length = np.maximum(np.hypot(*chord.T), 1e-9)
    rise = np.abs(chord[:, 0] * away[:, 1] - chord[:, 1] * away[:, 0]) / length
    near_end = ~wraps & ((local < outer) | (local + outer >= count))
    return Turns(np.where(near_end, 0.0, degrees), np.where(near_end, 0.0, rise))


def _angles(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the angles from vectors a to vectors b, radians."""
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    angles: FloatArray = np.arctan2(cross, a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1])
    return angles


def begin_at_corner(outlines: Outlines) -> Outlines:
    """Return the outlines with every closed one rolled to begin at its sharpest turn."""
    turn = turns(outlines)
    order = np.arange(len(outlines.points))
    for arc in np.flatnonzero(outlines.closed):
        low, high = outlines.offsets[arc], outlines.offsets[arc + 1]
        if high > low:
            order[low:high] = np.roll(order[low:high], -_sharpest(turn, slice(low, high)))
    return Outlines(outlines.points[order], outlines.offsets, outlines.closed)


def _sharpest(turn: Turns, own: slice) -> int:
    """Return the point of a closed outline at which it turns most."""
    degrees, rise = turn.degrees[own], turn.rise_px[own]
    most = int(np.argmax(degrees))
    around = (most + np.arange(-PEAK_REACH, PEAK_REACH + 1)) % len(degrees)
    return int(around[np.argmax(rise[around])])


def candidates(outlines: Outlines) -> Candidates:
    """Return the candidate breaks of every outline: its ends, its corners, and evenly between."""
    turn = turns(outlines)
    low, high = outlines.offsets[:-1], outlines.offsets[1:]
    arcs = np.arange(len(low))
    is_peak = _peaks(turn.rise_px) & (turn.degrees > CORNER_TURN_DEG)
    is_peak[low[low < high]] = False
    is_bend = (turn.degrees > BEND_TURN_DEG) & (np.arange(len(is_peak)) % BEND_SPACING == 0)
    # One arc's last candidate is the next one's first point: adding the arc tells them apart.
    owner = np.repeat(arcs, high - low)
    peaks = np.flatnonzero(is_peak)
    stops = np.unique(np.concatenate([low + arcs, high + arcs, peaks + owner[peaks]]))
    bends = np.flatnonzero(is_bend)
    keys = np.unique(np.concatenate([_spread(stops, low + arcs, high - low), bends + owner[bends]]))
    arc = np.searchsorted(low + arcs, keys, side="right") - 1
    index = keys - arc
    offsets = np.searchsorted(arc, np.arange(len(low) + 1)).astype(np.int64)
    is_corner = np.isin(keys, peaks + owner[peaks])
    sharp_start = np.zeros(len(low), bool)
    sharp_start[low < high] = turn.degrees[low[low < high]] > CORNER_TURN_DEG
    at_ends = ~outlines.closed | sharp_start
    is_corner[offsets[:-1]] = is_corner[offsets[1:] - 1] = at_ends
    return Candidates(index, offsets, is_corner)


def _peaks(rise: FloatArray) -> NDArray[np.bool_]:
    """Return where the outline rises most within PEAK_REACH points."""
    if len(rise) == 0:
        return np.zeros(0, bool)
    padded = np.pad(rise, PEAK_REACH, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * PEAK_REACH + 1)
    peaks: NDArray[np.bool_] = np.argmax(around, axis=1) == PEAK_REACH
    return peaks


def _spread(stops: IntArray, first: IntArray, counts: IntArray) -> IntArray:
    """Return the stops with evenly spaced places between those of the same arc.

    Parameters
    ----------
    stops : (S,) int64
        Ascending, each arc's ends among them.
    first : (A,) int64
        First stop of each arc.
    counts : (A,) int64
        Points of each arc.
    """
    arc = np.searchsorted(first, stops, side="right") - 1
    spacing = np.maximum(LEAST_SPACING, counts // MOST_CANDIDATES)[arc[:-1]]
    gap = np.diff(stops)
    steps = np.maximum(1, np.rint(gap / spacing)).astype(np.int64)
    steps[arc[1:] != arc[:-1]] = 1
    which = np.repeat(np.arange(len(gap)), steps)
    step = np.arange(len(which)) - np.repeat(np.cumsum(steps) - steps, steps)
    return np.append(stops[which] + gap[which] * step // steps[which], stops[-1:])
