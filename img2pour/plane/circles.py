"""Closed outlines that are one circle: fitted whole, which no chain of arcs does as well."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from img2pour.plane.corners import Outlines
from img2pour.plane.regionmap import FloatArray, IntArray

LEAST_POINTS = 8
"""Fewer points cannot tell a circle from a square."""

FARTHEST = 3.5
"""A point further from the circle than this many times the allowance speaks against it."""

ROUND_SIDES, ROUND_SHARE = (3, 4), 0.09
"""An outline that leaves its circle by this share of the radius, three or four times around, is a
triangle or a square: 0.13 of the radius for a sharp square, 0.03 for a disc without blended edges.
"""

CIRCLE_STEPS = 4
"""Gauss-Newton steps."""

MEAN_SLOPE_FACTOR = 4 / np.pi
"""Mean of 1 / cos^2 over the octant in which an edge is read along one axis."""


@dataclass(frozen=True, eq=False)
class Circle:
    """A closed outline that is one circle, in pixels."""

    arc: int
    centre: FloatArray
    radius: float
    turns_left: bool


def find_circles(outlines: Outlines, allowance_px: FloatArray, blur_px: float) -> list[Circle]:
    """Return the closed outlines that a circle explains as well as the noise allows."""
    counts = np.diff(outlines.offsets)
    arcs = np.flatnonzero(outlines.closed & (counts >= LEAST_POINTS))
    if len(arcs) == 0:
        return []
    points = outlines.points[np.repeat(np.isin(np.arange(len(counts)), arcs), counts)]
    bounds = np.concatenate([[0], np.cumsum(counts[arcs])])
    centres, radii = fit_circles(points, bounds)
    owner = np.repeat(np.arange(len(arcs)), counts[arcs])
    away = points - centres[owner]
    off = np.hypot(*away.T) - radii[owner]
    miss = np.abs(off)
    # Small dots are read from few pixels each, with a larger error of their own.
    allowed = allowance_px[arcs] + 0.3 / radii
    farthest = np.maximum.reduceat(miss, bounds[:-1])
    rms = np.sqrt(np.add.reduceat(miss**2, bounds[:-1]) / counts[arcs])
    # Blur and the pixel itself draw a curve inwards by half their variance over the radius.
    drawn_in = 0.5 * (blur_px**2 + 1 / 12) * MEAN_SLOPE_FACTOR / radii
    turns_left = _areas(points, bounds) > 0
    is_round = (farthest <= FARTHEST * allowed) & (rms <= 1.5 * allowed)
    is_round &= _most_sided(away, off, bounds) <= ROUND_SHARE * radii
    return [
        Circle(int(arcs[k]), centres[k], float(radii[k] + drawn_in[k]), bool(turns_left[k]))
        for k in np.flatnonzero(is_round).tolist()
    ]


def _most_sided(away: FloatArray, off: FloatArray, bounds: IntArray) -> FloatArray:
    """Return how far each run goes in and out as a triangle or square does, (R,)."""
    angle = np.arctan2(away[:, 1], away[:, 0])
    waves = [off * np.exp(1j * sides * angle) for sides in ROUND_SIDES]
    means = [np.add.reduceat(wave, bounds[:-1]) / np.diff(bounds) for wave in waves]
    most: FloatArray = 2 * np.abs(means).max(axis=0)
    return most


def _areas(points: FloatArray, bounds: IntArray) -> FloatArray:
    """Return the signed area of each closed run of points."""
    following = np.arange(1, len(points) + 1)
    following[bounds[1:] - 1] = bounds[:-1]
    x, y = points.T
    areas: FloatArray = np.add.reduceat(x * y[following] - x[following] * y, bounds[:-1]) / 2
    return areas


def fit_circles(points: FloatArray, bounds: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return centre and radius of the geometric least-squares circle of each run of points.

    Starts from the mean and takes Gauss-Newton steps on the distances; runs that go round their
    mean evenly are there after two or three.

    Parameters
    ----------
    points : (N, 2) float64
    bounds : (R + 1,) int64

    Returns
    -------
    centres : (R, 2) float64
    radii : (R,) float64
    """
    counts = np.diff(bounds)
    owner = np.repeat(np.arange(len(counts)), counts)
    middle = np.add.reduceat(points, bounds[:-1], axis=0) / counts[:, None]
    local = points - middle[owner]
    found = np.zeros((len(counts), 3))
    found[:, 2] = np.add.reduceat(np.hypot(*local.T), bounds[:-1]) / counts
    for _ in range(CIRCLE_STEPS):
        away = local - found[owner, :2]
        distance = np.maximum(np.hypot(*away.T), 1e-9)
        slopes = np.column_stack([-away / distance[:, None], -np.ones(len(away))])
        products = slopes[:, :, None] * slopes[:, None, :]
        normal = np.add.reduceat(products, bounds[:-1], axis=0) + 1e-9 * np.eye(3)
        miss = distance - found[owner, 2]
        right = np.add.reduceat(slopes * miss[:, None], bounds[:-1], axis=0)
        found -= np.linalg.solve(normal, right[:, :, None])[:, :, 0]
    return middle + found[:, :2], np.maximum(found[:, 2], 1e-6)


def circle_outline(circle: Circle) -> tuple[FloatArray, FloatArray]:
    """Return a circle as two half circles, closed: vertices (3, 2) and bulges (3,)."""
    away = np.array([circle.radius, 0.0])
    right, left = circle.centre + away, circle.centre - away
    bulge = 1.0 if circle.turns_left else -1.0
    return np.stack([right, left, right]), np.array([bulge, bulge, 0.0])
