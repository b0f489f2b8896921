"""Junctions that are one: where four or more regions meet, pixels show several close together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from img2pour.plane.draft import Draft
from img2pour.plane.groups import linked_groups
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap

LONGEST_RAW_PX = 8.0
"""An arc that is longer on the pixels is a boundary of its own."""

ONE_POINT_PX = 1.0
"""Junctions that the least squares bring this close (and half the blur's sigma) are one."""


def arcs_to_contract(raw: RegionMap, draft: Draft, blur_px: float) -> IntArray:
    """Return the short arcs between junctions that are one point; no two form a loop.

    Parameters
    ----------
    raw : RegionMap
        The walked map.
    draft : Draft
        Relaxed, so that its nodes lie where the long arcs want them.
    blur_px : float
    """
    start, end = raw.arc_nodes.T
    inner = (raw.arc_faces >= 0).all(axis=1) & (start != end)
    gap = np.hypot(*(draft.vertices[start] - draft.vertices[end]).T)
    near = np.flatnonzero(
        inner
        & (_raw_lengths(raw) <= LONGEST_RAW_PX)
        & (np.diff(draft.offsets) <= 1)
        & (gap <= ONE_POINT_PX + blur_px / 2)
        & draft.is_free[start].all(axis=1)
        & draft.is_free[end].all(axis=1)
    )
    return _forest(near[np.argsort(gap[near], kind="stable")], start, end)


def _raw_lengths(raw: RegionMap) -> FloatArray:
    """Return the length of every arc along the pixels."""
    steps = np.abs(np.diff(raw.vertices, axis=0, append=raw.vertices[-1:])).sum(axis=1)
    steps[raw.arc_offsets[1:] - 1] = 0.0
    return np.add.reduceat(steps, raw.arc_offsets[:-1])


def _forest(arcs: IntArray, start: IntArray, end: IntArray) -> IntArray:
    """Return those arcs, first come first kept, that close no loop."""
    leader: dict[int, int] = {}

    def find(node: int) -> int:
        while leader.get(node, node) != node:
            node = leader[node]
        return node

    kept = []
    for arc in arcs.tolist():
        a, b = find(int(start[arc])), find(int(end[arc]))
        if a != b:
            leader[a] = b
            kept.append(arc)
    leaders = np.array([find(node) for node in range(int(max(start.max(), end.max())) + 1)])
    return _without_loops(np.array(sorted(kept), dtype=np.int64), leaders, start, end)


def _without_loops(arcs: IntArray, leaders: IntArray, start: IntArray, end: IntArray) -> IntArray:
    """Return the arcs without those that would turn another arc into a loop at one point.

    Such an arc and a contracted one enclose a small region, which would be lost.
    """
    turned = (leaders[start] == leaders[end]) & (start != end)
    turned[arcs] = False
    return arcs[~np.isin(leaders[start[arcs]], leaders[start[turned]])]


def with_joined_nodes(raw: RegionMap, arcs: IntArray) -> RegionMap:
    """Return the raw map with the end nodes of each of these arcs numbered as one."""
    count = int(raw.arc_nodes.max()) + 1
    start, end = raw.arc_nodes[arcs].T
    return replace(raw, arc_nodes=linked_groups(start, end, count)[raw.arc_nodes])
