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
    kept = cracks_across_main_axis(walked)
    points = points_across(Blended(rgb, labels, palette, linear), walked, kept)
    offsets = np.searchsorted(kept, walked.crack_offsets)
    return EdgePoints(points, offsets.astype(np.int64), kept)


def cracks_across_main_axis(walked: Walk) -> IntArray:
    """Return the cracks whose normal is the main axis of the edge's local normal."""
    offsets = walked.crack_offsets
    counts = np.diff(offsets)
    nodes, faces = walked.region_map.arc_nodes, walked.region_map.arc_faces
    arc = np.repeat(np.arange(len(counts)), counts)
    first, last = offsets[:-1][arc], offsets[1:][arc] - 1
    place = np.arange(len(arc))
    # Closed outlines go round; the ends of open ones take what there is.
    round_trip = np.where(nodes[:, 0] == nodes[:, 1], counts, 0)[arc]
    ahead, behind = place + TANGENT_REACH, place - TANGENT_REACH
    ahead = np.where(ahead > last, np.maximum(ahead - round_trip, first), ahead)
    ahead = np.where(ahead > last, np.where(round_trip > 0, place, last), ahead)
    behind = np.where(behind < first, np.minimum(behind + round_trip, last), behind)
    behind = np.where(behind < first, np.where(round_trip > 0, place, first), behind)
    # Twice the cracks' middles: they do not tell which way the arc is walked.
    middles = 2 * walked.starts + _steps(walked.directions)
    dx, dy = np.abs(middles[ahead] - middles[behind]).T
    upright = (walked.directions & 1) == 1
    framed = np.asarray((faces < 0).any(axis=1))[arc]
    return np.flatnonzero(((dx == dy) | (upright == (dy > dx))) & ~framed)


def _steps(directions: IntArray) -> IntArray:
    """Return the step (x, y) of each crack."""
    return np.stack([STEP_X[directions], STEP_Y[directions]], axis=1)


@dataclass(frozen=True, eq=False)
class Blended:
    """A picture, its labels and palette (K, 3), and the light in which edges were blended."""

    rgb: NDArray[np.uint8]
    labels: NDArray[np.uint8]
    palette: FloatArray
    linear: bool


def points_across(picture: Blended, walked: Walk, cracks: IntArray) -> FloatArray:
    """Return the point on the edge that each of these cracks shows, (n, 2)."""
    starts, directions = walked.starts[cracks], walked.directions[cracks]
    shift = _edge_shift(picture, starts, directions)
    points = starts + 0.5 * _steps(directions)
    upright = (directions & 1) == 1
    points[upright, 0] += shift[upright]
    points[~upright, 1] += shift[~upright]
    return points


def linearise(values: FloatArray) -> FloatArray:
    """Return sRGB values (0 to 255) in linear light, scaled to 0 to 255 (IEC 61966-2-1)."""
    share = np.asarray(values, dtype=np.float64) / 255
    low = share / 12.92
    high = ((np.maximum(share, 0.04045) + 0.055) / 1.055) ** 2.4
    return 255 * np.where(share <= 0.04045, low, high)


@dataclass(frozen=True, eq=False)
class _Lines:
    """Lines of pixels across the edges: index of the pixel beyond each crack, and what is around.

    Attributes
    ----------
    flat, stride : (n,) int64
        Index of that pixel in the picture, and from a pixel of the line to the next.
    place, extent : (n,) int64
        Where it stands on its row or column, and how many pixels that has.
    """

    flat: IntArray
    stride: IntArray
    place: IntArray
    extent: IntArray


def _lines(shape: tuple[int, ...], starts: IntArray, directions: IntArray) -> _Lines:
    """Return the lines of pixels across some cracks, towards +x or +y."""
    height, width = shape
    upright, back = (directions & 1) == 1, (directions >> 1) == 1
    column = starts[:, 0] - (back & ~upright)
    row = starts[:, 1] - (back & upright)
    return _Lines(
        row * width + column,
        np.where(upright, 1, width),
        np.where(upright, column, row),
        np.where(upright, width, height),
    )


def _edge_shift(picture: Blended, starts: IntArray, directions: IntArray) -> FloatArray:
    """Return how far each edge lies from its crack, towards +x or +y, in pixels."""
    labels = picture.labels.ravel()
    lines = _lines(picture.labels.shape, starts, directions)
    near, far = labels[lines.flat - lines.stride], labels[lines.flat]
    known = (near != OUTSIDE_LABEL) & (far != OUTSIDE_LABEL)
    colours = linearise(picture.palette) if picture.linear else picture.palette
    padded = np.vstack([colours, np.zeros((256 - len(colours), 3))])
    origin = padded[near]
    axis = padded[far] - origin
    axis /= np.maximum((axis**2).sum(axis=1, keepdims=True), 1e-9)
    offset = (origin * axis).sum(axis=1)
    table = linearise(np.arange(256.0)) if picture.linear else np.arange(256.0)
    pixels = picture.rgb.reshape(-1, 3)
    shift = np.zeros(len(near))
    for side, label in ((-1, near), (1, far)):
        weights = _pixel_weights(labels, lines, label, side)
        for step, weight in enumerate(weights):
            index = lines.flat + (step if side > 0 else -1 - step) * lines.stride
            seen = table[pixels[np.clip(index, 0, len(pixels) - 1)]]
            share = np.clip(np.einsum("ij,ij->i", seen, axis) - offset, *SHARE_LIMITS)
            shift += weight * (1 - share if side > 0 else -share)
    return np.where(known, shift, 0.0)


def _pixel_weights(
    labels: NDArray[np.uint8], lines: _Lines, label: NDArray[np.uint8], side: int
) -> FloatArray:
    """Return the weight of each of the REACH_PX pixels on one side, (REACH_PX, n).

    A run of the side's own label that is shorter than twice the reach is shared with the edge on
    its other side: each takes half, which keeps the width of thin strokes.
    """
    run = np.zeros(len(label), np.int64)
    running = np.ones(len(label), bool)
    for step in range(2 * REACH_PX):
        offset = step if side > 0 else -1 - step
        inside = (lines.place + offset >= 0) & (lines.place + offset < lines.extent)
        index = np.where(inside, lines.flat + offset * lines.stride, lines.flat)
        running &= inside & (labels[index] == label)
        run += running
    reach = np.where(run < 2 * REACH_PX, run / 2, REACH_PX)
    return np.clip(reach - np.arange(REACH_PX)[:, None], 0, 1)
