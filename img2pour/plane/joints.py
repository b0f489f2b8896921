"""Which pieces run into each other smoothly, and which meet at a corner."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.draft import Draft, Joints, end_directions, frames, joint_turns
from img2pour.plane.regionmap import FloatArray, IntArray

SMOOTH_DEG = 14.0
"""Two pieces that meet at less than this are taken for one smooth outline."""

MOST_DOUBT_DEG = 20.0
"""Short pieces do not know their direction; this much is granted to them on top."""

THROUGH_DEG = 7.0
"""The same for an outline that runs on through a junction, where a kink is likelier."""

LEAST_POINTS = 6
"""A piece with fewer points says nothing of its direction."""


def find_joints(draft: Draft, closed: NDArray[np.bool_], allowance_px: FloatArray) -> Joints:
    """Return the smooth joints: those along each arc, and those through junctions.

    Parameters
    ----------
    draft : Draft
        Relaxed without joints, so that its kinks are the points' own.
    closed : (A,) bool
        Arcs whose end runs on into their start.
    allowance_px : (P,) float64
        Noise of the points of each piece.
    """
    along = _along_arcs(draft, closed)
    kinks = np.abs(joint_turns(draft, frames(draft), along))
    doubt = _direction_doubt(draft, allowance_px)
    doubts = np.hypot(doubt[along.before], doubt[along.after])
    smooth = kinks < np.radians(SMOOTH_DEG) + np.minimum(2 * doubts, np.radians(MOST_DOUBT_DEG))
    return _joined(_picked(along, smooth), _through_nodes(draft, closed))


def _direction_doubt(draft: Draft, allowance_px: FloatArray) -> FloatArray:
    """Return the standard error of each piece's direction at its ends, radians.

    For n points a pixel apart with error s the slope of a line is known to s sqrt(12 / n^3), that
    of a parabola at its ends to four times as much (least squares).
    """
    count = np.maximum(np.bincount(draft.owner, draft.weights, minlength=len(draft.start)), 1.0)
    factor = np.where(draft.is_arc, 4.0, 1.0)
    doubt: FloatArray = factor * allowance_px * np.sqrt(12 / count**3)
    return doubt


def _along_arcs(draft: Draft, closed: NDArray[np.bool_]) -> Joints:
    """Return all joints between successive pieces of the same arc."""
    counts = np.diff(draft.offsets)
    arc = np.repeat(np.arange(len(counts)), counts)
    before = np.arange(len(arc))
    after = before + 1
    is_last = np.zeros(len(arc), bool)
    is_last[draft.offsets[1:][counts > 0] - 1] = True
    after[is_last] = draft.offsets[:-1][counts > 0]
    kept = ~is_last | (closed & (counts > 1))[arc]
    before, after = before[kept], after[kept]
    never = np.zeros(len(before), bool)
    return Joints(before, after, never, never)


def _through_nodes(draft: Draft, closed: NDArray[np.bool_]) -> Joints:
    """Return, at each junction of three arcs, the pair that is straightest, if straight enough."""
    counts = np.diff(draft.offsets)
    arcs = np.flatnonzero((counts > 0) & ~closed)
    first, last = draft.offsets[arcs], draft.offsets[arcs + 1] - 1
    piece = np.concatenate([first, last])
    at_end = np.repeat([False, True], len(arcs))
    node = np.where(at_end, draft.end[piece], draft.start[piece])
    begins, ends = end_directions(draft, frames(draft))
    leaving = np.where(at_end, ends[piece] + np.pi, begins[piece])
    known = np.bincount(draft.owner, draft.weights, minlength=len(draft.start))
    sure = known[piece] >= LEAST_POINTS
    order = np.argsort(node, kind="stable")
    starts = np.flatnonzero(np.diff(node[order], prepend=-1))
    sizes = np.diff(np.append(starts, len(order)))
    three = order[starts[sizes == 3][:, None] + np.arange(3)]
    pairs = np.array([[0, 1], [0, 2], [1, 2]])
    turn = leaving[three[:, pairs[:, 0]]] - leaving[three[:, pairs[:, 1]]]
    kink = np.abs(np.abs((turn + np.pi) % (2 * np.pi) - np.pi) - np.pi)
    kink = np.where(sure[three[:, pairs]].all(axis=2), kink, np.pi)
    best = np.argmin(kink, axis=1)
    straight = kink[np.arange(len(best)), best] < np.radians(THROUGH_DEG)
    chosen = np.take_along_axis(three, pairs[best], axis=1)[straight]
    a, b = chosen[:, 0], chosen[:, 1]
    return Joints(piece[a], piece[b], ~at_end[a], at_end[b])


def corners_along(draft: Draft, closed: NDArray[np.bool_]) -> Joints:
    """Return the places along arcs at which pieces meet in a corner."""
    along = _along_arcs(draft, closed)
    smooth = smooth_ends(draft)
    return _picked(along, ~smooth[along.before, 1])


def _picked(joints: Joints, which: NDArray[np.bool_]) -> Joints:
    """Return some of the joints."""
    return Joints(
        joints.before[which],
        joints.after[which],
        joints.before_reversed[which],
        joints.after_reversed[which],
    )


def joints_among(joints: Joints, pieces: NDArray[np.bool_]) -> Joints:
    """Return the joints of some pieces only."""
    return _picked(joints, pieces[joints.before])


def _joined(a: Joints, b: Joints) -> Joints:
    """Return both sets of joints as one."""
    return Joints(
        np.concatenate([a.before, b.before]),
        np.concatenate([a.after, b.after]),
        np.concatenate([a.before_reversed, b.before_reversed]),
        np.concatenate([a.after_reversed, b.after_reversed]),
    )


def smooth_ends(draft: Draft) -> NDArray[np.bool_]:
    """Return which ends of each piece are smooth joints of the same arc, (P, 2)."""
    ends = np.zeros((len(draft.start), 2), bool)
    joints = draft.joints
    along = ~joints.before_reversed & ~joints.after_reversed
    same = _arc_of_pieces(draft)[joints.before] == _arc_of_pieces(draft)[joints.after]
    ends[joints.before[along & same], 1] = True
    ends[joints.after[along & same], 0] = True
    return ends


def _arc_of_pieces(draft: Draft) -> IntArray:
    """Return the arc of each piece."""
    counts = np.diff(draft.offsets)
    return np.repeat(np.arange(len(counts)), counts)


def with_joints(draft: Draft, joints: Joints) -> Draft:
    """Return the draft with these smooth joints."""
    return replace(draft, joints=joints)
