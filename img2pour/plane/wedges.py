"""Tips of regions that run out between two others: the junction lies where their sides cross.

The sides of a narrow tip meet at a flat angle, so least squares know well where they run but not
where they end. If they cross before they reach their junction, it belongs to the crossing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.draft import Draft
from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.shapes import points_on_arcs

REACH_PX = 25.0
"""Crossings further from the junction are no matter of its place."""

SAMPLES = 48
"""Chords along the looked-at part of a side."""

APART_PX = 1e-6
"""A crossing this close to the junction is the junction."""


@dataclass(frozen=True, eq=False)
class _Ends:
    """Pieces at junctions of three, (J, 3) each."""

    node: IntArray
    piece: IntArray
    at_end: NDArray[np.bool_]


def with_nodes_at_crossings(draft: Draft) -> Draft:
    """Return the draft with junctions moved to where two of their sides cross."""
    ends = _ends_of_three(draft)
    if len(ends.node) == 0:
        return draft
    lines = _side_lines(draft, ends)
    vertices, bulges = draft.vertices.copy(), draft.bulges.copy()
    for a, b in ((0, 1), (0, 2), (1, 2)):
        common = shapely.intersection(lines[:, a], lines[:, b])
        for junction in np.flatnonzero(shapely.get_num_coordinates(common) > 1).tolist():
            node = int(ends.node[junction])
            points = shapely.get_coordinates(common[junction])
            away = np.hypot(*(points - draft.vertices[node]).T)
            if away.max() > APART_PX:
                vertices[node] = points[np.argmax(away)]
                for side in (a, b):
                    piece = int(ends.piece[junction, side])
                    bulges[piece] = _shortened(draft, piece, vertices[node], node)
    return replace(draft, vertices=vertices, bulges=bulges)


def _ends_of_three(draft: Draft) -> _Ends:
    """Return the pieces that end at each junction of three arcs."""
    counts = np.diff(draft.offsets)
    first = draft.offsets[:-1][counts > 0]
    last = draft.offsets[1:][counts > 0] - 1
    piece = np.concatenate([first, last])
    at_end = np.repeat([False, True], [len(first), len(last)])
    node = np.where(at_end, draft.end[piece], draft.start[piece])
    order = np.argsort(node, kind="stable")
    starts = np.flatnonzero(np.diff(node[order], prepend=-1))
    sizes = np.diff(np.append(starts, len(order)))
    three = order[starts[sizes == 3][:, None] + np.arange(3)]
    return _Ends(node[three[:, 0]], piece[three], at_end[three])


def _side_lines(draft: Draft, ends: _Ends) -> NDArray[np.object_]:
    """Return the sides as lines that leave the junction, as far as the reach, (J, 3)."""
    piece, backwards = ends.piece.ravel(), ends.at_end.ravel()
    start = np.where(backwards, draft.end[piece], draft.start[piece])
    end = np.where(backwards, draft.start[piece], draft.end[piece])
    a, b = draft.vertices[start], draft.vertices[end]
    bulge = np.where(backwards, -draft.bulges[piece], draft.bulges[piece])
    reach = np.minimum(1.0, REACH_PX / np.maximum(np.hypot(*(b - a).T), 1e-9))
    share = reach[:, None] * np.linspace(0, 1, SAMPLES + 1)
    which = np.repeat(np.arange(len(piece)), SAMPLES + 1)
    points = points_on_arcs(a[which], b[which], bulge[which], share.ravel())
    lines: NDArray[np.object_] = shapely.linestrings(points.reshape(-1, SAMPLES + 1, 2))
    return lines.reshape(-1, 3)


def _shortened(draft: Draft, piece: int, point: FloatArray, node: int) -> float:
    """Return the bulge of what is left of a piece once it begins or ends at `point` on it."""
    start, end = int(draft.start[piece]), int(draft.end[piece])
    other = draft.vertices[end if start == node else start]
    chord = np.hypot(*(draft.vertices[end] - draft.vertices[start]))
    left = np.hypot(*(other - point))
    # The chord of an arc grows with the sine of half its angle; bulges here are well below 1.
    half = 2 * np.arctan(draft.bulges[piece])
    return float(np.tan(np.arcsin(np.clip(np.sin(half) * left / max(chord, 1e-9), -1, 1)) / 2))
