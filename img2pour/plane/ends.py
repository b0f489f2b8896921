"""Square ends of strokes that blur made round.

The corners of an end as wide as a few times the blur lie too near together to be told by the turn
of the outline. So a flat end is laid through its points, each put back by as much as blur took it
in from between the two sides, and taken when it explains them much better than a round one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.corners import Outlines
from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.segment import Pieces

SIDE_POINTS, SKIPPED_POINTS = 12, 3
"""Points from which a side is taken, and those next to the end that are not asked."""

MOST_BETWEEN = 4
"""The other side is sought among so many pieces."""

PARALLEL_DEG = 25.0
"""Sides turn against each other by half a circle, give or take this."""

LEAST_WIDTH, MOST_WIDTH = 3.0, 14.0
"""Widths of strokes, in sigma, whose ends are looked at."""

LONGEST_PER_WIDTH = 2.5
"""An end has no more points than this, in widths of the widest stroke."""

LEAST_INSIDE = 0.6
"""Points nearer to a side than this, in sigma, say nothing of the end."""

LEAST_POINTS = 4

FIT_PER_NOISE = 2.0
"""A flat end explains its points when they lie within so many times the noise (rms)."""

BETTER = 0.6
"""And when they lie this much nearer to it than to a round one."""

Part = tuple[int, int, bool]
"""A piece: its first point, one past its last, and whether it is an arc."""


@dataclass(frozen=True, eq=False)
class _Run:
    """One outline on its own.

    Attributes
    ----------
    points : (n, 2) float64
        Of a closed outline twice over, so that an end may go on past its beginning.
    count : int
        Points of the outline.
    parts : list of (first, last, is_arc)
        Its pieces.
    closed : bool
    """

    points: FloatArray
    count: int
    parts: list[Part]
    closed: bool

    def part(self, index: int) -> Part:
        """Return a piece; those past the last are the first ones again, a turn further on."""
        turns, own = divmod(index, len(self.parts))
        first, last, is_arc = self.parts[own]
        return first + turns * self.count, last + turns * self.count, is_arc


@dataclass(frozen=True)
class _End:
    """A square end: the pieces before and behind it, and the points that belong to it."""

    before: int
    behind: int
    first: int
    last: int


@dataclass(frozen=True, eq=False)
class _Side:
    """A line through points of a side: a point on it and the direction in which it is walked."""

    at: FloatArray
    along: FloatArray

    def left(self, points: FloatArray) -> FloatArray:
        """Return how far to the left of the line points lie."""
        away = points - self.at
        distance: FloatArray = self.along[0] * away[:, 1] - self.along[1] * away[:, 0]
        return distance


def with_square_ends(
    pieces: Pieces, outlines: Outlines, noise_px: FloatArray, sigma_px: float
) -> tuple[Pieces, Outlines]:
    """Return the pieces with a straight one at every end that blur alone made round.

    Parameters
    ----------
    pieces : Pieces
    outlines : Outlines
    noise_px : (A,) float64
        Scatter (rms) of the points of each outline.
    sigma_px : float
        Of blur and pixel together.

    Returns
    -------
    Pieces, Outlines
        A closed outline that began within such an end begins behind it now.
    """
    points, offsets = outlines.points.copy(), [0]
    parts: list[Part] = []
    for arc in range(len(outlines.closed)):
        run, low = _run(pieces, outlines, arc), int(outlines.offsets[arc])
        made = _replaced(run, _square_ends(run, float(noise_px[arc]), sigma_px))
        begin = made[0][0] if made else 0
        if begin:
            points[low : low + run.count] = np.roll(points[low : low + run.count], -begin, axis=0)
        parts += [(first + low - begin, last + low - begin, is_arc) for first, last, is_arc in made]
        offsets.append(len(parts))
    return _pieces(parts, offsets), Outlines(points, outlines.offsets, outlines.closed)


def _run(pieces: Pieces, outlines: Outlines, arc: int) -> _Run:
    """Return one outline on its own, its points counted from 0."""
    own = slice(int(pieces.offsets[arc]), int(pieces.offsets[arc + 1]))
    low, high = int(outlines.offsets[arc]), int(outlines.offsets[arc + 1])
    first, last = (pieces.first[own] - low).tolist(), (pieces.last[own] - low).tolist()
    line, closed = outlines.points[low:high], bool(outlines.closed[arc])
    points = np.concatenate([line, line]) if closed else line
    parts = list(zip(first, last, pieces.is_arc[own].tolist(), strict=True))
    return _Run(points, high - low, parts, closed)


def _pieces(parts: list[Part], offsets: list[int]) -> Pieces:
    """Return the pieces of all outlines as arrays."""
    bounds = np.array([part[:2] for part in parts], dtype=np.int64).reshape(-1, 2)
    is_arc: NDArray[np.bool_] = np.array([part[2] for part in parts], dtype=bool)
    return Pieces(bounds[:, 0], bounds[:, 1], is_arc, np.array(offsets, dtype=np.int64))


def _square_ends(run: _Run, noise_px: float, sigma_px: float) -> list[_End]:
    """Return the square ends of an outline, none of which shares a side's piece as its own."""
    count, found, p = len(run.parts), list[_End](), 0
    while p < count:
        last = min(p + 1 + MOST_BETWEEN, p + count - 1, count - 1 if not run.closed else 2 * count)
        ends = (_square_end(run, p, q, noise_px, sigma_px) for q in range(p + 2, last + 1))
        end = next((end for end in ends if end is not None), None)
        if end is not None:
            found.append(end)
        p = p + 1 if end is None else end.behind
    if len(found) > 1 and found[-1].behind - count > found[0].before:
        found.pop()
    return found


