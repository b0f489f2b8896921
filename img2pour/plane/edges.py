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
class _Pixels:
    """The pixels of a view as they lie in memory, and where the view's own rows run there.

    Attributes
    ----------
    flat : (N,) or (N, 3) uint8
    first, down, right : int
        Index of the view's first pixel, and steps to the pixel below and to the one beside.
    """

    flat: NDArray[np.uint8]
    first: int
    down: int
    right: int

    @classmethod
    def of(cls, image: NDArray[np.uint8]) -> _Pixels:
        """Return the pixels of a turned or mirrored view (H, W) or (H, W, 3), without a copy."""
        size = image.itemsize * int(np.prod(image.shape[2:]))
        down, right = image.strides[0] // size, image.strides[1] // size
        stored = image[:: 1 if down > 0 else -1, :: 1 if right > 0 else -1]
        if abs(down) < abs(right):
            stored = stored.swapaxes(0, 1)
        if not stored.flags.c_contiguous:
            return cls.of(np.ascontiguousarray(image))
        last_row, last_column = image.shape[0] - 1, image.shape[1] - 1
        first = -last_row * min(down, 0) - last_column * min(right, 0)
        return cls(stored.reshape(-1, *image.shape[2:]), first, down, right)


@dataclass(frozen=True, eq=False)
class _Lines:
    """Lines of pixels across the edges, in one picture.

    Attributes
    ----------
    flat : (N,) or (N, 3) uint8
        The picture's pixels.
    start, step : (n,) int64
        Index of the first pixel on the far side of each crack, and from one pixel to the next.
    tight : (t,) int64
        Lines that leave the picture within reach.
    place, length : (t,) int64
        Place of their first pixel along them, and how long the picture is there.
    """

    flat: NDArray[np.uint8]
    start: IntArray
    step: IntArray
    tight: IntArray
    place: IntArray
    length: IntArray

    def seen(self, offset: int) -> NDArray[np.uint8]:
        """Return the pixels so many on, held within the picture."""
        at = self.start + offset * self.step
        held = np.clip(self.place + offset, 0, self.length - 1) - self.place
        at[self.tight] = self.start[self.tight] + held * self.step[self.tight]
        picked: NDArray[np.uint8] = self.flat[at]
        return picked

    def beyond(self, offset: int) -> IntArray:
        """Return the lines of which the pixel so many on lies outside of the picture."""
        place = self.place + offset
        return self.tight[(place < 0) | (place >= self.length)]


def _lines(pixels: _Pixels, shape: tuple[int, ...], cracks: tuple[IntArray, IntArray]) -> _Lines:
    """Return the lines of pixels across some cracks (starts, directions), towards +x or +y."""
    starts, directions = cracks
    upright, back = (directions & 1) == 1, (directions >> 1) == 1
    row, column = starts[:, 1] - (back & upright), starts[:, 0] - (back & ~upright)
    place, length = np.where(upright, column, row), np.where(upright, shape[1], shape[0])
    reach = 2 * REACH_PX
    tight = np.flatnonzero((place < reach) | (place >= length - reach))
    return _Lines(
        pixels.flat,
        pixels.first + row * pixels.down + column * pixels.right,
        np.where(upright, pixels.right, pixels.down),
        tight,
        place[tight],
        length[tight],
    )


def _edge_shift(picture: Blended, starts: IntArray, directions: IntArray) -> FloatArray:
    """Return how far each edge lies from its crack, towards +x or +y, in pixels."""
    shape, cracks = picture.labels.shape, (starts, directions)
    labels = _lines(_Pixels.of(picture.labels), shape, cracks)
    pixels = _lines(_Pixels.of(picture.rgb), shape, cracks)
    near, far = labels.seen(-1), labels.seen(0)
    known = (near != OUTSIDE_LABEL) & (far != OUTSIDE_LABEL)
    colours = linearise(picture.palette) if picture.linear else picture.palette
    axis, level = _share_terms(colours, near, far)
    table = linearise(np.arange(256.0))
    shift = np.zeros(len(near))
    for side, label in ((-1, near), (1, far)):
        weights = _pixel_weights(labels, label, side)
        for step, weight in enumerate(weights):
            seen = pixels.seen(step if side > 0 else -1 - step)
            light = table[seen] if picture.linear else seen.astype(np.float64)
            share = np.clip(np.einsum("ij,ij->i", light, axis) - level, *SHARE_LIMITS)
            shift += weight * (1 - share if side > 0 else -share)
    return np.where(known, shift, 0.0)


def _share_terms(
    colours: FloatArray, near: NDArray[np.uint8], far: NDArray[np.uint8]
) -> tuple[FloatArray, FloatArray]:
    """Return axis (n, 3) and level (n,): a pixel's far share is axis . rgb - level."""
    padded = np.vstack([colours, np.zeros((1, 3))])
    axes = padded[None] - padded[:, None]
    axes /= np.maximum((axes**2).sum(axis=2, keepdims=True), 1e-9)
    levels = (padded[:, None] * axes).sum(axis=2)
    one, other = (np.minimum(label, len(colours)).astype(np.intp) for label in (near, far))
    return axes[one, other], levels[one, other]


def _pixel_weights(labels: _Lines, label: NDArray[np.uint8], side: int) -> FloatArray:
    """Return the weight of each of the REACH_PX pixels on one side, (REACH_PX, n).

    A run of the side's own label that is shorter than twice the reach is shared with the edge on
    its other side: each takes half, which keeps the width of thin strokes.
    """
    run = np.zeros(len(label), np.uint8)
    running = np.ones(len(label), bool)
    for step in range(2 * REACH_PX):
        offset = step if side > 0 else -1 - step
        running &= labels.seen(offset) == label
        running[labels.beyond(offset)] = False
        run += running
    # By the length of the run, up to twice the reach, for each pixel.
    table = np.clip(np.arange(2 * REACH_PX + 1) / 2 - np.arange(REACH_PX)[:, None], 0, 1)
    weights: FloatArray = table[:, run]
    return weights
