"""How far the points on an edge scatter, judged from the points alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.edges import Blended, EdgePoints, points_across
from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.walk import Walk

WINDOW = 9
"""Successive points through which a parabola is laid; what is left over is noise."""

PRIOR_WINDOWS = 10
"""An arc with few windows of its own leans on the picture's median, weighted as so many."""

BLOCK = 8192
"""Windows that are looked at together: few enough to stay in the processor's cache."""

MOST_TURN_DEG = 25.0
"""A window whose halves turn further against each other holds a corner, which is no noise."""

CLEAN_NOISE_PX = 0.04
"""Taken when every window holds a corner: tiny shapes alone are drawn, not photographed."""

MOST_WINDOWS = 1000
"""So many windows of the picture are enough to tell in which light it was blended."""

LEAST_TELLING_PX = 0.005
"""Windows that scatter less than this do not tell it: upright edges."""

LINEAR_GAIN = 0.6
"""Edges are read in linear light when that takes the scatter of the points below this share."""


def arc_noise_px(edges: EdgePoints) -> FloatArray:
    """Return the noise (rms) of the points of each arc, (A,).

    Low contrast makes noise: the same scatter of the pixels moves an edge between two like colours
    further than one between black and white, so every arc has its own. Windows that hold a corner
    are left out, or a small square would pass for a noisy circle.
    """
    count = len(edges.offsets) - 1
    start, owner = _windows(edges.offsets)
    if len(start) == 0:
        return np.zeros(count)
    rms, even = _scatter(edges.points, start)
    if not even.any():
        return np.full(count, CLEAN_NOISE_PX)
    rms, owner = rms[even], owner[even]
    order = np.lexsort((rms, owner))
    sizes = np.bincount(owner, minlength=count)
    ends = np.cumsum(sizes)
    middle = np.minimum(ends - sizes + sizes // 2, len(order) - 1)
    own = np.where(sizes > 0, rms[order][middle], 0.0)
    overall = float(np.median(rms))
    noise: FloatArray = (own * sizes + overall * PRIOR_WINDOWS) / (sizes + PRIOR_WINDOWS)
    return noise


def _windows(offsets: IntArray) -> tuple[IntArray, IntArray]:
    """Return the first point of every second window within one arc, and that arc."""
    arc = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
    start = np.arange(0, len(arc) - WINDOW + 1, 2)
    start = start[arc[start] == arc[start + WINDOW - 1]]
    return start, arc[start]


def _scatter(points: FloatArray, start: IntArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the noise of the windows that start at these points, and which hold no corner."""
    rms, even = [], []
    for block in np.array_split(start, 1 + len(start) // BLOCK):
        windows = points[block[:, None] + np.arange(WINDOW)]
        rms.append(left_over_px(windows))
        even.append(turn_deg(windows) <= MOST_TURN_DEG)
    return np.concatenate(rms), np.concatenate(even)


def turn_deg(windows: FloatArray) -> FloatArray:
    """Return by how much the second half of each window turns away from the first, (n,).

    Parameters
    ----------
    windows : (n, WINDOW, 2) float64
        Successive points.
    """
    middle = WINDOW // 2
    before, after = windows[:, middle] - windows[:, 0], windows[:, -1] - windows[:, middle]
    across = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn: FloatArray = np.degrees(np.arctan2(np.abs(across), np.einsum("ij,ij->i", before, after)))
    return turn


def left_over_px(windows: FloatArray) -> FloatArray:
    """Return the rms distance of each window's points from its parabola.

    Parameters
    ----------
    windows : (n, WINDOW, 2) float64
        Successive points.
    """
    along = windows[:, -1] - windows[:, 0]
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    x, y = (windows - windows[:, :1]).transpose(2, 0, 1)
    u = x * along[:, :1] + y * along[:, 1:]
    v = y * along[:, :1] - x * along[:, 1:]
    # Orthogonal polynomials in u, one after the other: 1, u and u^2.
    u, v = u - u.mean(axis=1, keepdims=True), v - v.mean(axis=1, keepdims=True)
    square = u * u - (u * u).mean(axis=1, keepdims=True)
    left = _without(v, u)
    left = _without(left, _without(square, u))
    rms: FloatArray = np.sqrt(np.einsum("ij,ij->i", left, left) / (WINDOW - 3))
    return rms


def _without(values: FloatArray, direction: FloatArray) -> FloatArray:
    """Return the values with their part along a direction taken out, row by row."""
    size = np.maximum(np.einsum("ij,ij->i", direction, direction), 1e-12)
    share = np.einsum("ij,ij->i", values, direction) / size
    left: FloatArray = values - share[:, None] * direction
    return left


def blended_in_linear_light(picture: Blended, walked: Walk, kept: IntArray) -> bool:
    """Tell from a sample of the edges whether they scatter much less when read in linear light.

    Parameters
    ----------
    picture : Blended
        The picture; its own `linear` is not looked at.
    walked : Walk
    kept : (N,) int64
        From :func:`img2pour.plane.edges.cracks_across_main_axis`.
    """
    start, _ = _windows(np.searchsorted(kept, walked.crack_offsets).astype(np.int64))
    start = start[:: max(1, len(start) // MOST_WINDOWS)]
    cracks = kept[start[:, None] + np.arange(WINDOW)].ravel()
    scatter = []
    for linear in (False, True):
        read = Blended(picture.rgb, picture.labels, picture.palette, linear)
        points = points_across(read, walked, cracks).reshape(-1, WINDOW, 2)
        scatter.append(left_over_px(points))
    plain, linear_light = scatter
    telling = plain > LEAST_TELLING_PX
    if not telling.any():
        return False
    return bool(np.median(linear_light[telling]) < LINEAR_GAIN * np.median(plain[telling]))
