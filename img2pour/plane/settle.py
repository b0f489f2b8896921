"""From first pieces to settled ones: relax, join, cut what is still off, and relax again.

Only what changed moves again: pieces that share no vertex with a change stay as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.blunted import put_back
from img2pour.plane.corners import Outlines
from img2pour.plane.draft import Draft, residuals
from img2pour.plane.joints import corners_along, find_joints, joints_among, smooth_ends, with_joints
from img2pour.plane.outlines import draft_map, no_joints, trusted
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap
from img2pour.plane.relax import RelaxSettings, relax, with_companions
from img2pour.plane.segment import CornerSettings, Pieces

ALLOWANCE_PER_NOISE = 2.5
"""Points of an edge are off together (paper, JPEG blocks), not only one by one."""

TANGENT_PX = 60.0
"""Weight of a kink of a radian: 1 degree then costs as much as one point a pixel off."""

LEAST_LEFT = 0.3
"""Share of its first length below which a piece has been squeezed out."""

NOISE_REACH = 3.3
"""Points of nothing but noise lie within so many times the allowance."""

MOST_CUTS = 3
"""Rounds in which pieces that are still off are cut in two."""

LEAST_CUT_POINTS = 8
"""Pieces of fewer points are not cut."""

FARTHEST_PX = 2.0
"""Points further off (and half the blur) belong to no corner that pixels and blur rounded."""

LEAST_BLUR_PX, SHARPENING_ROUNDS = 0.5, 2
"""Pictures with less blur need no such care."""

FREE_ROUNDS, JOINED_ROUNDS = 2, 3
"""Rounds of least squares without and with the smooth joints."""


@dataclass(frozen=True)
class FitSettings:
    """How closely the lines and arcs follow the points.

    Attributes
    ----------
    tolerance_px : float
        Greatest distance between the points and the fitted outline, noise aside.
    blur_px : float
        Sigma of the picture's blur.
    """

    tolerance_px: float
    blur_px: float

    def corners(self) -> CornerSettings:
        """Return what is not trusted beside corners: a third of a pixel, and the blur's reach."""
        reach = round(1.5 * self.blur_px)
        return CornerSettings(2 + reach, 3 + reach, 0.3 + 0.5 * self.blur_px)

    def tip_px(self) -> float:
        """Return by how much pixels and blur round off a flat corner."""
        return 0.7 + 0.35 * self.blur_px

    @property
    def is_blurred(self) -> bool:
        """Whether blur rounds corners off by more than the pixels do."""
        return self.blur_px >= LEAST_BLUR_PX

    @property
    def sigma_px(self) -> float:
        """Standard deviation of blur and pixel together; a pixel's own variance is 1/12."""
        return float(np.sqrt(self.blur_px**2 + 1 / 12))

    def relaxing(self, allowance_px: FloatArray) -> RelaxSettings:
        """Return the settings of the least squares."""
        return RelaxSettings(allowance_px, self.sigma_px**2, TANGENT_PX)


@dataclass(frozen=True, eq=False)
class Task:
    """What the pieces are fitted to.

    Attributes
    ----------
    outlines : Outlines
    allowance_px : (A,) float64
        Residual (rms) of each arc's points that is noise.
    settings : FitSettings
    """

    outlines: Outlines
    allowance_px: FloatArray
    settings: FitSettings

    @property
    def noise_px(self) -> FloatArray:
        """The scatter (rms) of the points of each arc, (A,)."""
        return self.allowance_px / ALLOWANCE_PER_NOISE

    def of_pieces(self, draft: Draft) -> FloatArray:
        """Return the allowance of each piece, (P,)."""
        return np.repeat(self.allowance_px, np.diff(draft.offsets))


@dataclass(frozen=True, eq=False)
class State:
    """How far the fit has come.

    Attributes
    ----------
    raw : RegionMap
        Nodes and frame.
    pieces : Pieces
    fresh : Draft
        The pieces as the points alone place them.
    draft : Draft
        The pieces as they are now.
    loose : (P,) bool
        Pieces that changed and have not been relaxed since.
    whole : (P,) bool
        Pieces whose points are all trusted, those beside corners, too.
    """

    raw: RegionMap
    pieces: Pieces
    fresh: Draft
    draft: Draft
    loose: NDArray[np.bool_]
    whole: NDArray[np.bool_]


