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
    first = bounds[:-1]
    middle = np.add.reduceat(points, first, axis=0) / counts[:, None]
    x = points[:, 0] - np.repeat(middle[:, 0], counts)
    y = points[:, 1] - np.repeat(middle[:, 1], counts)
    found = np.zeros((len(counts), 3))
    found[:, 2] = np.add.reduceat(np.hypot(x, y), first) / counts
    for _ in range(CIRCLE_STEPS):
        away_x, away_y = x - np.repeat(found[:, 0], counts), y - np.repeat(found[:, 1], counts)
        distance = np.maximum(np.hypot(away_x, away_y), 1e-9)
        miss = distance - np.repeat(found[:, 2], counts)
        found -= _circle_step(-away_x / distance, -away_y / distance, miss, bounds)
    return middle + found[:, :2], np.maximum(found[:, 2], 1e-6)


def _circle_step(
    slope_x: FloatArray, slope_y: FloatArray, miss: FloatArray, bounds: IntArray
) -> FloatArray:
    """Return by how much x, y and radius of each run's circle are to be less, (R, 3)."""

    def total(values: FloatArray) -> FloatArray:
        summed: FloatArray = np.add.reduceat(values, bounds[:-1])
        return summed

    normal, right = np.empty((len(bounds) - 1, 3, 3)), np.empty((len(bounds) - 1, 3, 1))
    normal[:, 0, 0], normal[:, 1, 1] = total(slope_x * slope_x), total(slope_y * slope_y)
    normal[:, 0, 1] = normal[:, 1, 0] = total(slope_x * slope_y)
    normal[:, 0, 2] = normal[:, 2, 0] = -total(slope_x)
    normal[:, 1, 2] = normal[:, 2, 1] = -total(slope_y)
    normal[:, 2, 2] = np.diff(bounds)
    right[:, 0, 0], right[:, 1, 0] = total(slope_x * miss), total(slope_y * miss)
    right[:, 2, 0] = -total(miss)
    return np.asarray(np.linalg.solve(normal + 1e-9 * np.eye(3), right)[:, :, 0], np.float64)


def circle_outline(circle: Circle) -> tuple[FloatArray, FloatArray]:
    """Return a circle as two half circles, closed: vertices (3, 2) and bulges (3,)."""
    away = np.array([circle.radius, 0.0])
    right, left = circle.centre + away, circle.centre - away
    bulge = 1.0 if circle.turns_left else -1.0
    return np.stack([right, left, right]), np.array([bulge, bulge, 0.0])
