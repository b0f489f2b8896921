"""From segmented outlines to a draft of the whole map, and back to a region map."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.corners import Outlines
from img2pour.plane.draft import Draft, Joints
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap
from img2pour.plane.segment import CornerSettings, Pieces

WIDEST_SWEEP_DEG = 170.0
"""A piece that turns further is cut in two, so that bulges stay below 1."""


def no_joints() -> Joints:
    """Return an empty set of joints."""
    none, never = np.empty(0, np.int64), np.empty(0, bool)
    return Joints(none, none, never, never)


def cut_wide_pieces(pieces: Pieces, outlines: Outlines) -> Pieces:
    """Return the pieces with those that turn too far, or close on themselves, cut in two."""
    while True:
        sweep = _sweeps_deg(pieces, outlines.points)
        counts = np.diff(pieces.offsets)
        alone = np.repeat((counts == 1) & outlines.closed, counts)
        long_enough = pieces.last - pieces.first >= 4
        wide = np.flatnonzero((pieces.is_arc & (sweep > WIDEST_SWEEP_DEG) | alone) & long_enough)
        if len(wide) == 0:
            return pieces
        pieces = cut_pieces(pieces, wide, (pieces.first[wide] + pieces.last[wide]) // 2)


def cut_pieces(pieces: Pieces, which: IntArray, where: IntArray) -> Pieces:
    """Return the pieces with some cut in two at a point; both parts may be arcs."""
    first = np.insert(pieces.first, which + 1, where)
    last = np.insert(pieces.last, which, where)
    is_arc = pieces.is_arc.copy()
    is_arc[which] = True
    is_arc = np.insert(is_arc, which, True)
    added = np.searchsorted(which, pieces.offsets, side="left")
    return Pieces(first, last, is_arc, pieces.offsets + added)


def _sweeps_deg(pieces: Pieces, points: FloatArray) -> FloatArray:
    """Return by how much each piece turns, from its first, middle and last point."""
    last = np.maximum(pieces.last - 1, pieces.first)
    a, b = points[pieces.first], points[last]
    middle = points[(pieces.first + last) // 2]
    to_middle, onwards = middle - a, b - middle
    cross = to_middle[:, 0] * onwards[:, 1] - to_middle[:, 1] * onwards[:, 0]
    dot = (to_middle * onwards).sum(axis=1)
    sweeps: FloatArray = 2 * np.degrees(np.abs(np.arctan2(cross, dot)))
    return sweeps


def draft_map(region_map: RegionMap, outlines: Outlines, pieces: Pieces) -> Draft:
    """Return the first draft: vertices at nodes and breaks, bulges through middle points.

    Parameters
    ----------
    region_map : RegionMap
        The raw map; its nodes and frame.
    outlines : Outlines
    pieces : Pieces
        An arc without points but with pieces is one straight piece.
    """
    counts = np.diff(pieces.offsets)
    arc = np.repeat(np.arange(len(counts)), counts)
    is_first = np.zeros(len(arc), bool)
    is_first[pieces.offsets[:-1][counts > 0]] = True
    is_last = np.zeros(len(arc), bool)
    is_last[pieces.offsets[1:][counts > 0] - 1] = True
    nodes = _node_points(region_map, outlines, pieces)
    inner = np.flatnonzero(~is_first)
    vertices = np.concatenate([nodes, outlines.points[pieces.first[inner]]])
    start = np.empty(len(arc), np.int64)
    start[is_first] = region_map.arc_nodes[arc[is_first], 0]
    start[inner] = len(nodes) + np.arange(len(inner))
    end = np.empty(len(arc), np.int64)
    end[~is_last] = start[1:][~is_last[:-1]]
    end[is_last] = region_map.arc_nodes[arc[is_last], 1]
    sizes = pieces.last - pieces.first
    return Draft(
        vertices=vertices,
        is_free=_free(vertices, region_map.bounds),
        start=start,
        end=end,
        bulges=_first_bulges(vertices, start, end, outlines.points, pieces),
        is_arc=pieces.is_arc,
        offsets=pieces.offsets,
        joints=no_joints(),
        points=outlines.points[_point_order(pieces)],
        owner=np.repeat(np.arange(len(sizes)), sizes),
        weights=np.ones(int(sizes.sum())),
    )


def _point_order(pieces: Pieces) -> IntArray:
    """Return the indices of the pieces' points, piece after piece."""
    sizes = pieces.last - pieces.first
    ends = np.cumsum(sizes)
    order: IntArray = np.arange(int(sizes.sum())) + np.repeat(pieces.first - (ends - sizes), sizes)
    return order


