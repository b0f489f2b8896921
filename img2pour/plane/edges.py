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


@dataclass(frozen=True, eq=False)
class Blended:
    """A picture whose edges are blended.

    Attributes
    ----------
    rgb : (H, W, 3) uint8
    labels : (H, W) uint8
    palette : (K, 3) float64
        Colour of each label, 0 to 255.
    linear : bool
        True where edges were blended in linear light (cameras, scanners), False where the sRGB
        values themselves were blended.
    """

    rgb: NDArray[np.uint8]
    labels: NDArray[np.uint8]
    palette: FloatArray
    linear: bool = False


def edge_points(picture: Blended, walked: Walk, kept: IntArray | None = None) -> EdgePoints:
    """Return points on all edges between regions.

    Parameters
    ----------
    picture : Blended
    walked : Walk
        Of the picture's labels.
    kept : (N,) int64, optional
        The cracks to read across, from :func:`cracks_across_main_axis`.
    """
    if kept is None:
        kept = cracks_across_main_axis(walked)
    offsets = np.searchsorted(kept, walked.crack_offsets)
    return EdgePoints(points_across(picture, walked, kept), offsets.astype(np.int64), kept)


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
    """Lines of pixels across the edges: the pixel beyond each crack, and where the line runs.

    Attributes
    ----------
    row, column : (n,) int64
    upright : (n,) bool
        True where the crack is upright and the line runs along the row.
    """

    row: IntArray
    column: IntArray
    upright: NDArray[np.bool_]

    def pixels(self, offset: int, shape: tuple[int, ...]) -> tuple[IntArray, IntArray]:
        """Return row and column so many pixels on, held within the picture."""
        row = np.where(self.upright, self.row, self.row + offset)
        column = np.where(self.upright, self.column + offset, self.column)
        return np.clip(row, 0, shape[0] - 1), np.clip(column, 0, shape[1] - 1)

    def is_inside(self, offset: int, shape: tuple[int, ...]) -> NDArray[np.bool_]:
        """Return whether the pixel so many on lies in the picture."""
        place = np.where(self.upright, self.column, self.row) + offset
        inside: NDArray[np.bool_] = (place >= 0) & (place < np.where(self.upright, *shape[1::-1]))
        return inside


def _lines(starts: IntArray, directions: IntArray) -> _Lines:
    """Return the lines of pixels across some cracks, towards +x or +y."""
    upright, back = (directions & 1) == 1, (directions >> 1) == 1
    return _Lines(starts[:, 1] - (back & upright), starts[:, 0] - (back & ~upright), upright)


def _edge_shift(picture: Blended, starts: IntArray, directions: IntArray) -> FloatArray:
    """Return how far each edge lies from its crack, towards +x or +y, in pixels."""
    labels, shape = picture.labels, picture.labels.shape
    lines = _lines(starts, directions)
    near, far = labels[lines.pixels(-1, shape)], labels[lines.pixels(0, shape)]
    known = (near != OUTSIDE_LABEL) & (far != OUTSIDE_LABEL)
    colours = linearise(picture.palette) if picture.linear else picture.palette
    padded = np.vstack([colours, np.zeros((256 - len(colours), 3))])
    origin = padded[near]
    axis = padded[far] - origin
    axis /= np.maximum((axis**2).sum(axis=1, keepdims=True), 1e-9)
    level = (origin * axis).sum(axis=1)
    table = linearise(np.arange(256.0)) if picture.linear else np.arange(256.0)
    shift = np.zeros(len(near))
    for side, label in ((-1, near), (1, far)):
        weights = _pixel_weights(labels, lines, label, side)
        for step, weight in enumerate(weights):
            seen = table[picture.rgb[lines.pixels(step if side > 0 else -1 - step, shape)]]
            share = np.clip(np.einsum("ij,ij->i", seen, axis) - level, *SHARE_LIMITS)
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
        same = labels[lines.pixels(offset, labels.shape)] == label
        running &= same & lines.is_inside(offset, labels.shape)
        run += running
    reach = np.where(run < 2 * REACH_PX, run / 2, REACH_PX)
    return np.clip(reach - np.arange(REACH_PX)[:, None], 0, 1)
