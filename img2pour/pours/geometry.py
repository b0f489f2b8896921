"""Plane geometry that several steps of the pours share: shapely values in millimetres.

What one polygon's inside decides (erosion, thin places) is worked out polygon by polygon in one
vectorised call: offsets of a whole map at once are several times slower.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry as Geometry

__all__ = [
    "QUAD_SEGS",
    "TOUCH_MM",
    "Geometry",
    "areal",
    "as_array",
    "dilate",
    "empty",
    "filled_holes",
    "inside_points",
    "multi",
    "opened",
    "points_within",
    "polygons_of",
    "thick_part",
    "thin_part",
    "union",
]

QUAD_SEGS = 16  # a dilated point then keeps 0.998 of its area
TOUCH_MM = 1e-4  # edges nearer than this are the same edge
GROWN_QUAD_SEGS = 4  # only tells thick places from thin ones
CORE_SLACK_MM = 0.01  # cores are thinned out by this before they grow
STANDS_OUT = 2.0  # corners down to 60 degrees lie within this many radii of the eroded shape


def empty() -> Geometry:
    """Return a geometry with nothing in it."""
    return shapely.MultiPolygon()


def polygons_of(shape: Geometry) -> list[Geometry]:
    """Return the polygons of a geometry, slivers too; lines and points are left out."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    return list(parts[(shapely.get_type_id(parts) == 3) & ~shapely.is_empty(parts)])


def as_array(polygons: Iterable[Geometry]) -> NDArray[np.object_]:
    """Return geometries as an array, (N,) object."""
    listed = list(polygons)
    array = np.empty(len(listed), dtype=object)
    array[:] = listed
    return array


def multi(polygons: Iterable[Geometry]) -> Geometry:
    """Return polygons that do not overlap as one MultiPolygon."""
    return shapely.multipolygons(as_array(polygons))


def areal(shape: Geometry) -> Geometry:
    """Return the polygons of a geometry as one MultiPolygon: overlays also leave points, lines."""
    return multi(polygons_of(shape))


def union(shapes: Iterable[Geometry]) -> Geometry:
    """Return the union of shapes, areas only."""
    return areal(shapely.union_all(as_array(shapes)))


def dilate(shape: Geometry, by_mm: float, quad_segs: int = QUAD_SEGS) -> Geometry:
    """Return everything within a distance of a shape (or, below 0, what is left inside)."""
    if by_mm == 0.0 or shape.is_empty:
        return shape
    return shapely.buffer(shape, by_mm, quad_segs=quad_segs)


def opened(shape: Geometry, radius_mm: float) -> Geometry:
    """Return what a disc covers that stays inside the shape."""
    if radius_mm <= 0.0:
        return shape
    parts = as_array(polygons_of(shape))
    cores = shapely.buffer(parts, -radius_mm, quad_segs=QUAD_SEGS)
    grown = shapely.buffer(cores, radius_mm, quad_segs=QUAD_SEGS)
    return _inside(grown, parts)


def thick_part(shape: Geometry, width_mm: float) -> Geometry:
    """Return what is at least `width_mm` wide, its corners included.

    The corners that a disc rounds off belong to the thick part when they are 60 degrees or more.
    """
    if width_mm <= 0.0:
        return shape
    parts = as_array(polygons_of(shape))
    return _inside(_grown_cores(parts, width_mm / 2.0), parts)


def thin_part(shape: Geometry, width_mm: float) -> Geometry:
    """Return what is narrower than `width_mm`, corners left out."""
    if width_mm <= 0.0:
        return empty()
    parts = as_array(polygons_of(shape))
    thick = _grown_cores(parts, width_mm / 2.0)
    some = ~shapely.covers(thick, parts)
    left = shapely.difference(parts[some], thick[some])
    return multi(polygons_of(shapely.geometrycollections(left)))


def _inside(grown: NDArray[np.object_], parts: NDArray[np.object_]) -> Geometry:
    """Return what of each grown shape lies inside its polygon, all as one MultiPolygon."""
    kept = ~shapely.is_empty(grown)
    inside = shapely.intersection(grown[kept], parts[kept])
    return multi(polygons_of(shapely.geometrycollections(inside)))


def _grown_cores(parts: NDArray[np.object_], radius_mm: float) -> NDArray[np.object_]:
    """Return each polygon eroded by a radius and grown by twice as much, (N,) object."""
    cores = shapely.buffer(parts, -radius_mm * (1.0 - 1e-9), quad_segs=QUAD_SEGS // 2)
    cores = shapely.simplify(cores, CORE_SLACK_MM)
    grown: NDArray[np.object_] = shapely.buffer(
        cores, STANDS_OUT * radius_mm, quad_segs=GROWN_QUAD_SEGS
    )
    return grown


def filled_holes(shape: Geometry) -> list[Geometry]:
    """Return the holes of a shape, each filled."""
    rings = [ring for part in polygons_of(shape) for ring in part.interiors]
    return list(shapely.polygons(as_array(rings))) if rings else []


def inside_points(polygons: Iterable[Geometry]) -> NDArray[np.object_]:
    """Return a point inside each polygon, (N,) object."""
    points: NDArray[np.object_] = shapely.point_on_surface(as_array(polygons))
    return points


def points_within(points: NDArray[np.object_], polygons: Iterable[Geometry]) -> NDArray[np.bool_]:
    """Return which points lie in any of some polygons, their edges included, (N,)."""
    found = np.zeros(len(points), dtype=bool)
    tree = shapely.STRtree(as_array(polygons))
    if len(points):
        found[tree.query(points, predicate="dwithin", distance=TOUCH_MM)[0]] = True
    return found
