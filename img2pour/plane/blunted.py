"""Points beside a corner that blur has rounded off, put back onto the sides they came from.

A wedge blurred by a Gaussian is half covered along a curve that leaves the sides near the tip. In
units of sigma the point at distance b inside the one side lies a inside the other where
P(u < a, v < b) = 1/2 for two standard normals with correlation -cos(angle): the bivariate normal
distribution. Moved outwards by a, the point lies on the side again and may pull it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from img2pour.plane.corners import Candidates, Outlines
from img2pour.plane.draft import Draft, Joints, end_directions, frames
from img2pour.plane.regionmap import FloatArray, IntArray

LEAST_INSIDE, MOST_INSIDE = 0.6, 3.2
"""Distances from the other side, in sigma, between which a point is moved: nearer to the tip it
says little, further away it has not moved."""

LEAST_ANGLE_DEG, MOST_ANGLE_DEG = 24.0, 160.0
"""Angles of the wedge for which points are moved."""

LINE_POINTS = 6
"""Points on each side, beyond those that blur has moved, that tell the sides of a wedge."""

LEAST_TOLD, THIN = 3, 5.0
"""With fewer points the sides run nearly against each other: an end, not a corner, unless the
stroke is thinner than so many sigma and ends in what can only be a tip."""

LEAST_OFF_PX, OFF_PER_NOISE = 0.3, 3.0
"""Points this near to a blurred wedge speak for a corner; noise is granted on top."""

ANGLES, DISTANCES, NODES, NEWTON_ROUNDS = 18, 27, 48, 12


@dataclass(frozen=True, eq=False)
class _Corners:
    """Corners between successive pieces: the piece on this side, and the other side's line.

    Attributes
    ----------
    piece : (K,) int64
    tip : (K, 2) float64
    outward : (K, 2) float64
        Unit normal of this side, away from the wedge.
    inward_other : (K, 2) float64
        Unit normal of the other side, into the wedge.
    angle_deg : (K,) float64
        Of the wedge.
    """

    piece: IntArray
    tip: FloatArray
    outward: FloatArray
    inward_other: FloatArray
    angle_deg: FloatArray


def put_back(draft: Draft, corners: Joints, sigma_px: float) -> Draft:
    """Return the draft with the points beside some corners moved back and trusted.

    Parameters
    ----------
    draft : Draft
        Relaxed, so that its corners are near to the true ones.
    corners : Joints
        Pieces of one arc that meet at a corner.
    sigma_px : float
        Of blur and pixel together.
    """
    points, weights = draft.points.copy(), draft.weights.copy()
    first = np.searchsorted(draft.owner, np.arange(len(draft.start)))
    last = np.searchsorted(draft.owner, np.arange(len(draft.start)), side="right")
    for at_end in (True, False):
        sides = _corners(draft, corners, at_end)
        counts = last[sides.piece] - first[sides.piece]
        reach = np.minimum(counts, int(np.ceil(2 * MOST_INSIDE * sigma_px)) + 2)
        which = np.repeat(np.arange(len(reach)), reach)
        step = np.arange(len(which)) - np.repeat(np.cumsum(reach) - reach, reach)
        owner = sides.piece[which]
        index = last[owner] - 1 - step if at_end else first[owner] + step
        away = draft.points[index] - sides.tip[which]
        inside = (away * sides.inward_other[which]).sum(axis=1) / sigma_px
        shift, weight = _back(sides.angle_deg[which], inside)
        told = (weight > 0) & (inside < MOST_INSIDE)
        points[index[told]] += (sigma_px * shift * sides.outward[which].T).T[told]
        weights[index[told]] = weight[told]
    return replace(draft, points=points, weights=weights)


def without_round_corners(
    breaks: Candidates, outlines: Outlines, noise_px: FloatArray, sigma_px: float, reach: int
) -> Candidates:
    """Return the candidates, those no longer for a corner that blur alone does not explain.

    Parameters
    ----------
    breaks : Candidates
    outlines : Outlines
    noise_px : (A,) float64
        Scatter (rms) of the points of each outline.
    sigma_px : float
        Of blur and pixel together.
    reach : int
        Points on both sides of a corner that blur has moved.
    """
    arc = np.repeat(np.arange(len(outlines.closed)), np.diff(breaks.offsets))
    low, count = outlines.offsets[:-1][arc], np.diff(outlines.offsets)[arc]
    room = reach + LINE_POINTS
    local = breaks.index - low
    has_room = outlines.closed[arc] | ((local >= room) & (local + room <= count))
    asked = np.flatnonzero(breaks.is_corner & has_room & (count >= 3 * room))
    steps = np.arange(-room, room)
    places = low[asked, None] + (local[asked, None] + steps) % count[asked, None]
    off = _off_wedge(outlines.points[places], reach, sigma_px)
    is_corner = breaks.is_corner.copy()
    is_corner[asked] = off <= LEAST_OFF_PX + OFF_PER_NOISE * noise_px[arc[asked]]
    return replace(breaks, is_corner=is_corner)


def _off_wedge(points: FloatArray, reach: int, sigma_px: float) -> FloatArray:
    """Return how far (rms) the middle points of windows lie from a blurred wedge, in px.

    Parameters
    ----------
    points : (K, 2 n, 2) float64
        Successive points about each corner; `reach` on both sides of the middle may be moved,
        those before and after tell the sides.
    reach : int
    sigma_px : float
    """
    half = points.shape[1] // 2
    before, after = points[:, : half - reach], points[:, half + reach :]
    near = points[:, half - reach : half + reach]
    arrive, leave = _direction(before), _direction(after)
    cross = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
    turn = np.arctan2(cross, (arrive * leave).sum(axis=1))
    side = np.sign(turn)[:, None]
    inside = np.stack(
        [side * _left(near, before, arrive), side * _left(near, after, leave)], axis=1
    )
    own = np.repeat([0, 1], reach)[None, None]
    distance = np.take_along_axis(inside, np.broadcast_to(own, inside[:, :1].shape), axis=1)[:, 0]
    other = np.take_along_axis(inside, np.broadcast_to(1 - own, inside[:, :1].shape), axis=1)[:, 0]
    angle = np.broadcast_to(180 - np.degrees(np.abs(turn))[:, None], distance.shape)
    shift, weight = _back(angle, other / sigma_px)
    told = weight > 0
    square = np.where(told, (distance - sigma_px * shift) ** 2, 0.0).sum(axis=1)
    count = told.sum(axis=1)
    wide = np.median(inside.sum(axis=1), axis=1) > THIN * sigma_px
    off: FloatArray = np.sqrt(square / np.maximum(count, 1))
    return np.where(wide & (count < LEAST_TOLD), np.inf, off)


def _direction(points: FloatArray) -> FloatArray:
    """Return the unit direction of rows of points, from the middle of the first half on."""
    half = points.shape[1] // 2
    along = points[:, -half:].mean(axis=1) - points[:, :half].mean(axis=1)
    unit: FloatArray = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    return unit


def _left(points: FloatArray, line: FloatArray, along: FloatArray) -> FloatArray:
    """Return how far to the left of the line through some points others lie, row by row."""
    away = points - line.mean(axis=1, keepdims=True)
    distance: FloatArray = along[:, :1] * away[..., 1] - along[:, 1:] * away[..., 0]
    return distance


def _corners(draft: Draft, joints: Joints, at_end: bool) -> _Corners:
    """Return the corners as seen from the pieces before them, or from those after."""
    begins, ends = end_directions(draft, frames(draft))
    arrive, leave = ends[joints.before], begins[joints.after]
    turn = (leave - arrive + np.pi) % (2 * np.pi) - np.pi
    side = np.sign(turn)
    own, other = (arrive, leave) if at_end else (leave, arrive)
    left_own = np.stack([-np.sin(own), np.cos(own)], axis=1)
    left_other = np.stack([-np.sin(other), np.cos(other)], axis=1)
    piece = joints.before if at_end else joints.after
    return _Corners(
        piece,
        draft.vertices[draft.end[joints.before]],
        -side[:, None] * left_own,
        side[:, None] * left_other,
        180 - np.degrees(np.abs(turn)),
    )


def _back(angle_deg: FloatArray, inside: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return how far points lie inside their side, in sigma, and how much they still tell of it."""
    shifts, weights = _table()
    row = (angle_deg - LEAST_ANGLE_DEG) / (MOST_ANGLE_DEG - LEAST_ANGLE_DEG) * (ANGLES - 1)
    column = (inside - LEAST_INSIDE) / (MOST_INSIDE - LEAST_INSIDE) * (DISTANCES - 1)
    known = (row >= 0) & (row <= ANGLES - 1) & (column >= 0)
    i = np.clip(row.astype(np.int64), 0, ANGLES - 2)
    j = np.clip(column.astype(np.int64), 0, DISTANCES - 2)
    u, v = np.clip(row - i, 0, 1), np.clip(column - j, 0, 1)

    def between(table: FloatArray) -> FloatArray:
        low = table[i, j] * (1 - v) + table[i, j + 1] * v
        high = table[i + 1, j] * (1 - v) + table[i + 1, j + 1] * v
        value: FloatArray = low * (1 - u) + high * u
        return value

    return between(shifts), np.where(known, between(weights), 0.0)


