"""Plane geometry that several steps of the pours share: shapely values in millimetres."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry.base import BaseGeometry as Geometry

__all__ = [
    "Geometry",
    "areal",
    "dilate",
    "dilate_thinly",
    "empty",
    "filled_holes",
    "opened",
    "polygons_of",
    "shared_edge",
    "thick_part",
    "thin_part",
    "union",
]

QUAD_SEGS = 32  # a dilated point then keeps 0.9996 of its area
TOUCH_MM = 1e-4  # edges nearer than this are the same edge
STANDS_OUT = 2.0  # corners down to 60 degrees lie within this many radii of the eroded shape


def empty() -> Geometry:
    """Return a geometry with nothing in it."""
    return shapely.MultiPolygon()


def polygons_of(shape: Geometry) -> list[Geometry]:
    """Return the polygons of a geometry, largest parts and slivers alike, lines left out."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]


def areal(shape: Geometry) -> Geometry:
    """Return the polygons of a geometry as one MultiPolygon: overlays also leave points, lines."""
    return shapely.MultiPolygon(polygons_of(shape))


def union(shapes: Iterable[Geometry]) -> Geometry:
    """Return the union of shapes, areas only."""
    return areal(shapely.union_all(list(shapes)))


def dilate(shape: Geometry, by_mm: float) -> Geometry:
    """Return everything within a distance of a shape (or, below 0, what is left inside)."""
    if by_mm == 0.0 or shape.is_empty:
        return shape
    return shapely.buffer(shape, by_mm, quad_segs=QUAD_SEGS)


def opened(shape: Geometry, radius_mm: float) -> Geometry:
    """Return what a disc covers that stays inside the shape."""
    if radius_mm <= 0.0:
        return shape
    return areal(dilate(dilate(shape, -radius_mm), radius_mm).intersection(shape))


def thick_part(shape: Geometry, width_mm: float) -> Geometry:
    """Return what is at least `width_mm` wide, its corners included.

    The corners that a disc rounds off belong to the thick part when they are 60 degrees or more.
    """
    radius = width_mm / 2.0
    if radius <= 0.0:
        return shape
    core = dilate(shape, -radius * (1.0 - 1e-9))
    return areal(dilate(core, STANDS_OUT * radius).intersection(shape))


def thin_part(shape: Geometry, width_mm: float) -> Geometry:
    """Return what is narrower than `width_mm`, corners left out."""
    return areal(shape.difference(thick_part(shape, width_mm)))


def shared_edge(shape: Geometry, other: Geometry) -> Geometry:
    """Return the part of a shape's boundary that lies on another's boundary."""
    return shape.boundary.intersection(dilate_thinly(other.boundary))


def dilate_thinly(lines: Geometry) -> Geometry:
    """Return lines as a hair's breadth, wide enough to meet the same line computed otherwise."""
    return shapely.buffer(lines, TOUCH_MM, quad_segs=1, cap_style="flat", join_style="mitre")


def filled_holes(shape: Geometry) -> Geometry:
    """Return the holes of a shape, filled."""
    holes: Sequence[Geometry] = [
        shapely.Polygon(ring) for part in polygons_of(shape) for ring in part.interiors
    ]
    return shapely.union_all(holes) if holes else empty()
