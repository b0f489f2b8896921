"""Sums over runs of points, from which lines and circles are fitted without the points.

Nine sums travel as columns: n, x, y, xx, xy, yy, xz, yz, zz, with z = x^2 + y^2. They are kept in
local coordinates (origin near the run), since zz loses all digits far from the origin.
"""

from __future__ import annotations

from dataclasses import dataclass

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
    txx, txy, tyy = tx * tx, tx * ty, ty * ty
    t2 = txx + tyy
    along = 2 * (tx * x + ty * y)
    n_t2 = n * t2
    z = xx + yy
    z_new = z + along + n_t2
    moved = np.empty_like(sums)
    moved[0] = n
    moved[1] = x + n * tx
    moved[2] = y + n * ty
    moved[3] = xx + 2 * tx * x + n * txx
    moved[4] = xy + tx * y + ty * x + n * txy
    moved[5] = yy + 2 * ty * y + n * tyy
    moved[6] = xz + 2 * (tx * xx + ty * xy) + t2 * x + tx * z_new
    moved[7] = yz + 2 * (tx * xy + ty * yy) + t2 * y + ty * z_new
    moved[8] = (
        zz
        + 4 * (tx * xz + ty * yz + txx * xx + 2 * txy * xy + tyy * yy)
        + t2 * (2 * (z + along) + n_t2)
    )
    return moved


@dataclass(frozen=True, eq=False)
class Centred:
    """Means of runs about their own centroids, each (R,): of xx, xy, yy, xz, yz.

    `spread` is the variance of z = x^2 + y^2.
    """

    xx: FloatArray
    xy: FloatArray
    yy: FloatArray
    xz: FloatArray
    yz: FloatArray
    spread: FloatArray

    def some(self, which: IntArray) -> Centred:
        """Return the means of some of the runs."""
        return Centred(
            self.xx[which],
            self.xy[which],
            self.yy[which],
            self.xz[which],
            self.yz[which],
            self.spread[which],
        )


def centred(sums: FloatArray) -> Centred:
    """Return the means about the centroids.

    Moving by (-p, -q) changes z by -2 p x - 2 q y and a constant, which no covariance sees.
    """
    p, q, xx, xy, yy, xz, yz, zz = sums[1:] / np.maximum(sums[0], 1e-12)
    z = xx + yy
    xx, xy, yy = xx - p * p, xy - p * q, yy - q * q
    xz, yz = xz - p * z, yz - q * z
    p, q = 2 * p, 2 * q
    px, qy = p * xx + q * xy, p * xy + q * yy
    spread = zz - z * z - 2 * (p * xz + q * yz) + p * px + q * qy
    return Centred(xx, xy, yy, xz - px, yz - qy, np.maximum(spread, 0.0))


def line_variance(means: Centred) -> FloatArray:
    """Return the mean squared distance from the best line."""
    half_gap = np.hypot((means.xx - means.yy) / 2, means.xy)
    variance: FloatArray = np.maximum((means.xx + means.yy) / 2 - half_gap, 0.0)
    return variance


def circle_variance(means: Centred, limit: FloatArray) -> FloatArray:
    """Return the mean squared distance from the best circle (Taubin's method).

    The smallest root of the characteristic polynomial is the mean of F^2 / |grad F|^2, which is
    the mean squared distance to first order.

    Parameters
    ----------
    means : Centred
    limit : (R,) float64
        The line's variance: a line is a circle too, so the root is never above it.
    """
    xx, xy, yy, xz, yz = means.xx, means.xy, means.yy, means.xz, means.yz
    z = xx + yy
    covariance = xx * yy - xy * xy
    a3 = 4 * z
    a2 = -4 * z * z - means.spread
    a1 = (means.spread + 4 * covariance) * z - xz * xz - yz * yz
    a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - means.spread * covariance
    twice_a2, thrice_a3 = 2 * a2, 3 * a3
    root: FloatArray = np.zeros_like(z)
    for _ in range(TAUBIN_STEPS):
        value = a0 + root * (a1 + root * (a2 + root * a3))
        slope = a1 + root * (twice_a2 + thrice_a3 * root)
        slope[np.abs(slope) < 1e-300] = 1e-300
        root = np.minimum(np.maximum(root - value / slope, 0.0), limit)
    return root
