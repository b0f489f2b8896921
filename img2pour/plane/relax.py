"""All vertices and bulges of the map at once, by least squares.

One Gauss-Newton system for the whole map: every point pulls its own piece, pieces share their
vertices (so a junction is where its pieces want it together), and smooth joints are held tangent.
Each piece touches only five unknowns (two vertices, one bulge), so the system is sparse.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from img2pour.plane.draft import (
    Draft,
    Frames,
    curvatures,
    frames,
    joint_turns,
    local_points,
    residuals,
)
from img2pour.plane.regionmap import FloatArray, IntArray

VERTEX_DAMPING = 0.02
"""Holds vertices that nothing else holds, such as joints free to slide along a smooth curve."""

BULGE_DAMPING = 1e-3
"""The same for bulges, relative to the square of the chord's length (px^2)."""

LARGEST_STEP_PX = 2.0
"""A vertex moves no further in one round."""

LARGEST_BULGE = 0.95
"""A piece stays below a half circle."""


@dataclass(frozen=True, eq=False)
class RelaxSettings:
    """How points and tangents pull.

    Attributes
    ----------
    allowance_px : (P,) float64
        Noise of the points of each piece; those further off than three times it pull less (Huber).
    blur_variance_px2 : float
        Variance of blur and pixel along the edge: it pulls curves inwards by half of it times
        the curvature, which is added back.
    tangent_px : float
        Weight of a kink of one radian at a smooth joint.
    """

    allowance_px: FloatArray
    blur_variance_px2: float
    tangent_px: float


def relax(draft: Draft, settings: RelaxSettings, rounds: int) -> Draft:
    """Return `draft` after some rounds of Gauss-Newton.

    Parameters
    ----------
    draft : Draft
    settings : RelaxSettings
    rounds : int
        The last one counts little once the start is within a pixel: three to six do.
    """
    columns = _columns(draft)
    if columns.count == 0:
        return draft
    for _ in range(rounds):
        draft = _step(draft, settings, columns)
    return draft


@dataclass(frozen=True, eq=False)
class _Columns:
    """Column of each unknown in the system, -1 for what is held."""

    x: IntArray
    y: IntArray
    bulge: IntArray
    count: int


def _columns(draft: Draft) -> _Columns:
    """Give every unknown its column."""
    free = np.concatenate([draft.is_free[:, 0], draft.is_free[:, 1], draft.is_arc])
    number = np.where(free, np.cumsum(free) - 1, -1)
    vertices = len(draft.vertices)
    x, y, bulge = np.split(number, [vertices, 2 * vertices])
    return _Columns(x, y, bulge, int(free.sum()))


def _step(draft: Draft, settings: RelaxSettings, columns: _Columns) -> Draft:
    """Build and solve the normal equations once."""
    frame = frames(draft)
    blocks = [_point_blocks(draft, frame, settings, columns)]
    if len(draft.joints.before):
        blocks.append(_joint_blocks(draft, frame, settings, columns))
    rows, cols, values, target = _triplets(blocks, columns.count)
    diagonal = np.arange(columns.count)
    matrix = csc_array(
        (
            np.concatenate([values, _damping(draft, frame, columns)]),
            (np.concatenate([rows, diagonal]), np.concatenate([cols, diagonal])),
        ),
        shape=(columns.count, columns.count),
    )
    return _moved(draft, columns, splu(matrix, permc_spec="MMD_AT_PLUS_A").solve(-target))


def _moved(draft: Draft, columns: _Columns, change: FloatArray) -> Draft:
    """Apply the solution, within the largest step."""
    padded = np.append(change, 0.0)
    shift = np.stack([padded[columns.x], padded[columns.y]], axis=1)
    size = np.hypot(*shift.T)
    shift *= np.minimum(1.0, LARGEST_STEP_PX / np.maximum(size, 1e-12))[:, None]
    bulges = np.clip(draft.bulges + padded[columns.bulge], -LARGEST_BULGE, LARGEST_BULGE)
    return replace(draft, vertices=draft.vertices + shift, bulges=bulges)


def _damping(draft: Draft, frame: Frames, columns: _Columns) -> FloatArray:
    """Return the diagonal that holds what the points leave loose."""
    damping = np.full(columns.count, VERTEX_DAMPING)
    arcs = np.flatnonzero(columns.bulge >= 0)
    damping[columns.bulge[arcs]] = BULGE_DAMPING * frame.length[arcs] ** 2
    return damping


@dataclass(frozen=True, eq=False)
class _Blocks:
    """Dense blocks of the system: (B, n, n) matrices, (B, n) right sides and their columns."""

    matrix: FloatArray
    right: FloatArray
    columns: IntArray


