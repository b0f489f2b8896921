"""Which polygons a round bit can enter, and the widest bit that each of them takes."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

Polygons = NDArray[np.object_]
FloatArray = NDArray[np.float64]

ROUND_SEGMENTS = 8
"""Chords per quarter circle of an offset; 0.5 % of the radius at most between chord and arc."""

SEARCH_TOLERANCE_MM = 0.005


def can_enter(polygons: Polygons, radius_mm: float | FloatArray) -> NDArray[np.bool_]:
    """Return which polygons hold a circle of a radius.

    Most are settled by their box, or by a bound on the inscribed radius R: the outline of the
    eroded polygon grows by at most 2 pi per unit of erosion and hole beyond the first, hence
    area <= R perimeter + pi R^2 max(holes - 1, 0) (Sz.-Nagy). For the rest the circle is searched,
    which is a hundred times faster than eroding; only a near miss is eroded.

    Parameters
    ----------
    polygons : (N,) object
        Shapely polygons.
    radius_mm : float or (N,) float64

    Returns
    -------
    (N,) bool
    """
    radius = np.broadcast_to(np.asarray(radius_mm, dtype=np.float64), polygons.shape)
    area = shapely.area(polygons)
    boxes = shapely.bounds(polygons)
    narrow = np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    holes = np.maximum(shapely.get_num_interior_rings(polygons) - 1, 0)
    bound = radius * shapely.length(polygons) + math.pi * radius**2 * holes
    wide: NDArray[np.bool_] = area > bound
    open_question = ~wide & (area >= math.pi * radius**2 * 0.99) & (narrow >= 2.0 * radius)
    asked = np.flatnonzero(open_question)
    _, found = inscribed_circles(polygons[asked], SEARCH_TOLERANCE_MM)
    wide[asked] = found >= radius[asked]
    near = asked[(found < radius[asked]) & (found >= radius[asked] - SEARCH_TOLERANCE_MM)]
    eroded = shapely.buffer(polygons[near], -radius[near], quad_segs=ROUND_SEGMENTS)
    wide[near] = ~shapely.is_empty(eroded)
    return wide


def inscribed_circles(
    polygons: Polygons, tolerance_mm: float = 0.01
) -> tuple[FloatArray, FloatArray]:
    """Return centre and radius of the largest circle inside each polygon.

    Parameters
    ----------
    polygons : (N,) object
        Shapely polygons, not empty.
    tolerance_mm : float
        By how much the radius may be too small.

    Returns
    -------
    centres : (N, 2) float64
    radii : (N,) float64
    """
    if len(polygons) == 0:
        return np.empty((0, 2)), np.empty(0)
    spokes = shapely.maximum_inscribed_circle(polygons, tolerance_mm)
    centres = shapely.get_coordinates(shapely.get_point(spokes, 0))
    return centres, shapely.length(spokes)
