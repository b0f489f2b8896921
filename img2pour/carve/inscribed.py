"""Which polygons a round bit can enter, and the widest bit that each of them takes."""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import shapely
from numpy.typing import NDArray

Polygons = NDArray[np.object_]
FloatArray = NDArray[np.float64]

ROUND_SEGMENTS = 8
"""Chords per quarter circle of an offset; 0.5 % of the radius at most between chord and arc."""

SEARCH_SHARE = 0.1
"""First tolerance, as a share of the radius.

The search halves cells around every place that may still win, all along a stroke of even width:
ten times finer takes ten times longer there.
"""


NEAR_SHARE = 0.02
"""Second tolerance, for what the first leaves open; only what is nearer still is eroded."""


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
    for share in (SEARCH_SHARE, NEAR_SHARE):
        tolerance = share * radius[asked]
        found = quick_circles(polygons[asked], tolerance)[1]
        wide[asked] = found >= radius[asked]
        asked = asked[(found < radius[asked]) & (found >= radius[asked] - tolerance)]
    eroded = shapely.buffer(polygons[asked], -radius[asked], quad_segs=ROUND_SEGMENTS)
    wide[asked] = ~shapely.is_empty(eroded)
    return wide


def quick_circles(
    polygons: Polygons, tolerance_mm: float | FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return centre and radius of nearly the largest circle inside each polygon.

    Parameters
    ----------
    polygons : (N,) object
        Shapely polygons, not empty.
    tolerance_mm : float or (N,) float64
        By how much the radius may be too small; a fine one is slow on long, even strokes.

    Returns
    -------
    centres : (N, 2) float64
    radii : (N,) float64
    """
    tolerance = np.broadcast_to(np.asarray(tolerance_mm, np.float64), polygons.shape)
    spokes = np.empty(polygons.shape, dtype=object)
    workers = min(4, os.cpu_count() or 1)

    def search(first: int) -> None:
        part = slice(first, None, workers)
        spokes[part] = shapely.maximum_inscribed_circle(polygons[part], tolerance[part])

    with ThreadPoolExecutor(max_workers=workers) as pool:
        list(pool.map(search, range(workers)))
    return shapely.get_coordinates(shapely.get_point(spokes, 0)), shapely.length(spokes)


def least_radii(polygons: Polygons) -> FloatArray:
    """Return a radius of which a circle certainly fits into each polygon, (N,) float64.

    From the same bound on the inscribed radius as in :func:`can_enter`, solved for the radius.
    """
    area, length = shapely.area(polygons), shapely.length(polygons)
    holes = np.maximum(shapely.get_num_interior_rings(polygons) - 1, 0)
    root = np.sqrt(length**2 + 4.0 * math.pi * holes * area)
    bound: FloatArray = 2.0 * area / np.maximum(length + root, 1e-300)
    return bound


def inscribed_circles(
    polygons: Polygons, tolerance_mm: float = 0.01, enough_mm: float = math.inf
) -> tuple[FloatArray, FloatArray]:
    """Return centre and radius of the largest circle inside each polygon.

    Parameters
    ----------
    polygons : (N,) object
        Shapely polygons, not empty.
    tolerance_mm : float
        By how much the radius may be too small.
    enough_mm : float
        Where a circle of this radius fits, the radius may be too small and the centre may be any
        point inside.

    Returns
    -------
    centres : (N, 2) float64
    radii : (N,) float64
    """
    if len(polygons) == 0:
        return np.empty((0, 2)), np.empty(0)
    radii = least_radii(polygons)
    points = np.array(shapely.point_on_surface(polygons), dtype=object)
    asked = np.flatnonzero(radii < enough_mm)
    asked_of = polygons[asked]
    share = SEARCH_SHARE * shapely.area(asked_of) / shapely.length(asked_of)
    tolerance = np.maximum(share, tolerance_mm)
    centres, radii[asked] = quick_circles(asked_of, tolerance)
    points[asked] = shapely.points(centres)
    rough = (radii[asked] < enough_mm) & (tolerance > tolerance_mm)
    asked, tolerance = asked[rough], tolerance[rough]
    low, high = radii[asked], radii[asked] + tolerance
    while len(asked) and (high - low).max() > tolerance_mm:
        middle = (low + high) / 2.0
        eroded = shapely.buffer(polygons[asked], -middle, quad_segs=ROUND_SEGMENTS)
        holds = ~shapely.is_empty(eroded)
        points[asked[holds]] = shapely.point_on_surface(eroded[holds])
        low, high = np.where(holds, middle, low), np.where(holds, high, middle)
    radii[asked] = low
    return shapely.get_coordinates(points), radii
