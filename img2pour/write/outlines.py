"""The closed outlines of a region map, ready for drawing files: every colour's own rings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from img2pour.errors import GeometryError
from img2pour.plane.regionmap import NO_FACE, FloatArray, IntArray, RegionMap, Rings, rings

LEAST_PIECE_MM = 0.01
"""Pieces with a shorter chord upset controllers; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Outline:
    """One outline of lines and arcs, y up.

    Attributes
    ----------
    vertices : (n, 2) float64
        In mm, without a repeated first vertex.
    bulges : (n,) float64
        Bulge from each vertex to the next; the last one leads back to the first.
    closed : bool
        False for an open line, whose last bulge is not used.
    """

    vertices: FloatArray
    bulges: FloatArray
    closed: bool = True

    @property
    def area_mm2(self) -> float:
        """Area of a closed outline, its arcs too; below 0 for one that turns clockwise.

        The shoelace formula, and for each arc the segment r^2 (a - sin a) / 2 of its angle a.
        """
        x, y = self.vertices.T
        ahead_x, ahead_y = np.roll(self.vertices, -1, axis=0).T
        bent = self.bulges != 0
        chord = np.hypot(ahead_x - x, ahead_y - y)[bent]
        angle = 4 * np.arctan(self.bulges[bent])
        radius = chord / (2 * np.sin(np.abs(angle) / 2))
        segments = radius**2 * (angle - np.sin(angle)) / 2
        return float((x * ahead_y - ahead_x * y).sum() / 2 + segments.sum())


@dataclass(frozen=True, eq=False)
class FaceOutline:
    """One ring of one face: outer rings turn anticlockwise, holes clockwise.

    Attributes
    ----------
    face : int
        The face on the left of the ring.
    colour : int
        Index of that face's colour.
    outline : Outline
        The ring.
    """

    face: int
    colour: int
    outline: Outline


def face_outlines(board_map: RegionMap) -> list[FaceOutline]:
    """Return the rings of all faces that have a colour, in the order of the map.

    Parameters
    ----------
    board_map : RegionMap
        In mm, y up.

    Returns
    -------
    list of FaceOutline
        Without pieces shorter than `LEAST_PIECE_MM`. `outside` has no outline of its own.

    Raises
    ------
    GeometryError
        When a vertex is not a number or an arc turns by more than half a circle.
    """
    _require_sound(board_map)
    tidy = without_short_pieces(board_map, LEAST_PIECE_MM)
    found = rings(tidy)
    vertices, bulges, bounds = _all_outlines(tidy, found)
    colours = tidy.face_colours
    return [
        FaceOutline(face, int(colours[face]), Outline(vertices[a:b], bulges[a:b]))
        for face, a, b in zip(
            found.faces.tolist(), bounds[:-1].tolist(), bounds[1:].tolist(), strict=True
        )
        if face != NO_FACE and colours[face] >= 0 and _has_area(bulges[a:b])
    ]


def _require_sound(board_map: RegionMap) -> None:
    if not (np.isfinite(board_map.vertices).all() and np.isfinite(board_map.bulges).all()):
        raise GeometryError("the region map holds a vertex that is not a number")
    widest = float(np.abs(board_map.bulges).max(initial=0.0))
    if widest > 1.0:
        raise GeometryError(f"an arc of bulge {widest:.6g} turns by more than half a circle")


def _has_area(bulges: FloatArray) -> bool:
    """Tell whether a ring encloses anything: three pieces, or two that differ."""
    return len(bulges) > 2 or (len(bulges) == 2 and bool(bulges[0] + bulges[1] != 0.0))


def _all_outlines(region_map: RegionMap, found: Rings) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return vertices and bulges of all rings one after the other, and the rings' bounds."""
    arcs, backwards = found.halves >> 1, (found.halves & 1) == 1
    counts = np.diff(region_map.arc_offsets)[arcs] - 1
    start = np.where(backwards, region_map.arc_offsets[arcs + 1] - 1, region_map.arc_offsets[arcs])
    half_bounds = np.concatenate([[0], np.cumsum(counts)])
    along = np.arange(half_bounds[-1]) - np.repeat(half_bounds[:-1], counts)
    back = np.repeat(backwards, counts)
    index = np.repeat(start, counts) + np.where(back, -along, along)
    vertices = region_map.vertices[index]
    bulges = np.where(back, -region_map.bulges[index - 1], region_map.bulges[index])
    bounds = half_bounds[found.offsets]
    ahead = np.arange(1, len(index) + 1)
    ahead[bounds[1:] - 1] = bounds[:-1]
    # A piece whose ends were joined has no length left; its start is its end.
    kept = (vertices[ahead] != vertices).any(axis=1)
    new_bounds = np.concatenate([[0], np.cumsum(kept)])[bounds]
    return vertices[kept], bulges[kept], new_bounds


