"""Cubic curves as circular arcs: pairs of arcs that run into each other without a kink.

Each stretch of a curve becomes two arcs with its ends and its end directions; where they stray
from the curve by more than the tolerance the stretch is halved. All curves are worked on at once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.curves import Curves, Frames, frames
from img2pour.plane.regionmap import FloatArray, IntArray

MOST_HALVINGS = 14
"""After so many halvings (cusps) what is left becomes a line."""

WIDEST_HALF_RAD = 1.2
"""An arc that turns by more than twice this is too wide to be checked by a few points."""

CHECKED_AT = np.linspace(0, 1, 12)[1:-1]


def arcs_from_cubics(
    controls: FloatArray, tolerance: float
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return arcs that follow cubic curves.

    Parameters
    ----------
    controls : (n, 4, 2) float64
        Control points of each curve.
    tolerance : float
        Greatest distance between a curve and its arcs; above 0.

    Returns
    -------
    starts : (m, 2) float64
        Where each arc begins; it ends where the next one of its curve begins, the last one at the
        curve's end.
    bulges : (m,) float64
    owner : (m,) int64
        The curve of each arc, ascending.
    """
    owner = np.arange(len(controls))
    begin, size = np.zeros(len(controls)), 1.0
    done: list[tuple[FloatArray, FloatArray, IntArray, FloatArray]] = []
    for halving in range(MOST_HALVINGS + 1):
        first, second = _parts(controls[owner], begin, size)
        start, middle, end, bulges = _two_arcs(first, second)
        sound = _follows(controls[owner], begin, size, (start, middle, end, bulges), tolerance)
        if halving == MOST_HALVINGS:
            bulges[~sound] = 0.0
            middle[~sound] = (start[~sound] + end[~sound]) / 2
            sound[:] = True
        for part, (points, bulge) in enumerate(((start, bulges[:, 0]), (middle, bulges[:, 1]))):
            place = begin[sound] + part * size / 2
            done.append((points[sound], bulge[sound], owner[sound], place))
        owner = np.repeat(owner[~sound], 2)
        begin = np.repeat(begin[~sound], 2)
        size /= 2
        begin[1::2] += size
        if len(owner) == 0:
            break
    starts, bulge, owners, places = (np.concatenate(column) for column in zip(*done, strict=True))
    order = np.lexsort((places, owners))
    return starts[order], bulge[order], owners[order]


def _at(controls: FloatArray, t: FloatArray) -> FloatArray:
    """Return the point of each curve at its own t, (n, 2)."""
    s, t = (1 - t)[:, None], t[:, None]
    a, b, c, d = controls.transpose(1, 0, 2)
    point: FloatArray = s**3 * a + 3 * s * s * t * b + 3 * s * t * t * c + t**3 * d
    return point


def _parts(
    controls: FloatArray, begin: FloatArray, size: float
) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
    """Return point and unit direction at both ends of each stretch."""
    ends = []
    for t, inwards in ((begin, 1.0), (begin + size, -1.0)):
        point = _at(controls, t)
        s = 1 - t
        a, b, c, d = controls.transpose(1, 0, 2)
        slope = (s * s)[:, None] * (b - a) + (2 * s * t)[:, None] * (c - b)
        slope = slope + (t * t)[:, None] * (d - c)
        # Where control points coincide the direction is that of a point a little further in.
        ahead = inwards * (_at(controls, t + inwards * size * 1e-3) - point)
        extent = np.abs(controls - controls[:, :1]).max(axis=(1, 2))
        weak = np.hypot(*slope.T) < 1e-9 * extent
        slope = np.where(weak[:, None], ahead, slope)
        length = np.hypot(*slope.T)
        ends.append((point, slope / np.where(length > 0, length, 1.0)[:, None]))
    return ends[0], ends[1]


def _two_arcs(
    first: tuple[FloatArray, FloatArray], second: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return start, joint, end and both bulges of the arcs with these ends and directions.

    With equal tangent lengths d the joint is (p + q + d (s - t)) / 2, where
    2 d^2 (1 - s.t) + 2 d v.(s + t) - v.v = 0 and v = q - p.
    """
    (p, s), (q, t) = first, second
    v = q - p
    square = (v * v).sum(axis=1)
    along = (v * (s + t)).sum(axis=1)
    spread = 2 * (1 - (s * t).sum(axis=1))
    root = np.sqrt(along**2 + spread * square)
    below = root + along
    with np.errstate(divide="ignore", invalid="ignore"):
        d = np.where(below > 1e-12, square / below, (root - along) / spread)
    d = np.where(np.isfinite(d), d, 0.0)
    joint = (p + q + d[:, None] * (s - t)) / 2
    one = _angle_between(s, joint - p)
    other = _angle_between(q - joint, t)
    return p, joint, q, np.tan(np.stack([one, other], axis=1) / 2)


def _angle_between(one: FloatArray, other: FloatArray) -> FloatArray:
    cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    angle: FloatArray = np.arctan2(cross, (one * other).sum(axis=1))
    return angle


def _follows(
    controls: FloatArray,
    begin: FloatArray,
    size: float,
    arcs: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    tolerance: float,
) -> NDArray[np.bool_]:
    """Return whether the two arcs stay within the tolerance of each stretch."""
    start, joint, end, bulges = arcs
    gap = np.minimum(np.hypot(*(joint - start).T), np.hypot(*(end - joint).T))
    sound = (np.abs(bulges) <= np.tan(WIDEST_HALF_RAD / 2)).all(axis=1)
    tiny = np.hypot(*(end - start).T) < tolerance / 10
    usable = sound & (gap > 0)
    away = np.zeros(len(begin))
    index = np.flatnonzero(usable)
    one = frames(Curves(start[index], joint[index], bulges[index, 0]))
    other = frames(Curves(joint[index], end[index], bulges[index, 1]))
    for share in CHECKED_AT:
        point = _at(controls[index], begin[index] + share * size)
        miss = np.minimum(_distance(one, point), _distance(other, point))
        away[index] = np.maximum(away[index], miss)
    followed: NDArray[np.bool_] = usable & (away <= tolerance)
    followed |= tiny & (_hull(controls, size) < tolerance)
    return followed


def _hull(controls: FloatArray, size: float) -> FloatArray:
    """Return about how far a stretch of this share of a curve can reach."""
    steps = np.abs(np.diff(controls, axis=1)).sum(axis=(1, 2))
    reach: FloatArray = 3 * size * steps
    return reach


def _distance(frame: Frames, points: FloatArray) -> FloatArray:
    """Return the distance of each point from its arc, larger where it lies beyond its ends."""
    away = points - frame.middle
    beyond = np.maximum(np.abs((away * frame.along).sum(axis=1)) - frame.chord / 2, 0)
    bent = np.abs(frame.bulges) > 0.5
    distance: FloatArray = np.abs(frame.value(points)) + np.where(bent, 0, beyond)
    return distance