def _replaced(run: _Run, ends: list[_End]) -> list[Part]:
    """Return the pieces with those between the sides of each end made one straight piece."""
    count = len(run.parts)
    parts, gone = list(run.parts), set[int]()
    lines: dict[int, Part] = {}
    for end in ends:
        behind, turns = end.behind % count, end.behind // count
        first, _, is_arc = parts[end.before]
        parts[end.before] = first, end.first, is_arc
        _, last, is_arc = parts[behind]
        parts[behind] = end.last - turns * run.count, last, is_arc
        gone.update(index % count for index in range(end.before + 1, end.behind))
        lines[end.before] = end.first, end.last, False
    made: list[Part] = []
    for index, part in enumerate(parts):
        made += [part] if index not in gone else []
        made += [lines[index]] if index in lines else []
    return made


def _square_end(run: _Run, p: int, q: int, noise_px: float, sigma_px: float) -> _End | None:
    """Return the square end between two pieces, or None where there is none."""
    (low, start, _), (stop, high, _) = run.part(p), run.part(q)
    if stop - start > LONGEST_PER_WIDTH * MOST_WIDTH * sigma_px or high > len(run.points):
        return None
    first, last = start - SKIPPED_POINTS, stop + SKIPPED_POINTS
    before = run.points[max(low, first - SIDE_POINTS) : max(first, 0)]
    after = run.points[last : min(high, last + SIDE_POINTS)]
    if len(before) < LEAST_POINTS or len(after) < LEAST_POINTS:
        return None
    told = _told(run.points[first:last], _side(before), _side(after), noise_px, sigma_px)
    return None if told is None else _End(p, q, first + told[0], first + told[1] + 1)


def _told(
    end: FloatArray, arriving: _Side, leaving: _Side, noise_px: float, sigma_px: float
) -> tuple[int, int] | None:
    """Return the first and last point that lie on a square end, or None where it is not one."""
    if arriving.along @ leaving.along > -np.cos(np.radians(PARALLEL_DEG)):
        return None
    hand = np.sign(arriving.left(leaving.at[None])[0])
    inside = hand * np.stack([arriving.left(end), leaving.left(end)]) / sigma_px
    width = float(np.median(inside.sum(axis=0)))
    told: IntArray = np.flatnonzero((inside > LEAST_INSIDE).all(axis=0))
    if not LEAST_WIDTH < width < MOST_WIDTH or len(told) < LEAST_POINTS:
        return None
    outward = arriving.along - leaving.along
    outward /= np.hypot(*outward)
    x, y = end[told] @ outward, end[told] @ np.array([-outward[1], outward[0]])
    flat = _off_flat(y, x + sigma_px * _taken_in(inside[:, told]))
    if flat > FIT_PER_NOISE * noise_px or flat > BETTER * _off_round(y, x, width * sigma_px):
        return None
    return int(told[0]), int(told[-1])


def _side(points: FloatArray) -> _Side:
    """Return the line through some points, in the direction in which they follow each other."""
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    return _Side(middle, along * np.sign(along @ (points[-1] - points[0])))


def _taken_in(inside: FloatArray) -> FloatArray:
    """Return by how much blur takes in a square end, in sigma, at distances from both sides.

    Between the sides a stroke is covered by s = F(a) + F(b) - 1, F the normal distribution; with
    the end, half of the light is where F(-x) s = 1/2.
    """
    from scipy.special import ndtr, ndtri

    covered = np.clip(ndtr(inside[0]) + ndtr(inside[1]) - 1, 0.55, 1.0)
    taken: FloatArray = ndtri(0.5 / covered)
    return taken


def _off_flat(y: FloatArray, x: FloatArray) -> float:
    """Return the rms distance of points from the line x(y) that fits them best."""
    slope, offset = np.polyfit(y, x, 1)
    return float(np.sqrt(np.mean((x - slope * y - offset) ** 2)))


def _off_round(y: FloatArray, x: FloatArray, width: float) -> float:
    """Return the rms distance of points from a half circle as wide as the stroke."""
    away = y - (y.min() + y.max()) / 2
    cap = np.sqrt(np.maximum((width / 2) ** 2 - away**2, 0.0))
    return float(np.std(x - cap))
