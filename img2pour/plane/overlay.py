"""Lay maps and filled outlines over each other: one map that tiles its frame exactly.

Lines stay lines and arcs stay arcs: everything is cut where it meets, the faces between the cuts
are found, and each shows the top layer that covers it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from img2pour.errors import GeometryError
from img2pour.plane.cover import UNSEEN, Rule, Seen, Stack, find_seen
from img2pour.plane.curves import Curves
from img2pour.plane.cuts import FREE, SNAP_MM, Edges, cut_again, cut_curves
from img2pour.plane.faces import Faces, find_faces
from img2pour.plane.gather import Bounds, absorb_slivers, gather
from img2pour.plane.groups import linked_groups
from img2pour.plane.regionmap import (
    NO_FACE,
    OUTSIDE_COLOUR,
    FloatArray,
    IntArray,
    RegionMap,
    face_areas,
)

Outline = tuple[FloatArray, FloatArray]
"""Vertices (n, 2) of a closed outline, the first not repeated, and the bulges (n,) that follow."""


@dataclass(frozen=True, eq=False)
class MapLayer:
    """A placed map as a layer; what is `outside` in it shows the layers below.

    Attributes
    ----------
    region_map : RegionMap
        Its colours are indices into the palette of the whole.
    piece : int or (F,) int64
        Which piece of art it is, or each of its faces.
    """

    region_map: RegionMap
    piece: int | IntArray


@dataclass(frozen=True, eq=False)
class FillLayer:
    """Closed outlines filled with one colour.

    Attributes
    ----------
    outlines : sequence of (vertices, bulges)
        Closed, the first vertex not repeated.
    colour : int
    piece : int
    rule : {"nonzero", "evenodd"}
        Which parts are inside where outlines lie in or across each other.
    """

    outlines: Sequence[Outline]
    colour: int
    piece: int
    rule: Rule = "nonzero"


Layer = MapLayer | FillLayer

SNAPS_MM = (SNAP_MM, 3 * SNAP_MM, 10 * SNAP_MM, 33 * SNAP_MM, 100 * SNAP_MM, 1000 * SNAP_MM)
"""Tried in turn: boundaries just about as far apart as the first may want a wider one."""

MOST_PASSES = 8
"""Cutting again settles in two or three passes, if it does at all."""

TILING = 1e-9
"""Greatest share of the frame by which the faces may miss it."""

NO_PIECE = -1
"""Piece of the ground."""


@dataclass(frozen=True, eq=False)
class Composed:
    """Several pieces of art as one map.

    Attributes
    ----------
    region_map : RegionMap
    face_pieces : (F,) int64
        The piece of art that each face belongs to, NO_PIECE for the ground. A face that pieces
        flow together in belongs to the largest part.
    """

    region_map: RegionMap
    face_pieces: IntArray


def lay(
    layers: Sequence[Layer],
    bounds: Bounds,
    *,
    ground: int = OUTSIDE_COLOUR,
    joined: frozenset[int] = frozenset(),
) -> Composed:
    """Lay layers over each other, the first one lowest.

    Parameters
    ----------
    layers : sequence of MapLayer or FillLayer
    bounds : (x0, y0, x1, y1)
        The frame; what reaches over it is cut off.
    ground : int
        Colour where no layer covers the frame.
    joined : set of int
        Colours that flow together where two faces of the same one meet; others keep the boundary
        between two pieces of art.

    Returns
    -------
    Composed
        Its faces tile the frame exactly.

    Raises
    ------
    GeometryError
        When a layer's own outlines cross where they must not.
    """
    stack, curves, groups = _stacked(layers, bounds)
    for edges, snap in _cuttings(curves, groups, bounds):
        faces = find_faces(edges)
        seen = find_seen(edges, faces, stack)
        colours, pieces = _shown(seen, layers, ground)
        keys = absorb_slivers(edges, faces, _keys(seen, colours, joined), snap)
        made = _composed(edges, faces, keys, (colours, pieces), bounds)
        if faces.is_planar and _tiles(made.region_map):
            return made
    raise GeometryError(
        "the outlines of the pieces of art cannot be told apart where they run nearly on each "
        "other; move or turn one of them a little"
    )


def _cuttings(curves: Curves, groups: IntArray, bounds: Bounds) -> Iterator[tuple[Edges, float]]:
    """Yield the curves cut where they meet, at first in one go and with the narrowest snap.

    Points that become one may move a curve over another one; then what was cut is cut again.
    """
    yield cut_curves(_onto_frame(curves, bounds, SNAP_MM), groups, SNAP_MM), SNAP_MM
    for snap in SNAPS_MM:
        edges = cut_curves(_onto_frame(curves, bounds, snap), groups, snap)
        for _ in range(MOST_PASSES):
            again = cut_again(edges, snap)
            settled = len(again) == len(edges)
            edges = again
            if settled:
                break
        yield edges, snap


def _onto_frame(curves: Curves, bounds: Bounds, snap: float) -> Curves:
    """Return the curves with ends that nearly lie on the frame put on it, so that it stays even."""
    sides = np.array(bounds).reshape(2, 2)
    ends = []
    for points in (curves.start, curves.end):
        moved = points.copy()
        for side in sides:
            near = np.abs(moved - side) <= snap
            moved[near] = np.broadcast_to(side, moved.shape)[near]
        ends.append(moved)
    # A piece shorter than that would lose its direction.
    gone = (ends[0] == ends[1]).all(axis=1)
    ends[0][gone], ends[1][gone] = curves.start[gone], curves.end[gone]
    return Curves(ends[0], ends[1], curves.bulges)


def _tiles(region_map: RegionMap) -> bool:
    x0, y0, x1, y1 = region_map.bounds
    areas = face_areas(region_map)
    missing = abs(float(areas.sum()) - (x1 - x0) * (y1 - y0))
    return bool(missing <= TILING * (x1 - x0) * (y1 - y0) and (areas > 0).all())


def overlay(
    lower: RegionMap,
    upper: RegionMap,
    *,
    bounds: Bounds | None = None,
    ground: int = OUTSIDE_COLOUR,
    joined: frozenset[int] = frozenset(),
) -> Composed:
    """Lay one placed map over another; `outside` of the upper one shows the lower through.

    Parameters
    ----------
    lower, upper : RegionMap
        Pieces 0 and 1; their colours are indices into one palette.
    bounds : (x0, y0, x1, y1), optional
        The frame; without it the box around both.
    ground, joined
        As in :func:`lay`.
    """
    if bounds is None:
        boxes = np.array([lower.bounds, upper.bounds])
        low, high = boxes[:, :2].min(axis=0).tolist(), boxes[:, 2:].max(axis=0).tolist()
        bounds = (low[0], low[1], high[0], high[1])
    layers = (MapLayer(lower, 0), MapLayer(upper, 1))
    return lay(layers, bounds, ground=ground, joined=joined)


def paint(fills: Sequence[FillLayer], bounds: Bounds, *, ground: int = OUTSIDE_COLOUR) -> RegionMap:
    """Return the map of filled outlines, later ones over earlier ones; one colour is one region."""
    joined = frozenset({fill.colour for fill in fills} | {ground})
    return lay(fills, bounds, ground=ground, joined=joined).region_map


def _stacked(layers: Sequence[Layer], bounds: Bounds) -> tuple[Stack, Curves, IntArray]:
    """Return all curves, the frame first and then from the top down, and what they bound."""
    x0, y0, x1, y1 = bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float64)
    parts = [_outline_curves(corners, np.zeros(4))]
    sides = [np.tile([0, -1], (4, 1))]
    owner, groups = [np.zeros(4, np.int64)], [np.zeros(4, np.int64)]
    for number in range(len(layers), 0, -1):
        layer = layers[number - 1]
        curves, beside = (
            _map_curves(layer.region_map)
            if isinstance(layer, MapLayer)
            else (_fill_curves(layer.outlines))
        )
        parts.append(curves)
        sides.append(beside)
        owner.append(np.full(len(curves), number))
        groups.append(np.full(len(curves), number if isinstance(layer, MapLayer) else FREE))
    together = Curves(
        np.concatenate([p.start for p in parts]),
        np.concatenate([p.end for p in parts]),
        np.concatenate([p.bulges for p in parts]),
    )
    rules: tuple[Rule, ...] = tuple(
        "map" if isinstance(layer, MapLayer) else layer.rule for layer in layers
    )
    covers = tuple(
        layer.region_map.face_colours != OUTSIDE_COLOUR if isinstance(layer, MapLayer) else None
        for layer in layers
    )
    stack = Stack(np.concatenate(owner), np.concatenate(sides), ("map", *rules), (None, *covers))
    return stack, together, np.concatenate(groups)


def _outline_curves(vertices: FloatArray, bulges: FloatArray) -> Curves:
    return Curves(vertices, np.roll(vertices, -1, axis=0), bulges)


def _map_curves(region_map: RegionMap) -> tuple[Curves, IntArray]:
    """Return all pieces of a map, and the faces on their left and right."""
    arc_of = np.repeat(np.arange(region_map.arc_count), np.diff(region_map.arc_offsets))
    first = np.ones(len(arc_of), bool)
    first[region_map.arc_offsets[1:] - 1] = False
    index = np.flatnonzero(first)
    curves = Curves(
        region_map.vertices[index], region_map.vertices[index + 1], region_map.bulges[index]
    )
    long = _has_length(curves)
    return curves.take(long), region_map.arc_faces[arc_of[index[long]]]


def _fill_curves(outlines: Sequence[Outline]) -> tuple[Curves, IntArray]:
    """Return the pieces of closed outlines; what they go around lies on their left."""
    none = np.empty((0, 2))
    parts = [_outline_curves(vertices, bulges) for vertices, bulges in outlines]
    curves = Curves(
        np.concatenate([none, *(p.start for p in parts)]),
        np.concatenate([none, *(p.end for p in parts)]),
        np.concatenate([none[:, 0], *(p.bulges for p in parts)]),
    )
    long = _has_length(curves)
    return curves.take(long), np.tile([1, 0], (len(long), 1))


def _has_length(curves: Curves) -> IntArray:
    return np.flatnonzero(np.hypot(*(curves.end - curves.start).T) > 1e-12)


def _shown(seen: Seen, layers: Sequence[Layer], ground: int) -> tuple[IntArray, IntArray]:
    """Return the colour and the piece of art of every face; OUTSIDE_COLOUR beyond the frame."""
    colours = np.where(seen.layer == UNSEEN, OUTSIDE_COLOUR, ground)
    pieces = np.full(len(colours), NO_PIECE)
    for number, layer in enumerate(layers, start=1):
        own = seen.layer == number
        if isinstance(layer, MapLayer):
            per_face = np.broadcast_to(layer.piece, layer.region_map.face_count)
            pieces[own] = per_face[seen.face[own]]
            colours[own] = layer.region_map.face_colours[seen.face[own]]
        else:
            pieces[own] = layer.piece
            colours[own] = layer.colour
    return colours, pieces


def _keys(seen: Seen, colours: IntArray, joined: frozenset[int]) -> IntArray:
    """Return what makes a face part of the same region as its neighbour, -1 beyond the frame."""
    flows = np.isin(colours, sorted(joined)) & (seen.layer != UNSEEN)
    layer = np.where(flows, -1, seen.layer)
    face = np.where(flows, colours, seen.face)
    _, keys = np.unique(np.stack([layer, face], axis=1), axis=0, return_inverse=True)
    return np.where(seen.layer == UNSEEN, NO_FACE, keys.reshape(-1).astype(np.int64))


def _composed(
    edges: Edges, faces: Faces, keys: IntArray, shown: tuple[IntArray, IntArray], bounds: Bounds
) -> Composed:
    """Return the map of connected faces with the same key."""
    count = len(keys)
    both = np.append(keys, NO_FACE)[faces.sides]
    alike = (both[:, 0] == both[:, 1]) & (both[:, 0] >= 0)
    left, right = faces.sides[alike].T
    region = linked_groups(left, right, count)
    # Regions are numbered by their first face; the largest face says whose they are.
    real = np.flatnonzero(keys >= 0)
    _, region[real] = np.unique(region[real], return_inverse=True)
    region[keys < 0] = NO_FACE
    order = np.lexsort((-faces.areas, region))
    largest = order[np.diff(region[order], prepend=NO_FACE) > 0]
    colours, pieces = shown
    made = gather(edges, faces, region, colours[largest], bounds)
    return Composed(made, pieces[largest])
