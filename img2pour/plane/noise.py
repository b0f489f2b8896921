"""How far the points on an edge scatter, judged from the points alone."""

from __future__ import annotations

import numpy as np

from img2pour.plane.edges import EdgePoints
from img2pour.plane.regionmap import FloatArray

WINDOW = 9
"""Successive points through which a parabola is laid; what is left over is noise."""

PRIOR_WINDOWS = 10
"""An arc with few windows of its own leans on the picture's median, weighted as so many."""


def arc_noise_px(edges: EdgePoints) -> FloatArray:
    """Return the noise (rms) of the points of each arc, (A,).

    Low contrast makes noise: the same scatter of the pixels moves an edge between two like colours
    further than one between black and white, so every arc has its own.
    """
    count = len(edges.offsets) - 1
    arc = np.repeat(np.arange(count), np.diff(edges.offsets))
    start = np.arange(0, len(arc) - WINDOW + 1, 2)
    start = start[arc[start] == arc[start + WINDOW - 1]]
    if len(start) == 0:
        return np.zeros(count)
    rms = _left_over(edges.points, start)
    order = np.lexsort((rms, arc[start]))
    owners = arc[start[order]]
    sizes = np.bincount(owners, minlength=count)
    ends = np.cumsum(sizes)
    middle = np.minimum(ends - sizes + sizes // 2, len(order) - 1)
    own = np.where(sizes > 0, rms[order][middle], 0.0)
    overall = float(np.median(rms))
    noise: FloatArray = (own * sizes + overall * PRIOR_WINDOWS) / (sizes + PRIOR_WINDOWS)
    return noise


def _left_over(points: FloatArray, start: FloatArray) -> FloatArray:
    """Return the rms distance of each window's points from its parabola."""
    window = points[start[:, None] + np.arange(WINDOW)]
    window = window - window.mean(axis=1, keepdims=True)
    along = window[:, -1] - window[:, 0]
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    u = (window * along[:, None]).sum(axis=2)
    v = window[..., 1] * along[:, None, 0] - window[..., 0] * along[:, None, 1]
    u = u / np.maximum(np.abs(u).max(axis=1, keepdims=True), 1e-9)
    basis = np.stack([np.ones_like(u), u, u * u], axis=2)
    normal = np.einsum("nki,nkj->nij", basis, basis) + 1e-9 * np.eye(3)
    right = np.einsum("nki,nk->ni", basis, v)
    fitted = np.einsum("nki,ni->nk", basis, np.linalg.solve(normal, right[..., None])[..., 0])
    rms: FloatArray = np.sqrt(((v - fitted) ** 2).sum(axis=1) / (WINDOW - 3))
    return rms
