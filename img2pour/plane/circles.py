"""Closed outlines that are one circle: fitted whole, which no chain of arcs does as well."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from img2pour.plane.corners import Outlines
from img2pour.plane.regionmap import FloatArray

LEAST_POINTS = 8
"""Fewer points cannot tell a circle from a square."""

FARTHEST = 3.5
"""A point further from the circle than this many times the allowance speaks against it."""

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
    found = []
    for arc in np.flatnonzero(outlines.closed).tolist():
        points = outlines.points[outlines.offsets[arc] : outlines.offsets[arc + 1]]
        if len(points) >= LEAST_POINTS:
            circle = _circle(arc, points, float(allowance_px[arc]), blur_px)
            if circle is not None:
                found.append(circle)
    return found


def _circle(arc: int, points: FloatArray, allowance_px: float, blur_px: float) -> Circle | None:
    """Return the circle through the points, or None where they are no circle."""
    centre, radius = fit_circle(points)
    miss = np.abs(np.hypot(*(points - centre).T) - radius)
    # Small dots are read from few pixels each, with a larger error of their own.
    allowed = allowance_px + 0.3 / radius
    if miss.max() > FARTHEST * allowed or np.sqrt((miss**2).mean()) > 1.5 * allowed:
        return None
    x, y = (points - centre).T
    area = (x * np.roll(y, -1) - np.roll(x, -1) * y).sum()
    # Blur and the pixel itself draw a curve inwards by half their variance over the radius.
    drawn_in = 0.5 * (blur_px**2 + 1 / 12) * MEAN_SLOPE_FACTOR / radius
    return Circle(arc, centre, radius + drawn_in, bool(area > 0))


def fit_circle(points: FloatArray) -> tuple[FloatArray, float]:
    """Return centre and radius of the geometric least-squares circle.

    Starts from the algebraic circle and takes Gauss-Newton steps on the distances.
    """
    middle = points.mean(axis=0)
    x, y = (points - middle).T
    system = np.stack([2 * x, 2 * y, np.ones(len(x))], axis=1)
    a, b, c = np.linalg.lstsq(system, x * x + y * y, rcond=None)[0]
    centre, radius = np.array([a, b]), float(np.sqrt(max(c + a * a + b * b, 1e-12)))
    for _ in range(5):
        away = np.stack([x, y], axis=1) - centre
        distance = np.maximum(np.hypot(*away.T), 1e-9)
        slopes = np.column_stack([-away / distance[:, None], -np.ones(len(x))])
        change = np.linalg.lstsq(slopes, radius - distance, rcond=None)[0]
        centre, radius = centre + change[:2], radius + float(change[2])
    return middle + centre, radius


def circle_outline(circle: Circle) -> tuple[FloatArray, FloatArray]:
    """Return a circle as two half circles, closed: vertices (3, 2) and bulges (3,)."""
    away = np.array([circle.radius, 0.0])
    right, left = circle.centre + away, circle.centre - away
    bulge = 1.0 if circle.turns_left else -1.0
    return np.stack([right, left, right]), np.array([bulge, bulge, 0.0])