def _triplets(
    blocks: list[_Blocks], count: int
) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Spread the blocks into triplets, leaving out what is held."""
    rows, cols, values = [], [], []
    target = np.zeros(count)
    for block in blocks:
        size = block.columns.shape[1]
        row = np.repeat(block.columns, size, axis=1).ravel()
        col = np.tile(block.columns, (1, size)).ravel()
        kept = (row >= 0) & (col >= 0)
        rows.append(row[kept])
        cols.append(col[kept])
        values.append(block.matrix.reshape(-1)[kept])
        free = block.columns >= 0
        np.add.at(target, block.columns[free], block.right[free])
    return np.concatenate(rows), np.concatenate(cols), np.concatenate(values), target


def _point_blocks(
    draft: Draft, frame: Frames, settings: RelaxSettings, columns: _Columns
) -> _Blocks:
    """Sum what the points of each piece pull on its two vertices and its bulge."""
    slopes = _point_slopes(draft, frame)
    owner = draft.owner
    axis = np.maximum(np.abs(frame.along).max(axis=1), 0.5)  # a piece of no length has no axis
    inward = 0.5 * settings.blur_variance_px2 * curvatures(draft, frame) / axis**2
    miss = residuals(draft) - inward[owner]
    huber = 3 * settings.allowance_px[owner] / np.maximum(np.abs(miss), 1e-12)
    weight = draft.weights * np.minimum(1.0, huber)
    pieces = len(draft.start)
    matrix = np.empty((pieces, 5, 5))
    right = np.empty((pieces, 5))
    for i in range(5):
        weighted = weight * slopes[i]
        right[:, i] = np.bincount(owner, weighted * miss, minlength=pieces)
        for j in range(i, 5):
            total = np.bincount(owner, weighted * slopes[j], minlength=pieces)
            matrix[:, i, j] = matrix[:, j, i] = total
    x, y = columns.x, columns.y
    names = [x[draft.start], y[draft.start], x[draft.end], y[draft.end], columns.bulge]
    return _Blocks(matrix, right, np.stack(names, axis=1))


def _point_slopes(draft: Draft, frame: Frames) -> list[FloatArray]:
    """Return how each residual changes with start x, y, end x, y and bulge."""
    u, v, length, bulge = local_points(draft, frame)
    owner = draft.owner
    scale = 1 / (1 + bulge**2)
    square = u * u + v * v
    by_u = -4 * bulge / length * u * scale
    by_v = ((1 - bulge**2) - 4 * bulge / length * v) * scale
    by_length = (2 * bulge / length**2 * square + bulge / 2) * scale
    turn = (v * by_u - u * by_v) / length
    ex, ey = frame.along[owner].T
    nx, ny = frame.normal[owner].T
    start_along, start_across = -by_u / 2 - by_length, -by_v / 2 - turn
    end_along, end_across = -by_u / 2 + by_length, -by_v / 2 + turn
    top = v * (1 - bulge**2) - 2 * bulge / length * square + bulge * length / 2
    by_bulge = (-2 * bulge * v - 2 / length * square + length / 2) * scale
    return [
        start_along * ex + start_across * nx,
        start_along * ey + start_across * ny,
        end_along * ex + end_across * nx,
        end_along * ey + end_across * ny,
        by_bulge - 2 * bulge * top * scale**2,
    ]


def _joint_blocks(
    draft: Draft, frame: Frames, settings: RelaxSettings, columns: _Columns
) -> _Blocks:
    """Return what each smooth joint pulls on the two pieces that meet there."""
    joints = draft.joints
    kink = joint_turns(draft, frame, joints)
    slopes, names = [], []
    for piece, backwards, sign in (
        (joints.before, joints.before_reversed, -1.0),
        (joints.after, joints.after_reversed, 1.0),
    ):
        # A chord's direction turns with its ends; the end's direction adds half the arc's angle.
        across = sign * frame.normal[piece] / frame.length[piece][:, None]
        arrives = (sign < 0) != backwards
        half = 2 / (1 + draft.bulges[piece] ** 2)
        slopes += [-across, across, (sign * np.where(arrives, half, -half))[:, None]]
        start, end = draft.start[piece], draft.end[piece]
        names += [columns.x[start], columns.y[start], columns.x[end], columns.y[end]]
        names += [columns.bulge[piece]]
    slope = settings.tangent_px * np.concatenate(slopes, axis=1)
    matrix = slope[:, :, None] * slope[:, None, :]
    right = slope * (settings.tangent_px * kink)[:, None]
    return _Blocks(matrix, right, np.stack(names, axis=1))