@cache
def _table() -> tuple[FloatArray, FloatArray]:
    """Return a, and the share of its own slope that the edge keeps, by angle and by b."""
    from scipy.special import ndtr

    angle = np.radians(np.linspace(LEAST_ANGLE_DEG, MOST_ANGLE_DEG, ANGLES))[:, None]
    b = np.linspace(LEAST_INSIDE, MOST_INSIDE, DISTANCES)[None]
    correlation = -np.cos(angle)
    spread = np.sqrt(1 - correlation**2)
    node, weight = np.polynomial.legendre.leggauss(NODES)
    a = np.full((ANGLES, DISTANCES), 0.3)
    slope = np.ones_like(a)
    for _ in range(NEWTON_ROUNDS):
        low = -6.0
        u = low + (a[..., None] - low) * (node + 1) / 2
        inner = ndtr((b[..., None] - correlation[..., None] * u) / spread[..., None])
        covered = (np.exp(-u * u / 2) * inner * weight).sum(axis=2) * (a - low) / 2
        covered /= np.sqrt(2 * np.pi)
        slope = np.exp(-a * a / 2) * ndtr((b - correlation * a) / spread)
        a = a - np.clip((covered - 0.5) * np.sqrt(2 * np.pi) / np.maximum(slope, 1e-6), -0.5, 0.5)
    return a, slope**2