def begun(raw: RegionMap, pieces: Pieces, task: Task) -> State:
    """Return the first state, relaxed with every joint free to be a corner."""
    fresh = draft_map(raw, task.outlines, pieces)
    every = np.ones(len(pieces.first), bool)
    state = State(raw, pieces, fresh, fresh, loose=every, whole=~every)
    state = _relaxed_freely(state, task)
    shrunk = _shrunk(state, task.outlines.closed, every)
    if not shrunk.any():
        return state
    never = np.zeros(len(shrunk), bool)
    return _relaxed_freely(_changed(state, task, never, shrunk), task)


def _relaxed_freely(state: State, task: Task) -> State:
    """Relax what is loose, every joint free to be a corner."""
    pulls = task.settings.relaxing(task.of_pieces(state.draft))
    whole = np.stack([state.whole, state.whole], axis=1)
    draft = replace(state.draft, joints=no_joints())
    draft = relax(trusted(draft, whole, task.settings.corners()), pulls, FREE_ROUNDS, state.loose)
    return replace(state, draft=draft, loose=np.zeros(len(state.loose), bool))


def _settled(state: State, task: Task, moving: NDArray[np.bool_]) -> State:
    """Relax what moves: freely where it is loose, then with the smooth joints that are found."""
    state = _relaxed_freely(state, task)
    draft, allowance_px = state.draft, task.of_pieces(state.draft)
    found = joints_among(find_joints(draft, task.outlines.closed, allowance_px), moving)
    draft = with_joints(draft, found)
    smooth = smooth_ends(draft) | state.whole[:, None]
    draft = trusted(draft, smooth, task.settings.corners())
    pulls = task.settings.relaxing(allowance_px)
    return replace(state, draft=relax(draft, pulls, JOINED_ROUNDS, moving))


def settled(state: State, task: Task) -> State:
    """Settle everything, cut what is still off, drop what is squeezed out, and settle again."""
    tolerance_px = np.maximum(NOISE_REACH * task.allowance_px, task.settings.tolerance_px)
    moving = np.ones(len(state.pieces.first), bool)
    for last in (*[False] * MOST_CUTS, True):
        state = _settled(state, task, moving)
        shrunk = _shrunk(state, task.outlines.closed, moving)
        miss = np.abs(residuals(state.draft))
        far = _misses_far(state, task, miss) & ~shrunk & moving & ~state.whole
        off = (_off(state, tolerance_px, miss) | far) & _is_long(state.pieces) & ~shrunk & moving
        if last or not (off | shrunk | far).any():
            break
        state = _changed(replace(state, whole=state.whole | far, loose=far), task, off, shrunk)
        moving = state.loose
    return state


def sharpened(state: State, task: Task) -> State:
    """Settle the corners again with the points beside them put back where blur took them from."""
    settings = task.settings
    if not settings.is_blurred:
        return state
    closed, allowance_px = task.outlines.closed, task.of_pieces(state.draft)
    pulls = settings.relaxing(allowance_px)
    # The last round of settling knows the joints of what still moved alone.
    draft = with_joints(state.draft, find_joints(state.draft, closed, allowance_px))
    corners = corners_along(draft, closed)
    own = state.draft.points, state.draft.weights
    for _ in range(SHARPENING_ROUNDS):
        told = put_back(replace(draft, points=own[0], weights=own[1]), corners, settings.sigma_px)
        draft = relax(told, pulls, JOINED_ROUNDS)
    return replace(state, draft=replace(draft, points=own[0], weights=own[1]))


def _off(state: State, tolerance_px: FloatArray, miss: FloatArray) -> NDArray[np.bool_]:
    """Return the pieces that still miss their points by more than the tolerance."""
    draft = state.draft
    worst = np.zeros(len(draft.start))
    np.maximum.at(worst, draft.owner, miss * draft.weights)
    limit = np.repeat(tolerance_px, np.diff(draft.offsets))
    off: NDArray[np.bool_] = worst > limit
    return off


def _is_long(pieces: Pieces) -> NDArray[np.bool_]:
    """Return the pieces that are long enough to be cut in two."""
    long: NDArray[np.bool_] = pieces.last - pieces.first >= LEAST_CUT_POINTS
    return long


def _misses_far(state: State, task: Task, miss: FloatArray) -> NDArray[np.bool_]:
    """Return the pieces that miss one of their points by far, though it was not trusted."""
    far = miss > FARTHEST_PX + task.settings.blur_px / 2
    missed = np.zeros(len(state.draft.start), bool)
    missed[state.draft.owner[far]] = True
    return missed