def without_short_pieces(region_map: RegionMap, least: float) -> RegionMap:
    """Return `region_map` without pieces whose chord is below `least`.

    Vertices are dropped on the shared arcs themselves, so neighbours go on sharing them. Nodes
    nearer to each other than `least` along an arc are joined: that arc keeps no length.
    """
    while True:
        arcs = _arcs_with_short_pieces(region_map, least)
        if not len(arcs):
            return region_map
        region_map = _shorten(region_map, set(arcs.tolist()), least)


def _arcs_with_short_pieces(region_map: RegionMap, least: float) -> IntArray:
    lengths = np.hypot(*np.diff(region_map.vertices, axis=0).T)
    lengths[region_map.arc_offsets[1:-1] - 1] = np.inf
    short = np.flatnonzero((lengths < least) & (lengths > 0))
    return np.unique(np.searchsorted(region_map.arc_offsets, short, side="right") - 1)


def _shorten(region_map: RegionMap, chosen: set[int], least: float) -> RegionMap:
    """Drop the short pieces of the chosen arcs, and join nodes that came to lie together."""
    parts = []
    joined: dict[int, int] = {}
    for arc in range(region_map.arc_count):
        points, bulges = region_map.arc(arc)
        if arc in chosen:
            points, bulges = _shorter_arc(points, bulges, least)
            first, last = (_leader(joined, int(n)) for n in region_map.arc_nodes[arc])
            if first != last and np.hypot(*(points[-1] - points[0])) < least and len(points) == 2:
                joined[max(first, last)] = min(first, last)
        parts.append((points, bulges))
    counts = [len(points) for points, _ in parts]
    thinner = replace(
        region_map,
        vertices=np.concatenate([points for points, _ in parts]),
        bulges=np.concatenate([bulges for _, bulges in parts]),
        arc_offsets=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
    )
    return _joined_nodes(thinner, joined) if joined else thinner


def _shorter_arc(
    points: FloatArray, bulges: FloatArray, least: float
) -> tuple[FloatArray, FloatArray]:
    """Return one arc without its inner vertices that lie within `least` of the one before.

    A merged piece takes the bulge of the longest that it replaces.
    """
    kept = [0]
    for index in range(1, len(points) - 1):
        if np.hypot(*(points[index] - points[kept[-1]])) >= least:
            kept.append(index)
    while len(kept) > 1 and np.hypot(*(points[-1] - points[kept[-1]])) < least:
        kept.pop()
    lengths = np.hypot(*np.diff(points, axis=0).T)
    ends = [*kept[1:], len(points) - 1]
    longest = [a + int(np.argmax(lengths[a:b])) for a, b in zip(kept, ends, strict=True)]
    new_bulges = np.append(bulges[longest], 0.0)
    new_points = points[[*kept, len(points) - 1]]
    if len(kept) == 1 and (points[0] == points[-1]).all():
        new_bulges[0] = 0.0
    return new_points, new_bulges


def _leader(joined: dict[int, int], node: int) -> int:
    while node in joined:
        node = joined[node]
    return node


def _joined_nodes(region_map: RegionMap, joined: dict[int, int]) -> RegionMap:
    """Move the ends of all arcs at joined nodes to the place of the node that leads them."""
    firsts, lasts = region_map.arc_offsets[:-1], region_map.arc_offsets[1:] - 1
    nodes = region_map.arc_nodes
    place = np.empty((int(nodes.max()) + 1, 2))
    place[nodes[:, 0]] = region_map.vertices[firsts]
    place[nodes[:, 1]] = region_map.vertices[lasts]
    leaders = np.array([_leader(joined, int(node)) for node in nodes.ravel()]).reshape(-1, 2)
    vertices = region_map.vertices.copy()
    vertices[firsts], vertices[lasts] = place[leaders[:, 0]], place[leaders[:, 1]]
    return replace(region_map, vertices=vertices, arc_nodes=leaders)
