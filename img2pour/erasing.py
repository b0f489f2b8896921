"""Erases a part of the region map: what surrounds it grows in, each colour from its own side.

Where one colour surrounds what goes, regions simply merge. Else the emptied area is shared out by
the nearest surrounding edge, so that a horizon behind an erased boat runs on through it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.edit import merge_alike
from img2pour.plane.overlay import FillLayer, Layer, MapLayer, lay
from img2pour.plane.regionmap import OUTSIDE_COLOUR, RegionMap
from img2pour.plane.shapes import chords

# A region that lies in the polygon but for this share goes as a whole: hands draw roughly.
_OVERHANG = 0.1
# The surroundings are looked at in steps of this length, or this share of the polygon's size.
_STEP_PX = 1.5
_STEP_SHARE = 0.004
# Edges that grow in are straightened by this much: they were drawn by nobody.
_PLAY_PX = 2.0
_NEAR_PX = 0.5


@dataclass(frozen=True, eq=False)
class _Around:
    """Points along the edges of what goes, and the colour on the other side (n,)."""

    points: NDArray[np.float64]
    colours: NDArray[np.int64]


def erased(
    region_map: RegionMap,
    polygons: NDArray[np.object_],
    chosen: NDArray[np.bool_],
    area: shapely.Geometry | None,
) -> RegionMap | None:
    """Return the map without what lies in an area, or None when nothing of it can go.

    A region that the area's edge cuts goes inside the area when it borders more on other regions
    there than on the rest of itself: a stroke that runs through goes, the ground beside it stays.

    Parameters
    ----------
    region_map : RegionMap
        In pixels.
    polygons : (F,) of shapely.Polygon
        Its faces.
    chosen : (F,) bool
        Faces that may go.
    area : shapely.Geometry or None
        None: the chosen faces go as a whole.
    """
    gone = chosen.copy() if area is None else chosen & _goes(polygons, area)
    around = _surroundings(region_map, gone, area)
    if not gone.any() or len(around.colours) == 0:
        return None
    whole = gone & _lies_in(polygons, area, _OVERHANG)
    present = np.unique(around.colours)
    if len(present) == 1 and whole[gone].all():
        colours = np.where(gone, present[0], region_map.face_colours)
        return merge_alike(region_map, colours)
    swollen = shapely.buffer(polygons[whole], _NEAR_PX)
    room = shapely.union_all([*swollen, *(() if area is None else (area,))])
    return _filled(region_map, gone, _shares(around, room))


def _goes(polygons: NDArray[np.object_], area: shapely.Geometry) -> NDArray[np.bool_]:
    """Return which faces go inside the area: those that border least on the rest of themselves."""
    shapely.prepare(area)
    meets = shapely.intersects(polygons, area)
    goes = np.zeros(len(polygons), bool)
    for face in np.flatnonzero(meets).tolist():
        part = shapely.intersection(polygons[face], area)
        own = shapely.length(shapely.intersection(shapely.boundary(area), polygons[face]))
        outer = shapely.length(shapely.get_exterior_ring(shapely.get_parts(part))).sum()
        goes[face] = part.area > 0 and own < 0.5 * outer
    return goes


def _lies_in(
    polygons: NDArray[np.object_], area: shapely.Geometry | None, overhang: float
) -> NDArray[np.bool_]:
    if area is None:
        return np.ones(len(polygons), bool)
    inside = shapely.area(shapely.intersection(polygons, area))
    return np.asarray(inside >= (1 - overhang) * shapely.area(polygons), np.bool_)


def _surroundings(
    region_map: RegionMap, gone: NDArray[np.bool_], area: shapely.Geometry | None
) -> _Around:
    """Return points along arcs between faces that go and faces that stay, near the area."""
    sides = np.append(gone, False)[region_map.arc_faces]
    real = (region_map.arc_faces >= 0).all(axis=1)
    size = np.ptp(
        np.array(region_map.bounds if area is None else area.bounds).reshape(2, 2), axis=0
    )
    step = max(_STEP_PX, _STEP_SHARE * float(size.max()))
    reach = None if area is None else shapely.buffer(area, step)
    points, colours = [np.empty((0, 2))], [np.empty(0, np.int64)]
    for arc in np.flatnonzero(real & (sides[:, 0] != sides[:, 1])).tolist():
        line = shapely.LineString(chords(*region_map.arc(arc), 0.1)[0])
        if reach is not None:
            line = shapely.intersection(line, reach)
        spots = shapely.get_coordinates(shapely.segmentize(line, step))
        staying = region_map.arc_faces[arc, int(sides[arc, 0])]
        points.append(spots)
        colours.append(np.full(len(spots), region_map.face_colours[staying]))
    return _Around(np.concatenate(points), np.concatenate(colours))


def _shares(around: _Around, room: shapely.Geometry) -> list[tuple[int, shapely.Geometry]]:
    """Return for each surrounding colour the part of the room that lies nearest to it."""
    present = np.unique(around.colours)
    if len(present) == 1:
        return [(int(present[0]), room)]
    spots, first = np.unique(np.round(around.points, 6), axis=0, return_index=True)
    cells = shapely.get_parts(
        shapely.voronoi_polygons(shapely.multipoints(spots), extend_to=room, ordered=True)
    )
    colours = around.colours[first]
    cover = [shapely.coverage_union_all(cells[colours == colour]) for colour in present]
    straight = shapely.coverage_simplify(cover, _PLAY_PX)
    clipped = shapely.intersection(straight, room)
    return [(int(c), part) for c, part in zip(present, clipped, strict=True) if part.area > 0]


def _filled(
    region_map: RegionMap, gone: NDArray[np.bool_], shares: list[tuple[int, shapely.Geometry]]
) -> RegionMap:
    """Return the map with the shares laid where faces go; what stays lies on top, untouched."""
    colours = np.where(gone, OUTSIDE_COLOUR, region_map.face_colours)
    fills = [FillLayer(_outlines(shape), colour, 1, "evenodd") for colour, shape in shares]
    staying = MapLayer(replace(region_map, face_colours=colours), 2)
    flowing = frozenset(region_map.face_colours[region_map.face_colours >= 0].tolist())
    layers: list[Layer] = [MapLayer(region_map, 0), *fills, staying]
    return lay(layers, region_map.bounds, joined=flowing).region_map


def _outlines(shape: shapely.Geometry) -> Sequence[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    polygons = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    found = []
    for ring in shapely.get_rings(np.array(polygons, object)):
        points = shapely.get_coordinates(ring)[:-1]
        found.append((points, np.zeros(len(points))))
    return found
