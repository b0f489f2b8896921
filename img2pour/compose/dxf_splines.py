"""Splines of DXF whose knots run on beyond their ends, as cubic curves."""

from __future__ import annotations

from typing import Any

import numpy as np

from img2pour.plane.regionmap import FloatArray

HIGHEST_DEGREE = 3


def spline_cubics(entity: Any) -> FloatArray | None:
    """Return a spline as cubic curves, (n, 4, 2); None for one that clamps its ends.

    A closed spline is often stored with even knots, of which the first and last few only lead up
    to it: the curve itself runs from knot `degree` to the last but `degree`. Between two knots it
    is a polynomial of at most the third degree, which its ends and slopes there give as a cubic:
    the inner control points lie a third of the slope times the step away from the ends.

    Parameters
    ----------
    entity : ezdxf spline
        Without weights; those with weights, or of a higher degree, are None too.
    """
    from scipy.interpolate import PPoly

    degree = int(entity.dxf.degree)
    knots = np.array(entity.knots, dtype=np.float64)
    points = np.array(entity.control_points, dtype=np.float64).reshape(-1, 3)[:, :2]
    fits = len(points) > degree and len(knots) == len(points) + degree + 1
    if not fits or not 1 <= degree <= HIGHEST_DEGREE or len(entity.weights):
        return None
    begin, end = knots[degree], knots[len(points)]
    if not (np.isfinite(knots).all() and np.isfinite(points).all() and begin < end):
        return None
    if begin == knots[0] and end == knots[-1]:
        return None
    sides = [PPoly.from_spline((knots, points[:, axis], degree)) for axis in (0, 1)]
    at, powers = sides[0].x, np.stack([side.c for side in sides], axis=2)
    spans = np.flatnonzero((at[:-1] >= begin) & (at[1:] <= end) & (np.diff(at) > 0))
    # Polynomials around the start of each span, the highest power first.
    a = np.zeros((4, len(spans), 2))
    a[3 - degree :] = powers[:, spans]
    step = np.diff(at)[spans][:, None]
    start, slope = a[3], a[2]
    stop = ((a[0] * step + a[1]) * step + a[2]) * step + a[3]
    slope_there = (3 * a[0] * step + 2 * a[1]) * step + a[2]
    made: FloatArray = np.stack(
        [start, start + slope * step / 3, stop - slope_there * step / 3, stop], axis=1
    )
    return made
