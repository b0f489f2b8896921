"""Cut curves where they meet, and make one edge of what coincides."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.curves import Curves, Frames, boxes, frames, meetings, part_bulges, shares
from img2pour.plane.regionmap import FloatArray, IntArray

SNAP_MM = 1e-7
"""Points closer than this are one; boundaries closer than this coincide."""

FREE = -1
"""Group of curves that may cross any other; curves of one group are known not to cross."""


@dataclass(frozen=True, eq=False)
class Edges:
    """Curves between nodes that meet nowhere else.

    Attributes
    ----------
    points : (N, 2) float64
        The nodes.
    is_cut : (N,) bool
        True where no given curve begins or ends: curves cross there.
    start, end : (E,) int64
        Nodes of each edge.
    bulges : (E,) float64
    source : (E,) int64
        The given curve that each edge is a part of.
    owners, owner_of, reversed : (K,) int64, int64, bool
        Owner k is a given curve that runs along edge owner_of[k] (ascending), backwards where
        reversed; more than one where boundaries coincide.
    """

    points: FloatArray
    is_cut: NDArray[np.bool_]
    start: IntArray
    end: IntArray
    bulges: FloatArray
    source: IntArray
    owners: IntArray
    owner_of: IntArray
    reversed: NDArray[np.bool_]

    def __len__(self) -> int:
        """Return the number of edges."""
        return len(self.bulges)

    def curves(self) -> Curves:
        """Return the edges with their points."""
        return Curves(self.points[self.start], self.points[self.end], self.bulges)


def cut_curves(curves: Curves, groups: IntArray, snap: float = SNAP_MM) -> Edges:
    """Cut curves at all their meetings.

    Parameters
    ----------
    curves : Curves
        Those that come first keep their vertices where others come within `snap`.
    groups : (n,) int64
        Curves of the same group, other than FREE, do not meet but at their ends.
    snap : float
        Points closer than this become one.

    Returns
    -------
    Edges
    """
    is_cut = np.zeros(2 * len(curves), bool)
    return _cut_at(curves, _cuts(curves, groups, snap), is_cut, snap)


def cut_again(edges: Edges, snap: float) -> Edges:
    """Return edges cut where they meet after all, which points that became one can bring about.

    Parameters
    ----------
    edges : Edges
    snap : float
        Edges this close to each other meet.

    Returns
    -------
    Edges
        Of the same curves; as many as before where nothing meets any more.
    """
    curves = edges.curves()
    is_cut = np.concatenate([edges.is_cut[edges.start], edges.is_cut[edges.end]])
    made = _cut_at(curves, _cuts(curves, np.full(len(edges), FREE), snap), is_cut, snap)
    first = np.searchsorted(edges.owner_of, np.arange(len(edges) + 1))
    counts = np.diff(first)[made.owners]
    # All that ran along the edge from which a new one was cut run along that one.
    which = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    which += np.repeat(first[made.owners], counts)
    return replace(
        made,
        source=edges.source[made.source],
        owners=edges.owners[which],
        owner_of=np.repeat(made.owner_of, counts),
        reversed=edges.reversed[which] ^ np.repeat(made.reversed, counts),
    )


def _cut_at(
    curves: Curves, cuts: tuple[IntArray, FloatArray], is_cut: NDArray[np.bool_], snap: float
) -> Edges:
    """Return the edges of curves that are cut at points.

    Parameters
    ----------
    curves : Curves
    cuts : (m,) int64, (m, 2) float64
        The curves that are cut, and where.
    is_cut : (2n,) bool
        True for starts, then for ends, that are cuts themselves.
    snap : float
    """
    piece, cut_points = cuts
    count = len(curves)
    points = np.concatenate([curves.start, curves.end, cut_points])
    node = _one_node_each(points, snap)
    # Along every curve: its start, its cuts in order, its end.
    owner = np.concatenate([np.arange(count), np.arange(count), piece])
    share = np.concatenate(
        [np.zeros(count), np.ones(count), shares(curves.take(piece), cut_points)]
    )
    order = np.lexsort((share, owner))
    owner, share, along = owner[order], share[order], node[order]
    is_part = (owner[1:] == owner[:-1]) & (along[1:] != along[:-1])
    first = np.flatnonzero(is_part)
    bulges = part_bulges(curves.bulges[owner[first]], share[first + 1] - share[first])
    is_whole = share[first + 1] - share[first] == 1.0
    bulges[is_whole] = curves.bulges[owner[first[is_whole]]]
    is_vertex = np.zeros(len(points), bool)
    is_vertex[node[: 2 * count][~is_cut]] = True
    parts = _Parts(along[first], along[first + 1], bulges, owner[first])
    return _merged(points, ~is_vertex, parts, snap)


def _cuts(curves: Curves, groups: IntArray, snap: float) -> tuple[IntArray, FloatArray]:
    """Return the curves that are cut and the points at which they are."""
    left, right = _near_pairs(boxes(curves), groups, snap)
    all_frames = frames(curves)
    one, other = all_frames.take(left), all_frames.take(right)
    pieces, points = [], []
    for found in meetings(one, other, snap):
        real = np.isfinite(found[:, 0])
        met = np.where(real[:, None], found, 0.0)
        hit = real & _is_on(one, met, snap) & _is_on(other, met, snap)
        pieces += [left[hit], right[hit]]
        points += [met[hit], met[hit]]
    for ends, frame, piece in (
        (curves.start[left], other, right),
        (curves.end[left], other, right),
        (curves.start[right], one, left),
        (curves.end[right], one, left),
    ):
        hit = _is_on(frame, ends, snap)
        pieces.append(piece[hit])
        points.append(ends[hit])
    return np.concatenate(pieces), np.concatenate(points)


def self_meetings(curves: Curves, owner: IntArray, snap: float) -> tuple[IntArray, FloatArray]:
    """Return where outlines cross themselves, other than where two of their pieces join.

    Parameters
    ----------
    curves : Curves
    owner : (n,) int64
        The outline of each curve.
    snap : float
        Meetings this close to an end of both curves are joints.

    Returns
    -------
    owners : (m,) int64
        The outline of each meeting, ascending.
    points : (m, 2) float64
    """
    left, right = shapely.STRtree(shapely.box(*boxes(curves).T)).query(
        shapely.box(*boxes(curves).T)
    )
    own = (left < right) & (owner[left] == owner[right])
    left, right = left[own], right[own]
    every = frames(curves)
    one, other = every.take(left), every.take(right)
    owners, points = [np.empty(0, np.int64)], [np.empty((0, 2))]
    for found in meetings(one, other, SNAP_MM):
        real = np.isfinite(found[:, 0])
        met = np.where(real[:, None], found, 0.0)
        joint = [_near_an_end(curves.take(index), met, snap) for index in (left, right)]
        hit = real & _is_on(one, met, SNAP_MM) & _is_on(other, met, SNAP_MM)
        hit &= ~(joint[0] & joint[1])
        owners.append(owner[left[hit]])
        points.append(met[hit])
    together, places = np.concatenate(owners), np.concatenate(points)
    order = np.lexsort((places[:, 1], places[:, 0], together))
    return together[order], places[order]


def _near_an_end(curves: Curves, points: FloatArray, snap: float) -> NDArray[np.bool_]:
    near: NDArray[np.bool_] = (np.hypot(*(points - curves.start).T) <= snap) | (
        np.hypot(*(points - curves.end).T) <= snap
    )
    return near


def _is_on(frame: Frames, points: FloatArray, snap: float) -> NDArray[np.bool_]:
    """Return whether points lie on their curves.

    Half of `snap` aside at most, so that a point just beyond an end is one with that end.
    """
    on: NDArray[np.bool_] = (np.abs(frame.value(points)) <= snap / 2) & frame.holds(
        points, snap / 2
    )
    return on


def _near_pairs(box: FloatArray, groups: IntArray, snap: float) -> tuple[IntArray, IntArray]:
    """Return the pairs of curves of different groups whose boxes meet, each pair once."""
    x0, y0, x1, y1 = box.T
    wide = shapely.box(x0 - snap, y0 - snap, x1 + snap, y1 + snap)
    names = np.unique(groups)
    if len(names) == 2 and FREE not in names:
        one, other = np.flatnonzero(groups == names[0]), np.flatnonzero(groups == names[1])
        found = shapely.STRtree(wide[other]).query(wide[one])
        left, right = one[found[0]], other[found[1]]
    else:
        left, right = shapely.STRtree(wide).query(wide)
        wanted = (left < right) & ((groups[left] != groups[right]) | (groups[left] == FREE))
        left, right = left[wanted], right[wanted]
    order = np.lexsort((right, left))
    return left[order], right[order]


def _one_node_each(points: FloatArray, snap: float) -> IntArray:
    """Return for every point the first point that is one with it."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    count = len(points)
    order = np.lexsort((np.arange(count), points[:, 1], points[:, 0]))
    same = (points[order][1:] == points[order][:-1]).all(axis=1)
    begins = np.concatenate([[True], ~same]) if count else np.empty(0, bool)
    place = np.cumsum(begins) - 1
    unique = order[begins]  # the smallest index of each, since the order is stable
    pairs = cKDTree(points[unique]).query_pairs(snap, output_type="ndarray")
    graph = coo_array(
        (np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), (len(unique), len(unique))
    )
    _, cluster = connected_components(graph, directed=False)
    first = np.full(cluster.max(initial=-1) + 1, count)
    np.minimum.at(first, cluster, unique)
    node = np.empty(count, np.int64)
    node[order] = first[cluster[place]]
    return node


