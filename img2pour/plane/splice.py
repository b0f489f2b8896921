"""Part of an arc drawn through its edge points, the rest as it was fitted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.shapes import points_on_arcs

SAMPLES = 32
"""Places along each piece at which it is asked whether it lies near a fault."""

REACH_PX = 10.0
"""What lies this near to a fault is drawn through the points."""

ASTRAY_PX = 12.0
"""Points and fitted arc run apart along their length by less: blur rounds corners off."""


def spliced(
    vertices: FloatArray, bulges: FloatArray, points: FloatArray, faults: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return an arc that follows its edge points near some faults.

    Parameters
    ----------
    vertices : (n, 2) float64
    bulges : (n,) float64
        The fitted arc.
    points : (m, 2) float64
        Its edge points, in its own order.
    faults : (k, 2) float64
        Places at which it crosses something.
    """
    piece, share, samples = _sampled(vertices, bulges)
    runs = _runs(_near(samples, faults))
    beside = _beside(samples, points, np.array(runs, dtype=np.int64).reshape(-1))
    made: list[tuple[FloatArray, float]] = []
    at = (0, 0.0)
    for (first, last), (low, high) in zip(runs, beside.reshape(-1, 2).tolist(), strict=True):
        _keep(made, vertices, bulges, at, (int(piece[first]), float(share[first])))
        made.append((samples[first], 0.0))
        own = points[low + 1 : high]
        made += [(point, 0.0) for point in own[_near(own, faults)]]
        at = int(piece[last]), float(share[last])
    _keep(made, vertices, bulges, at, (len(vertices) - 2, 1.0))
    made.append((vertices[-1], 0.0))
    return np.array([point for point, _ in made]), np.array([bulge for _, bulge in made])


def _sampled(vertices: FloatArray, bulges: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return places along all pieces: the piece, the share of it, and the point."""
    count = len(vertices) - 1
    piece = np.repeat(np.arange(count), SAMPLES)
    share = np.tile(np.arange(SAMPLES) / SAMPLES, count)
    piece, share = np.append(piece, count - 1), np.append(share, 1.0)
    points = points_on_arcs(vertices[piece], vertices[piece + 1], bulges[piece], share)
    return piece, share, points


def _beside(samples: FloatArray, points: FloatArray, which: IntArray) -> IntArray:
    """Return the edge point beside some samples: both run the same way along the arc.

    The two sides of a tip lie close together, so that the nearest point alone may be one of the
    other side.
    """
    along, own = _along(samples), _along(points)
    own *= along[-1] / max(own[-1], 1e-9)
    found = np.empty(len(which), dtype=np.int64)
    for index, sample in enumerate(which.tolist()):
        gaps = np.hypot(*(points - samples[sample]).T)
        gaps += np.where(np.abs(own - along[sample]) > ASTRAY_PX, along[-1], 0.0)
        found[index] = int(gaps.argmin())
    return found


def _along(points: FloatArray) -> FloatArray:
    """Return how far along the line each of its points lies."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _near(points: FloatArray, faults: FloatArray) -> NDArray[np.bool_]:
    """Return which points lie near a fault."""
    gaps = ((points[:, None] - faults[None]) ** 2).sum(axis=2)
    near: NDArray[np.bool_] = (gaps < REACH_PX**2).any(axis=1)
    return near


def _runs(near: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the first and last index of every run of True."""
    edges = np.diff(near.astype(np.int8), prepend=0, append=0)
    first, last = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    return list(zip(first.tolist(), last.tolist(), strict=True))


def _keep(
    made: list[tuple[FloatArray, float]],
    vertices: FloatArray,
    bulges: FloatArray,
    start: tuple[int, float],
    end: tuple[int, float],
) -> None:
    """Add the fitted pieces between two places; part of an arc turns by its share of the angle."""
    for piece in range(start[0], end[0] + 1):
        low = start[1] if piece == start[0] else 0.0
        high = end[1] if piece == end[0] else 1.0
        if high - low < 1e-9:
            continue
        a, b = vertices[piece : piece + 1], vertices[piece + 1 : piece + 2]
        bulge = bulges[piece : piece + 1]
        point = points_on_arcs(a, b, bulge, np.array([low]))[0]
        made.append((point, float(np.tan(np.arctan(bulge[0]) * (high - low)))))