def _node_points(region_map: RegionMap, outlines: Outlines, pieces: Pieces) -> FloatArray:
    """Return where each node begins: the lattice point, or a closed outline's first point."""
    nodes = np.zeros((int(region_map.arc_nodes.max()) + 1, 2))
    nodes[region_map.arc_nodes[:, 0]] = region_map.vertices[region_map.arc_offsets[:-1]]
    nodes[region_map.arc_nodes[:, 1]] = region_map.vertices[region_map.arc_offsets[1:] - 1]
    fitted = np.flatnonzero(outlines.closed & (np.diff(pieces.offsets) > 0))
    nodes[region_map.arc_nodes[fitted, 0]] = outlines.points[pieces.first[pieces.offsets[fitted]]]
    return nodes


def _free(vertices: FloatArray, bounds: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    """Return which coordinates may move: those on the frame may not."""
    low, high = np.array(bounds[:2]), np.array(bounds[2:])
    free: NDArray[np.bool_] = (vertices != low) & (vertices != high)
    return free


def _first_bulges(
    vertices: FloatArray, start: IntArray, end: IntArray, points: FloatArray, pieces: Pieces
) -> FloatArray:
    """Return the bulge of the circle through both ends and the middle point of each arc."""
    bulges = np.zeros(len(start))
    arcs = np.flatnonzero(pieces.is_arc & (pieces.last > pieces.first))
    a, b = vertices[start[arcs]], vertices[end[arcs]]
    chord = b - a
    length = np.maximum(np.hypot(*chord.T), 1e-6)
    along = chord / length[:, None]
    away = points[(pieces.first[arcs] + pieces.last[arcs]) // 2] - (a + b) / 2
    u = (away * along).sum(axis=1)
    v = away[:, 1] * along[:, 0] - away[:, 0] * along[:, 1]
    balance = length / 2 - 2 * (u * u + v * v) / length
    # The root of -v b^2 + balance b + v = 0 that stays finite as v vanishes.
    bulges[arcs] = -2 * v / np.maximum(balance + np.hypot(balance, 2 * v), 1e-9)
    return np.clip(bulges, -1, 1)


def trusted(draft: Draft, is_smooth_end: NDArray[np.bool_], corners: CornerSettings) -> Draft:
    """Return the draft with points beside nodes and corners weighted 0.

    Parameters
    ----------
    draft : Draft
    is_smooth_end : (P, 2) bool
        True at the start or end of a piece that runs on smoothly.
    corners : CornerSettings
    """
    sizes = np.bincount(draft.owner, minlength=len(draft.start))
    ends = np.cumsum(sizes)
    local = np.arange(len(draft.owner)) - np.repeat(ends - sizes, sizes)
    room = np.maximum(sizes - 1, 0) // 2
    trims = np.where(is_smooth_end, 0, np.minimum(_trims(draft, corners), room[:, None]))
    keep = (local >= trims[draft.owner, 0]) & (local < sizes[draft.owner] - trims[draft.owner, 1])
    return replace(draft, weights=keep.astype(np.float64))


def _trims(draft: Draft, corners: CornerSettings) -> IntArray:
    """Return how many points to leave out at the start and end of each piece."""
    trims = np.full((len(draft.start), 2), corners.corner_points)
    counts = np.diff(draft.offsets)
    fitted = counts > 0
    trims[draft.offsets[:-1][fitted], 0] = corners.node_points
    trims[draft.offsets[1:][fitted] - 1, 1] = corners.node_points
    return trims
