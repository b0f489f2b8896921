"""What the points pull on their piece, from ten sums a piece instead of the points themselves.

In a piece's own frame (u along the chord, v to its left, z = u^2 + v^2) the distance of a point
and all its slopes are linear in (1, u, v, z). The 4 x 4 matrix of their products over the points is
therefore all that least squares need, and it follows the piece through turns and shifts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.draft import Draft, Frames, frames, in_frames
from img2pour.plane.regionmap import FloatArray, IntArray

HUBER_ALLOWANCES = 3.0
"""Points further off than so many times the allowance pull no harder than at that distance."""


@dataclass(frozen=True, eq=False)
class PointSums:
    """The points of some pieces in the frames that the pieces had at first.

    Attributes
    ----------
    pieces : (Q,) int64
        The pieces with points, ascending.
    bounds : (Q + 1,) int64
        Piece pieces[q] owns the points bounds[q] .. bounds[q + 1] - 1.
    u, v : (N,) float64
    weights : (N,) float64
    frame : Frames
        The first frames, of these pieces.
    plain : (Q, 4, 4) float64
        Sums of products of (1, u, v, z) with the points' own weights.
    """

    pieces: IntArray
    bounds: IntArray
    u: FloatArray
    v: FloatArray
    weights: FloatArray
    frame: Frames
    plain: FloatArray


def _picked(frame: Frames, which: IntArray) -> Frames:
    """Return the frames of some pieces."""
    return Frames(frame.length[which], frame.along[which], frame.normal[which], frame.middle[which])


def point_sums(draft: Draft, moving: NDArray[np.bool_]) -> PointSums:
    """Return the sums of the pieces that move; points of weight 0 are left out.

    Parameters
    ----------
    draft : Draft
    moving : (P,) bool
    """
    used = np.flatnonzero((draft.weights > 0) & moving[draft.owner])
    owner = draft.owner[used]
    bounds = np.append(np.flatnonzero(np.diff(owner, prepend=-1)), len(owner))
    pieces = owner[bounds[:-1]]
    frame = _picked(frames(draft), pieces)
    u, v = in_frames(draft.points[used], frame, np.diff(bounds))
    weights = draft.weights[used]
    return PointSums(pieces, bounds, u, v, weights, frame, _products(u, v, weights, bounds))


def of_moving(sums: PointSums, moving: NDArray[np.bool_]) -> PointSums:
    """Return the sums of those pieces that still move."""
    kept = moving[sums.pieces]
    if kept.all():
        return sums
    counts = np.diff(sums.bounds)
    own = np.repeat(kept, counts)
    return PointSums(
        sums.pieces[kept],
        np.concatenate([[0], np.cumsum(counts[kept])]),
        sums.u[own],
        sums.v[own],
        sums.weights[own],
        _picked(sums.frame, np.flatnonzero(kept)),
        sums.plain[kept],
    )


def _products(u: FloatArray, v: FloatArray, weights: FloatArray, bounds: IntArray) -> FloatArray:
    """Return the sums of weighted products of (1, u, v, z) over each run, (Q, 4, 4)."""
    totals = np.empty((len(bounds) - 1, 4, 4))
    if len(totals) == 0:
        return totals
    basis = (np.ones_like(u), u, v, u * u + v * v)
    for i in range(4):
        weighted = weights * basis[i]
        for j in range(i, 4):
            total = np.add.reduceat(weighted * basis[j], bounds[:-1])
            totals[:, i, j] = totals[:, j, i] = total
    return totals


def moved_basis(first: Frames, now: Frames) -> FloatArray:
    """Return the matrices that take (1, u, v, z) of the first frames to those of now, (Q, 4, 4)."""
    gap = first.middle - now.middle
    move = np.zeros((len(gap), 4, 4))
    move[:, 0, 0] = move[:, 3, 3] = 1.0
    for row, axis in ((1, now.along), (2, now.normal)):
        move[:, row, 0] = (gap * axis).sum(axis=1)
        move[:, row, 1] = (first.along * axis).sum(axis=1)
        move[:, row, 2] = (first.normal * axis).sum(axis=1)
    move[:, 3, 0] = (gap**2).sum(axis=1)
    move[:, 3, 1] = 2 * (gap * first.along).sum(axis=1)
    move[:, 3, 2] = 2 * (gap * first.normal).sum(axis=1)
    return move


def distance_terms(length: FloatArray, bulges: FloatArray) -> FloatArray:
    """Return the distance of a point from its piece in terms of (1, u, v, z), (Q, 4)."""
    scale = 1 / (1 + bulges**2)
    terms = np.zeros((len(length), 4))
    terms[:, 0] = bulges * length / 2 * scale
    terms[:, 2] = (1 - bulges**2) * scale
    terms[:, 3] = -2 * bulges / length * scale
    return terms


def slope_terms(frame: Frames, bulges: FloatArray) -> FloatArray:
    """Return the distance's slopes in terms of (1, u, v, z), (Q, 5, 4).

    Rows: start x, start y, end x, end y, bulge.
    """
    length, scale = frame.length, 1 / (1 + bulges**2)
    bend = -4 * bulges / length * scale
    tall = (1 - bulges**2) * scale
    zero = np.zeros_like(length)
    by_u = np.stack([zero, bend, zero, zero], axis=1)
    by_v = np.stack([tall, zero, bend, zero], axis=1)
    by_length = np.stack([bulges / 2 * scale, zero, zero, 2 * bulges / length**2 * scale], axis=1)
    turn = np.stack([zero, -tall / length, zero, zero], axis=1)
    terms = np.empty((len(length), 5, 4))
    for row, along, across in (
        (0, -by_u / 2 - by_length, -by_v / 2 - turn),
        (2, -by_u / 2 + by_length, -by_v / 2 + turn),
    ):
        for axis in (0, 1):
            terms[:, row + axis] = (
                along * frame.along[:, axis, None] + across * frame.normal[:, axis, None]
            )
    by_bulge = np.stack([length / 2, zero, -2 * bulges, -2 / length], axis=1)
    distance = distance_terms(length, bulges)
    terms[:, 4] = scale[:, None] * (by_bulge - 2 * bulges[:, None] * distance)
    return terms


def pull_blocks(
    sums: PointSums, draft: Draft, inward: FloatArray, allowance_px: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the normal equations of each piece: matrices (Q, 5, 5) and right sides (Q, 5).

    Parameters
    ----------
    sums : PointSums
    draft : Draft
        As it is now.
    inward : (P,) float64
        How far blur drew the points of each piece to the left.
    allowance_px : (P,) float64
        Noise of the points of each piece.
    """
    now = _picked(frames(draft), sums.pieces)
    bulges = draft.bulges[sums.pieces]
    miss = distance_terms(now.length, bulges)
    miss[:, 0] -= inward[sums.pieces]
    move = moved_basis(sums.frame, now)
    first_miss = (miss[:, None, :] @ move)[:, 0]
    products = _with_huber(sums, first_miss, HUBER_ALLOWANCES * allowance_px[sums.pieces])
    slopes = slope_terms(now, bulges) @ move
    pulled = slopes @ products
    return pulled @ slopes.transpose(0, 2, 1), (pulled @ first_miss[:, :, None])[:, :, 0]


def _with_huber(sums: PointSums, miss: FloatArray, limit_px: FloatArray) -> FloatArray:
    """Return the sums of products with far points weighing less (Huber's weights)."""
    counts = np.diff(sums.bounds)
    terms = np.repeat(miss, counts, axis=0)
    u, v = sums.u, sums.v
    off = np.abs(terms[:, 0] + terms[:, 1] * u + terms[:, 2] * v + terms[:, 3] * (u * u + v * v))
    limit = np.repeat(limit_px, counts)
    far = off > limit
    if not far.any():
        return sums.plain
    touched = np.flatnonzero(np.add.reduceat(far, sums.bounds[:-1]))
    own = np.zeros(len(counts), bool)
    own[touched] = True
    mine = np.flatnonzero(np.repeat(own, counts))
    weights = sums.weights[mine] * np.minimum(1.0, limit[mine] / np.maximum(off[mine], 1e-12))
    bounds = np.concatenate([[0], np.cumsum(counts[touched])])
    products = sums.plain.copy()
    products[touched] = _products(u[mine], v[mine], weights, bounds)
    return products
