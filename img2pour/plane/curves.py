"""Lines and circular arcs as one kind of curve: where they meet, and where a point lies on them.

Every piece lies on the zero of F(p) = A |p|^2 + N . p + D with |grad F| = 1 there: a circle of
signed curvature -2A, or a line where A = 0. F is positive on the piece's left. Two such curves
meet where one of them meets the straight line F1 - k F2 (their radical line), so lines and arcs
need no cases.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Curves:
    """Lines and arcs, each from a start to an end.

    Attributes
    ----------
    start, end : (n, 2) float64
    bulges : (n,) float64
        tan(angle / 4), in [-1, 1]; positive where the curve turns from +x towards +y.
    """

    start: FloatArray
    end: FloatArray
    bulges: FloatArray

    def __len__(self) -> int:
        """Return the number of curves."""
        return len(self.bulges)

    def take(self, index: IntArray) -> Curves:
        """Return the curves of these indices."""
        return Curves(self.start[index], self.end[index], self.bulges[index])


@dataclass(frozen=True, eq=False)
class Frames:
    """Each curve in its own frame: middle and length of its chord, left normal, and F's terms."""

    middle: FloatArray
    chord: FloatArray
    along: FloatArray
    normal: FloatArray
    square: FloatArray
    slope: FloatArray
    offset: FloatArray
    bulges: FloatArray

    def take(self, index: IntArray) -> Frames:
        """Return the frames of these indices."""
        return Frames(*(getattr(self, name)[index] for name in self.__dataclass_fields__))

    def terms(self, origin: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return A (n,), N (n, 2) and D (n,) of F for points measured from `origin` (n, 2)."""
        away = origin - self.middle
        linear = self.slope[:, None] * self.normal + 2 * self.square[:, None] * away
        constant = (
            self.offset
            + self.square * (away * away).sum(axis=1)
            + self.slope * (away * self.normal).sum(axis=1)
        )
        return self.square, linear, constant

    def value(self, points: FloatArray) -> FloatArray:
        """Return F at one point for each curve: its distance, positive on the left."""
        away = points - self.middle
        level = self.slope * (away * self.normal).sum(axis=1)
        value: FloatArray = level + self.square * (away * away).sum(axis=1) + self.offset
        return value

    def holds(self, points: FloatArray, tolerance: float) -> NDArray[np.bool_]:
        """Return whether points on the full lines and circles lie on the pieces themselves.

        Points beyond the ends do not, however near: where they count, they are one with the ends.
        """
        away = points - self.middle
        u = (away * self.along).sum(axis=1)
        v = (away * self.normal).sum(axis=1)
        # An arc of positive bulge runs on the right of its chord.
        right_side = np.where(self.bulges == 0, True, v * np.sign(self.bulges) <= tolerance)
        held: NDArray[np.bool_] = (np.abs(u) <= self.chord / 2) & right_side
        return held


def frames(curves: Curves) -> Frames:
    """Return the frames of all curves; each must have a chord above 0."""
    run = curves.end - curves.start
    chord = np.hypot(*run.T)
    along = run / chord[:, None]
    bulges = curves.bulges
    share = 1 + bulges**2
    return Frames(
        middle=(curves.start + curves.end) / 2,
        chord=chord,
        along=along,
        normal=np.stack([-along[:, 1], along[:, 0]], axis=1),
        square=-2 * bulges / (chord * share),
        slope=(1 - bulges**2) / share,
        offset=bulges * chord / (2 * share),
        bulges=bulges,
    )


def boxes(curves: Curves) -> FloatArray:
    """Return the exact boxes x0, y0, x1, y1 of all curves, (n, 4)."""
    low = np.minimum(curves.start, curves.end)
    high = np.maximum(curves.start, curves.end)
    bent = np.flatnonzero(curves.bulges != 0)
    some = curves.take(bent)
    run = some.end - some.start
    b = some.bulges[:, None]
    left = np.stack([-run[:, 1], run[:, 0]], axis=1)
    centre = (some.start + some.end) / 2 + left * (1 - b * b) / (4 * b)
    radius = np.hypot(*run.T) * (1 + some.bulges**2) / (4 * np.abs(some.bulges))
    for axis in (0, 1):
        for sign in (-1, 1):
            extreme = centre.copy()
            extreme[:, axis] += sign * radius
            on_arc = ((extreme - (some.start + some.end) / 2) * left).sum(axis=1)
            reached = bent[on_arc * np.sign(some.bulges) < 0]
            value = extreme[on_arc * np.sign(some.bulges) < 0, axis]
            if sign < 0:
                low[reached, axis] = np.minimum(low[reached, axis], value)
            else:
                high[reached, axis] = np.maximum(high[reached, axis], value)
    return np.hstack([low, high])


def meetings(first: Frames, second: Frames, snap: float) -> FloatArray:
    """Return the points in which the full lines or circles of each pair meet, (2, n, 2).

    Points that do not exist are NaN. Curves that overlap or miss each other by less than `snap`
    touch in one point.
    """
    origin = first.middle
    a1, n1, d1 = first.terms(origin)
    a2, n2, d2 = second.terms(origin)
    swap = np.abs(a2) > np.abs(a1)
    big_a, small_a = np.where(swap, a2, a1), np.where(swap, a1, a2)
    big_n, small_n = np.where(swap[:, None], n2, n1), np.where(swap[:, None], n1, n2)
    big_d, small_d = np.where(swap, d2, d1), np.where(swap, d1, d2)
    ratio = np.divide(small_a, big_a, out=np.zeros_like(big_a), where=big_a != 0)
    normal = small_n - ratio[:, None] * big_n
    constant = small_d - ratio * big_d
    size = np.hypot(*normal.T)
    # Curves that stay together over all their length meet at their ends, not in between.
    alike = snap / (2 * np.maximum(first.chord, second.chord))
    size[size < alike] = np.nan
    normal = normal / size[:, None]
    foot = -normal * (constant / size)[:, None]
    along = np.stack([-normal[:, 1], normal[:, 0]], axis=1)
    # Along the radical line: A t^2 + slope t + F(foot) = 0.
    slope = (big_n * along).sum(axis=1) + 2 * big_a * (foot * along).sum(axis=1)
    slope[(big_a == 0) & (np.abs(slope) < alike)] = np.nan
    rest = big_a * (foot * foot).sum(axis=1) + (big_n * foot).sum(axis=1) + big_d
    t = _roots(big_a, slope, rest)
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = -slope / (2 * big_a)
        depth = np.abs(big_a * middle**2 + slope * middle + rest) * (1 + np.abs(ratio))
    touching = np.isfinite(middle) & (depth < snap)
    t[:, touching] = middle[touching]
    points: FloatArray = origin + foot + t[:, :, None] * along
    return points


def _roots(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Return both roots of a t^2 + b t + c, (2, n), NaN where there is none."""
    inside = b * b - 4 * a * c
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        q = -(b + np.where(b < 0, -1.0, 1.0) * np.sqrt(inside)) / 2
        roots = np.stack([c / q, q / a])
    roots[~np.isfinite(roots)] = np.nan
    return roots


def shares(curves: Curves, points: FloatArray) -> FloatArray:
    """Return at which share (0 to 1) of its curve's length each point on it lies, (n,).

    By the inscribed angle theorem the two distances to the ends give the angle swept so far.
    """
    from_start = np.hypot(*(points - curves.start).T)
    to_end = np.hypot(*(points - curves.end).T)
    half = 2 * np.arctan(np.abs(curves.bulges))
    level = from_start / np.maximum(from_start + to_end, 1e-300)
    swept = np.arctan2(from_start * np.sin(half), to_end + from_start * np.cos(half))
    flat = half < 1e-6
    share: FloatArray = np.where(flat, level, swept / np.where(flat, 1.0, half))
    return share


def part_bulges(bulges: FloatArray, share: FloatArray) -> FloatArray:
    """Return the bulges of parts that are this share of whole curves."""
    part: FloatArray = np.tan(np.arctan(bulges) * share)
    return part
