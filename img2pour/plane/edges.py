"""Where the edge really is: a fraction of a pixel, read from the blended pixels along each crack.

An edge that crosses a pixel leaves there a blend of the colours on both sides. Summing the shares
of the far colour across the edge gives the edge's place along that row or column, whatever the
blur, as long as the sum runs over all the pixels that the blur reaches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, IntArray
from img2pour.plane.walk import OUTSIDE_LABEL, STEP_X, STEP_Y, Walk

REACH_PX = 3
"""Pixels read on each side of an edge: enough for a blur of sigma 1.5."""

TANGENT_REACH = 5
"""Cracks on each side from which the local direction of the edge is taken."""

SHARE_LIMITS = (-0.2, 1.2)
"""Shares beyond these are noise or a third colour."""


@dataclass(frozen=True, eq=False)
class EdgePoints:
    """Points on the edges, in order along each arc.

    Attributes
    ----------
    points : (N, 2) float64
        In pixels.
    offsets : (A + 1,) int64
        Arc a owns points[offsets[a]:offsets[a + 1]]; none for arcs of the frame.
    cracks : (N,) int64
        The crack, among all cracks of the walk, that each point was read across.
    """

    points: FloatArray
    offsets: IntArray
    cracks: IntArray


def edge_points(
    rgb: NDArray[np.uint8],
    labels: NDArray[np.uint8],
    palette: FloatArray,
    walked: Walk,
    *,
    linear: bool,
) -> EdgePoints:
    """Return points on all edges between regions.

    Parameters
    ----------
    rgb : (H, W, 3) uint8
    labels : (H, W) uint8
        As walked.
    palette : (K, 3) float64
        Colour of each label, 0 to 255.
    walked : Walk
    linear : bool
        True where edges were blended in linear light (cameras, scanners), False where the sRGB
        values themselves were blended.
    """
    kept = _cracks_across_main_axis(walked)
    starts, directions = walked.starts[kept], walked.directions[kept]
    shift = _edge_shift(rgb, labels, _lut_colours(palette, linear), starts, directions, linear)
    points = starts + 0.5 * np.stack([STEP_X[directions], STEP_Y[directions]], axis=1)
    upright = (directions & 1).astype(bool)
    points[upright, 0] += shift[upright]
    points[~upright, 1] += shift[~upright]
    offsets = np.searchsorted(kept, walked.crack_offsets)
    return EdgePoints(points, offsets.astype(np.int64), kept)


def _cracks_across_main_axis(walked: Walk) -> IntArray:
    """Return the cracks whose normal is the main axis of the edge's local normal."""
    offsets = walked.crack_offsets
    counts = np.diff(offsets)
    arc = np.repeat(np.arange(len(counts)), counts)
    place = np.arange(len(arc))
    nodes = walked.region_map.arc_nodes
    closed = (nodes[:, 0] == nodes[:, 1])[arc]
    first, count = offsets[arc], counts[arc]
    ahead = place - first + TANGENT_REACH
    behind = place - first - TANGENT_REACH
    ahead = first + np.where(closed, ahead % count, np.minimum(ahead, count - 1))
    behind = first + np.where(closed, behind % count, np.maximum(behind, 0))
    dx, dy = np.abs(walked.starts[ahead] - walked.starts[behind]).T
    upright = (walked.directions & 1).astype(bool)
    short = np.minimum(dx, dy) == np.maximum(dx, dy)
    framed = (walked.region_map.arc_faces < 0).any(axis=1)[arc]
    return np.flatnonzero((short | (upright == (dy > dx))) & ~framed)


def _lut_colours(palette: FloatArray, linear: bool) -> FloatArray:
    """Return the palette in the space in which edges were blended."""
    return linearise(palette) if linear else palette


def linearise(values: FloatArray) -> FloatArray:
    """Return sRGB values (0 to 255) in linear light, scaled to 0 to 255 (IEC 61966-2-1)."""
    share = np.asarray(values, dtype=np.float64) / 255
    low = share / 12.92
    high = ((np.maximum(share, 0.04045) + 0.055) / 1.055) ** 2.4
    return 255 * np.where(share <= 0.04045, low, high)


def _edge_shift(
    rgb: NDArray[np.uint8],
    labels: NDArray[np.uint8],
    colours: FloatArray,
    starts: IntArray,
    directions: IntArray,
    linear: bool,
) -> FloatArray:
    """Return how far each edge lies from its crack, towards +x or +y, in pixels."""
    upright = (directions & 1).astype(bool)
    back = (directions >> 1).astype(bool)
    # The pixel just beyond the crack, towards +x or +y.
    column = starts[:, 0] - (back & ~upright)
    row = starts[:, 1] - (back & upright)
    height, width = labels.shape
    flat = row * width + column
    stride = np.where(upright, 1, width)
    place = np.where(upright, column, row)
    extent = np.where(upright, width, height)
    near, far = labels.ravel()[flat - stride], labels.ravel()[flat]
    known = (near != OUTSIDE_LABEL) & (far != OUTSIDE_LABEL)
    padded = np.vstack([colours, np.zeros((256 - len(colours), 3))])
    origin, target = padded[near], padded[far]
    axis = target - origin
    axis /= np.maximum((axis**2).sum(axis=1, keepdims=True), 1e-9)
    table = linearise(np.arange(256.0)) if linear else np.arange(256.0)
    pixels = rgb.reshape(-1, 3)
    shift = np.zeros(len(flat))
    for side, label in ((-1, near), (1, far)):
        weights = _pixel_weights(labels, flat, stride, place, extent, label, side)
        for step in range(REACH_PX):
            offset = step if side > 0 else -1 - step
            index = np.clip(flat + offset * stride, 0, labels.size - 1)
            share = ((table[pixels[index]] - origin) * axis).sum(axis=1)
            share = np.clip(share, *SHARE_LIMITS)
            missing = 1 - share if side > 0 else -share
            shift += weights[step] * missing
    return np.where(known, shift, 0.0)


def _pixel_weights(
    labels: NDArray[np.uint8],
    flat: IntArray,
    stride: IntArray,
    place: IntArray,
    extent: IntArray,
    label: NDArray[np.uint8],
    side: int,
) -> FloatArray:
    """Return the weight of each of the REACH_PX pixels on one side, (REACH_PX, N).

    A run of the side's own label that is shorter than twice the reach is shared with the edge on
    its other side: each takes half, which keeps the width of thin strokes.
    """
    run = np.zeros(len(flat))
    running = np.ones(len(flat), bool)
    for step in range(2 * REACH_PX):
        offset = step if side > 0 else -1 - step
        inside = (place + offset >= 0) & (place + offset < extent)
        index = np.where(inside, flat + offset * stride, flat)
        running &= inside & (labels.ravel()[index] == label)
        run += running
    reach = np.where(run < 2 * REACH_PX, run / 2, REACH_PX)
    return np.clip(reach - np.arange(REACH_PX)[:, None], 0, 1)