def _shrunk(
    state: State, closed: NDArray[np.bool_], moving: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Return the pieces that their neighbours squeezed out: much shorter now, or turned round."""
    first, relaxed = state.fresh, state.draft
    before = first.vertices[first.end] - first.vertices[first.start]
    after = relaxed.vertices[relaxed.end] - relaxed.vertices[relaxed.start]
    length = np.maximum((before**2).sum(axis=1), 1e-12)
    counts = np.diff(first.offsets)
    spare = np.repeat(counts - np.where(closed, 2, 1), counts) > 0
    shrunk: NDArray[np.bool_] = (
        ((before * after).sum(axis=1) < LEAST_LEFT * length) & spare & moving
    )
    # Of two neighbours one may take the other's room, so one goes at a time.
    shrunk[1:] &= ~shrunk[:-1]
    return shrunk


def _changed(state: State, task: Task, cut: NDArray[np.bool_], dropped: NDArray[np.bool_]) -> State:
    """Return the state with some pieces cut in two and others dropped; their arcs are loose."""
    old = state.pieces
    copies = 1 + cut.astype(np.int64) - dropped
    origin = np.repeat(np.arange(len(copies)), copies)
    half = cut[origin]
    second = np.zeros(len(origin), bool)
    second[1:] = half[1:] & (origin[1:] == origin[:-1])
    middle = (old.first[origin] + old.last[origin]) // 2
    pieces = Pieces(
        np.where(second, middle, old.first[origin]),
        np.where(half & ~second, middle, old.last[origin]),
        old.is_arc[origin] | half,
        np.concatenate([[0], np.cumsum(copies)])[old.offsets],
    )
    fresh = draft_map(state.raw, task.outlines, pieces)
    draft = _carried(fresh, state.draft, origin, half & ~second, second)
    counts = np.diff(old.offsets)
    arc = np.repeat(np.arange(len(counts)), counts)
    touched = np.zeros(len(counts), bool)
    touched[arc[cut | dropped | state.loose]] = True
    loose = with_companions(draft, touched[arc[origin]])
    return State(state.raw, pieces, fresh, draft, loose, state.whole[origin])


def _carried(
    fresh: Draft,
    old: Draft,
    origin: IntArray,
    is_first_half: NDArray[np.bool_],
    is_second_half: NDArray[np.bool_],
) -> Draft:
    """Return the fresh draft with what is known of its pieces from an older one.

    Parameters
    ----------
    fresh, old : Draft
        Of the same arcs.
    origin : (P,) int64
        The old piece of each fresh one.
    is_first_half, is_second_half : (P,) bool
        Halves of an old piece.
    """
    vertices, bulges = fresh.vertices.copy(), fresh.bulges.copy()
    ends, starts = np.flatnonzero(~is_first_half), np.flatnonzero(~is_second_half)
    vertices[fresh.end[ends]] = old.vertices[old.end[origin[ends]]]
    vertices[fresh.start[starts]] = old.vertices[old.start[origin[starts]]]
    arcs = np.flatnonzero(np.diff(fresh.offsets) > 0)
    vertices[fresh.start[fresh.offsets[arcs]]] = old.vertices[old.start[old.offsets[arcs]]]
    lasts, old_lasts = fresh.offsets[arcs + 1] - 1, old.offsets[arcs + 1] - 1
    vertices[fresh.end[lasts]] = old.vertices[old.end[old_lasts]]
    whole = ~is_first_half & ~is_second_half
    bulges[whole] = old.bulges[origin[whole]]
    return replace(fresh, vertices=vertices, bulges=bulges)


def with_nodes_joined(state: State, raw: RegionMap, gone: IntArray, task: Task) -> State:
    """Return the state with some arcs shrunk to nothing.

    Parameters
    ----------
    state : State
    raw : RegionMap
        The raw map with the ends of those arcs numbered as one node.
    gone : (G,) int64
        The arcs.
    task : Task
    """
    counts = np.diff(state.pieces.offsets)
    arc = np.repeat(np.arange(len(counts)), counts)
    kept = ~np.isin(arc, gone)
    origin = np.flatnonzero(kept)
    pieces = Pieces(
        state.pieces.first[kept],
        state.pieces.last[kept],
        state.pieces.is_arc[kept],
        np.concatenate([[0], np.cumsum(kept)])[state.pieces.offsets],
    )
    fresh = draft_map(raw, task.outlines, pieces)
    never = np.zeros(len(origin), bool)
    draft = _carried(fresh, state.draft, origin, never, never)
    touched = np.asarray(np.isin(raw.arc_nodes, raw.arc_nodes[gone]).any(axis=1))
    loose = with_companions(draft, touched[arc[kept]])
    return State(raw, pieces, fresh, draft, loose, state.whole[origin])
