"""Sums over runs of points, from which lines and circles are fitted without the points.

Nine sums travel as columns: n, x, y, xx, xy, yy, xz, yz, zz, with z = x^2 + y^2. They are kept in
local coordinates (origin near the run), since zz loses all digits far from the origin.
"""

from __future__ import annotations

import numpy as np

from img2pour.plane.regionmap import FloatArray, IntArray

TAUBIN_STEPS = 6
"""Newton steps towards the smallest root; it converges from 0 (Chernov, Circular and Linear
Regression, 2010, section 5.9)."""


def run_sums(points: FloatArray, weights: FloatArray, bounds: IntArray) -> FloatArray:
    """Return the nine sums of each run, (9, R), from points in the runs' own coordinates.

    Parameters
    ----------
    points : (N, 2) float64
    weights : (N,) float64
    bounds : (R + 1,) int64
        Run r holds points[bounds[r]:bounds[r + 1]], at least one.
    """
    x, y = points.T
    z = x * x + y * y
    columns = np.stack([np.ones(len(x)), x, y, x * x, x * y, y * y, x * z, y * z, z * z])
    return np.add.reduceat(columns * weights, bounds[:-1], axis=1)


def shifted(sums: FloatArray, tx: FloatArray, ty: FloatArray) -> FloatArray:
    """Return the sums after every point moved by (tx, ty)."""
    n, x, y, xx, xy, yy, xz, yz, zz = sums
    t2 = tx * tx + ty * ty
    along = tx * x + ty * y
    z = xx + yy
    z_new = z + 2 * along + n * t2
    return np.stack(
        [
            n,
            x + n * tx,
            y + n * ty,
            xx + 2 * tx * x + n * tx * tx,
            xy + tx * y + ty * x + n * tx * ty,
            yy + 2 * ty * y + n * ty * ty,
            xz + 2 * (tx * xx + ty * xy) + t2 * x + tx * z_new,
            yz + 2 * (tx * xy + ty * yy) + t2 * y + ty * z_new,
            zz
            + 4 * (tx * xz + ty * yz)
            + 4 * (tx * tx * xx + 2 * tx * ty * xy + ty * ty * yy)
            + t2 * (2 * z + 4 * along + n * t2),
        ]
    )


def centred(sums: FloatArray) -> FloatArray:
    """Return means about the centroid: xx, xy, yy, xz, yz, zz, (6, R)."""
    count = np.maximum(sums[0], 1e-12)
    moved = shifted(sums, -sums[1] / count, -sums[2] / count)
    means: FloatArray = moved[3:] / count
    return means


def line_variance(means: FloatArray) -> FloatArray:
    """Return the mean squared distance from the best line."""
    xx, xy, yy = means[:3]
    half_gap = np.hypot((xx - yy) / 2, xy)
    variance: FloatArray = np.maximum((xx + yy) / 2 - half_gap, 0.0)
    return variance


def circle_variance(means: FloatArray) -> FloatArray:
    """Return the mean squared distance from the best circle (Taubin's method).

    The smallest root of the characteristic polynomial is the mean of F^2 / |grad F|^2, which is
    the mean squared distance to first order.
    """
    xx, xy, yy, xz, yz, zz = means
    z = xx + yy
    covariance = xx * yy - xy * xy
    spread = np.maximum(zz - z * z, 0.0)
    a3 = 4 * z
    a2 = -3 * z * z - zz
    a1 = spread * z + 4 * covariance * z - xz * xz - yz * yz
    a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - spread * covariance
    root: FloatArray = np.zeros_like(z)
    limit = line_variance(means)
    for _ in range(TAUBIN_STEPS):
        value = a0 + root * (a1 + root * (a2 + root * a3))
        slope = a1 + root * (2 * a2 + 3 * a3 * root)
        change = value / np.where(np.abs(slope) < 1e-300, 1e-300, slope)
        # A line is a circle too, so the root is never above the line's variance.
        root = np.clip(root - change, 0.0, limit)
    return root