@dataclass(frozen=True, eq=False)
class _Parts:
    """Parts of curves between nodes, of which some run along each other."""

    start: IntArray
    end: IntArray
    bulges: FloatArray
    source: IntArray

    @property
    def backwards(self) -> NDArray[np.bool_]:
        """True where the end comes before the start among the nodes."""
        return self.start > self.end


def _merged(points: FloatArray, is_cut: NDArray[np.bool_], parts: _Parts, snap: float) -> Edges:
    """Make one edge of those that run between the same nodes along the same way."""
    order, edge_of = _alike(points, parts, snap)
    # The curve that comes first gives the edge its shape.
    shaper = np.full(int(edge_of.max(initial=-1)) + 1, len(order))
    np.minimum.at(shaper, edge_of, order)
    by_source = np.argsort(shaper, kind="stable")
    rank = np.empty_like(by_source)
    rank[by_source] = np.arange(len(by_source))
    edge_of = rank[edge_of]
    kept = shaper[by_source]
    arrange = np.lexsort((order, edge_of))
    members, edge_of = order[arrange], edge_of[arrange]
    used, nodes = np.unique(np.stack([parts.start[kept], parts.end[kept]]), return_inverse=True)
    nodes = nodes.reshape(2, -1).astype(np.int64)
    return Edges(
        points=points[used],
        is_cut=is_cut[used],
        start=nodes[0],
        end=nodes[1],
        bulges=parts.bulges[kept],
        source=parts.source[kept],
        owners=parts.source[members],
        owner_of=edge_of,
        reversed=parts.backwards[members] != parts.backwards[kept][edge_of],
    )


def _alike(points: FloatArray, parts: _Parts, snap: float) -> tuple[IntArray, IntArray]:
    """Return the parts in an order in which those of one edge follow each other, and that edge."""
    low, high = np.minimum(parts.start, parts.end), np.maximum(parts.start, parts.end)
    chord = np.hypot(*(points[high] - points[low]).T)
    sagitta = np.where(parts.backwards, -parts.bulges, parts.bulges) * chord / 2
    order = np.lexsort((parts.source, sagitta, high, low))
    low, high, sagitta = low[order], high[order], sagitta[order]
    begins = np.ones(len(order), bool)
    begins[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1]) | (np.diff(sagitta) > 2 * snap)
    return order, np.cumsum(begins) - 1
