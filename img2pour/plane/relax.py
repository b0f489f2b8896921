"""All vertices and bulges of the map at once, by least squares.

One Gauss-Newton system for the whole map: every point pulls its own piece, pieces share their
vertices (so a junction is where its pieces want it together), and smooth joints are held tangent.
Each piece touches only five unknowns (two vertices, one bulge), so the system is sparse.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.draft import Draft, Frames, curvatures, frames, joint_turns
from img2pour.plane.groups import linked_groups
from img2pour.plane.pulls import PointSums, of_moving, point_sums, pull_blocks
from img2pour.plane.regionmap import FloatArray, IntArray

VERTEX_DAMPING = 0.02
"""Holds vertices that nothing else holds, such as joints free to slide along a smooth curve."""

BULGE_DAMPING = 1e-3
"""The same for bulges, relative to the square of the chord's length (px^2)."""

LARGEST_STEP_PX = 2.0
"""A vertex moves no further in one round."""

LARGEST_BULGE = 0.95
"""A piece stays below a half circle."""

SETTLED_PX = 1e-3
"""Connected pieces that moved less than this in a round are left alone."""


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


def relax(
    draft: Draft, settings: RelaxSettings, rounds: int, moving: NDArray[np.bool_] | None = None
) -> Draft:
    """Return `draft` after some rounds of Gauss-Newton.

    Parameters
    ----------
    draft : Draft
    settings : RelaxSettings
    rounds : int
        The last one counts little once the start is within a pixel: three to six do.
    moving : (P,) bool, optional
        Pieces that may move, all unless given; pieces that share a vertex move together.
    """
    if moving is None:
        moving = np.ones(len(draft.start), bool)
    moving = with_companions(draft, moving)
    group = connected_pieces(draft)
    sums = point_sums(draft, moving)
    for _ in range(rounds):
        columns = _columns(draft, moving)
        if columns.count == 0:
            break
        sums = of_moving(sums, moving)
        moved = _step(draft, settings, columns, sums)
        moving = _of_groups(_has_moved(draft, moved), group)
        draft = moved
    return draft


def connected_pieces(draft: Draft) -> IntArray:
    """Return the number of the group of each piece: pieces that share vertices are one group."""
    return linked_groups(draft.start, draft.end, len(draft.vertices))[draft.start]


def with_companions(draft: Draft, moving: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the pieces that move with those that do, vertex by vertex."""
    if moving.all() or not moving.any():
        return moving
    return _of_groups(moving, connected_pieces(draft))


def _of_groups(moving: NDArray[np.bool_], group: IntArray) -> NDArray[np.bool_]:
    """Return the pieces of all groups in which one moves."""
    moves = np.zeros(int(group.max(initial=-1)) + 1, bool)
    moves[group[moving]] = True
    together: NDArray[np.bool_] = moves[group]
    return together


def _has_moved(before: Draft, after: Draft) -> NDArray[np.bool_]:
    """Return the pieces that moved by more than SETTLED_PX at an end or in their middle."""
    shift = np.hypot(*(after.vertices - before.vertices).T)
    chord = np.hypot(*(after.vertices[after.end] - after.vertices[after.start]).T)
    rise = np.abs(after.bulges - before.bulges) * chord / 2
    most = np.maximum(np.maximum(shift[after.start], shift[after.end]), rise)
    moved: NDArray[np.bool_] = most > SETTLED_PX
    return moved


@dataclass(frozen=True, eq=False)
class _Columns:
    """Column of each unknown in the system, -1 for what is held."""

    x: IntArray
    y: IntArray
    bulge: IntArray
    count: int


def _columns(draft: Draft, moving: NDArray[np.bool_]) -> _Columns:
    """Give every unknown its column."""
    touched = np.zeros(len(draft.vertices), bool)
    touched[draft.start[moving]] = touched[draft.end[moving]] = True
    free = draft.is_free & touched[:, None]
    free = np.concatenate([free[:, 0], free[:, 1], draft.is_arc & moving])
    number = np.where(free, np.cumsum(free) - 1, -1)
    vertices = len(draft.vertices)
    x, y, bulge = np.split(number, [vertices, 2 * vertices])
    return _Columns(x, y, bulge, int(free.sum()))


def _step(draft: Draft, settings: RelaxSettings, columns: _Columns, sums: PointSums) -> Draft:
    """Build and solve the normal equations once."""
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import splu

    frame = frames(draft)
    blocks = [_point_blocks(draft, frame, settings, columns, sums)]
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
    solved = splu(
        matrix,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    ).solve(-target)
    return _moved(draft, columns, solved)


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
        target += np.bincount(block.columns[free], block.right[free], minlength=count)
    return np.concatenate(rows), np.concatenate(cols), np.concatenate(values), target


def _point_blocks(
    draft: Draft, frame: Frames, settings: RelaxSettings, columns: _Columns, sums: PointSums
) -> _Blocks:
    """Return what the points of each piece pull on its two vertices and its bulge."""
    # The greater share of a unit vector is at least sqrt(1/2); pieces of no length have none.
    axis = np.maximum(np.abs(frame.along).max(axis=1), np.sqrt(0.5))
    inward = 0.5 * settings.blur_variance_px2 * curvatures(draft, frame) / axis**2
    matrix, right = pull_blocks(sums, draft, inward, settings.allowance_px)
    x, y, piece = columns.x, columns.y, sums.pieces
    start, end = draft.start[piece], draft.end[piece]
    names = [x[start], y[start], x[end], y[end], columns.bulge[piece]]
    return _Blocks(matrix, right, np.stack(names, axis=1))


def _joint_blocks(
    draft: Draft, frame: Frames, settings: RelaxSettings, columns: _Columns
) -> _Blocks:
    """Return what each smooth joint pulls on the two pieces that meet there."""
    joints = draft.joints
    kink = joint_turns(draft, frame, joints)
    slope = settings.tangent_px * joint_slopes(draft, frame)
    names = []
    for piece in (joints.before, joints.after):
        start, end = draft.start[piece], draft.end[piece]
        names += [columns.x[start], columns.y[start], columns.x[end], columns.y[end]]
        names += [columns.bulge[piece]]
    matrix = slope[:, :, None] * slope[:, None, :]
    right = slope * (settings.tangent_px * kink)[:, None]
    return _Blocks(matrix, right, np.stack(names, axis=1))


def joint_slopes(draft: Draft, frame: Frames) -> FloatArray:
    """Return how each joint's kink changes with the unknowns of both its pieces, (S, 10).

    Columns: start x, start y, end x, end y and bulge of the piece before, then of the one after.
    """
    joints = draft.joints
    slopes = []
    for piece, backwards, sign in (
        (joints.before, joints.before_reversed, -1.0),
        (joints.after, joints.after_reversed, 1.0),
    ):
        # A chord's direction turns with its ends; the end's direction adds half the arc's angle.
        across = sign * frame.normal[piece] / frame.length[piece][:, None]
        arrives = (sign < 0) != backwards
        half = 2 / (1 + draft.bulges[piece] ** 2)
        slopes += [-across, across, (sign * np.where(arrives, half, -half))[:, None]]
    return np.concatenate(slopes, axis=1)
