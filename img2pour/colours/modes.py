"""The colours that flat pixels gather around."""

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import ciede2000, lab_from_srgb, srgb_difference
from img2pour.colours.flats import WINDOW, Flats, smoothed_bands
from img2pour.colours.nearest import nearest_index, nearest_table

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

_STEPS, CELL = 64, 4
# cv2 counts in float32, which is exact to 2**24.
_COUNTABLE = 1 << 23
_RADIUS = 6.0
_LEAST_SHARE = 1e-4
_LEAST_PIXELS = 12
_MOST_CELLS = 6000
_MOST_MODES = 250
_STAIN = 14.0
# Neighbouring colours with this much of their own density half way between are one gradient.
_BRIDGE = 0.25
_STEP = 15.0
_LEAST_BODY = 0.12
# CIEDE2000 below which two means are one colour that straddled the cells of its counts.
_ONE_COLOUR = 5.0


def mask_of(labels: Bytes, index: int) -> Bytes:
    """Return 255 where the label is `index`, else 0."""
    level = np.array([index], dtype=np.float64)
    return np.asarray(cv2.inRange(labels, level, level), dtype=np.uint8)


def colour_counts(rgb: Bytes, mask: Bytes, step: int) -> Floats:
    """Count pixels by colour in cells of 4 x 4 x 4 levels.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Every nth row of a picture.
    mask : ndarray of uint8, shape (H, W)
        Those rows of a mask, 0 where pixels do not count.
    step : int
        How many rows each one stands for.

    Returns
    -------
    ndarray of float64, shape (64, 64, 64)
        Pixels of the whole picture, red slowest.
    """
    total = np.zeros((_STEPS,) * 3)
    rows = max(1, _COUNTABLE // rgb.shape[1])
    for top in range(0, rgb.shape[0], rows):
        part = np.ascontiguousarray(mask[top : top + rows])
        total += cv2.calcHist([rgb[top : top + rows]], [0, 1, 2], part, [_STEPS] * 3, [0, 256] * 3)
    return total * step


def gather_modes(counts: Floats, pixels: float) -> tuple[Floats, Floats]:
    """Find the colours that counts of `colour_counts` gather around, densest first.

    Returns
    -------
    colours : ndarray of float64, shape (M, 3)
        sRGB of each gathering.
    taken : ndarray of float64, shape (M,)
        Pixels in it.
    """
    cells = np.argwhere(counts > 0)
    weights = counts[tuple(cells.T)]
    density = _density(counts)[tuple(cells.T)]
    if len(cells) > _MOST_CELLS:
        order = np.argsort(-density, kind="stable")[:_MOST_CELLS]
        cells, weights, density = cells[order], weights[order], density[order]
    colours = cells * CELL + (CELL - 1) / 2
    lab = lab_from_srgb(colours)
    least = max(_LEAST_PIXELS, _LEAST_SHARE * pixels)
    modes: list[Floats] = []
    taken: list[float] = []
    free = np.ones(len(cells), dtype=bool)
    while free.any() and len(modes) < _MOST_MODES:
        seed = int(np.argmax(np.where(free, density, -1.0)))
        near = ciede2000(lab, lab[seed]) <= _RADIUS
        mine = near & free
        free &= ~near
        if weights[mine].sum() < least:
            if density[seed] < least / 27:
                break
            continue
        modes.append(np.average(colours[mine], axis=0, weights=weights[mine]))
        taken.append(float(weights[mine].sum()))
    return np.array(modes).reshape(-1, 3), np.array(taken)


def _density(counts: Floats) -> Floats:
    """Sum each cell with its 26 neighbours."""
    padded = np.pad(counts, 1)
    for axis in range(3):
        size = padded.shape[axis]
        low, mid, high = (
            np.take(padded, np.arange(at, size - 2 + at), axis=axis) for at in (0, 1, 2)
        )
        padded = low + mid + high
    return padded


def graded_colours(counts: Floats, colours: Floats) -> NDArray[np.bool_]:
    """Tell which colours are steps of a gradient: many pixels lie half way to another one."""
    density = _density(counts)

    def density_at(points: Floats) -> Floats:
        cells = np.clip(points // CELL, 0, _STEPS - 1).astype(np.int64)
        return np.asarray(density[tuple(np.moveaxis(cells, -1, 0))])

    corners = np.stack(np.meshgrid(*[(-CELL, 0, CELL)] * 3), axis=-1).reshape(-1, 1, 3)
    own = density_at(colours + corners).max(axis=0)
    gaps = srgb_difference(colours[:, None], colours[None])
    middle = density_at((colours[:, None] + colours[None]) / 2)
    bridged = middle >= _BRIDGE * np.minimum(own[:, None], own[None])
    np.fill_diagonal(bridged, val=False)
    return np.asarray((bridged & (gaps < _STEP)).any(axis=1))


def drop_blends(rgb: Bytes, flats: Flats, colours: Floats, taken: Floats) -> Floats:
    """Leave out colours that exist only along the edges of others.

    These are blends of two larger colours along a blurred edge, and stains next to a larger
    colour that JPEG spreads there. Hardly any of their pixels has a 5 x 5 window of its own.
    """
    suspects = [
        at
        for at in range(len(colours))
        if _is_beside(colours, taken, at) or _is_between(colours, taken, at)
    ]
    if not suspects:
        return colours
    table = nearest_table(colours)
    body, whole = np.zeros(len(colours)), np.zeros(len(colours))
    for top, smooth, rows in smoothed_bands(rgb):
        labels = nearest_index(smooth, table)
        first = top - rows.start
        flat = flats.flat[first : first + len(labels)]
        for at in suspects:
            own = np.asarray(cv2.bitwise_and(mask_of(labels, at), flat), dtype=np.uint8)
            whole[at] += cv2.countNonZero(own[rows])
            body[at] += cv2.countNonZero(np.asarray(cv2.erode(own, WINDOW))[rows])
    return colours[body >= _LEAST_BODY * whole]


def _is_beside(colours: Floats, taken: Floats, at: int) -> bool:
    """Tell whether a colour could be the stain that JPEG leaves along edges of a larger one."""
    larger = colours[taken > 5 * taken[at]]
    return bool((srgb_difference(larger, colours[at]) < _STAIN).any())


def _is_between(colours: Floats, taken: Floats, at: int) -> bool:
    larger = [k for k in range(len(colours)) if k != at and taken[k] > taken[at]]
    for i, first in enumerate(larger):
        for second in larger[i + 1 :]:
            start, along = colours[first], colours[second] - colours[first]
            t = float((colours[at] - start) @ along / max(along @ along, 1e-9))
            off = float(np.linalg.norm(colours[at] - start - t * along))
            if 0.08 < t < 0.92 and off < 14:
                return True
    return False


def flat_colours(rgb: Bytes, flats: Flats, colours: Floats) -> Floats:
    """Return the `core_means` of some gatherings, those that come to one colour joined."""
    while True:
        means, counts = core_means(rgb, flats, colours)
        gaps = srgb_difference(means[:, None], means[None])
        np.fill_diagonal(gaps, np.inf)
        if len(means) < 2 or gaps.min() >= _ONE_COLOUR:
            return means
        pair = list(np.unravel_index(int(gaps.argmin()), gaps.shape))
        lighter = pair[int(np.argmin(counts[pair]))]
        colours = np.delete(means, lighter, axis=0)


def core_means(rgb: Bytes, flats: Flats, colours: Floats) -> tuple[Floats, Floats]:
    """Average the flat pixels that are nearest to each colour.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    flats : Flats
        Its flat pixels.
    colours : ndarray of float64, shape (K, 3)
        Colours to start from.

    Returns
    -------
    means : ndarray of float64, shape (K, 3)
        Means without the outermost percents of each channel; the colour itself where no flat
        pixel is nearest to it.
    counts : ndarray of float64, shape (K,)
        Flat pixels that were looked at.
    """
    number = len(colours)
    if number == 0:
        return colours, np.zeros(0)
    labels = nearest_index(flats.sample, nearest_table(colours))
    rgb, flat = rgb[:: flats.step], np.ascontiguousarray(flats.flat[:: flats.step])
    means = colours.copy()
    for channel in range(3):
        counts = np.zeros((number, 256))
        rows = max(1, _COUNTABLE // rgb.shape[1])
        for top in range(0, rgb.shape[0], rows):
            part = slice(top, top + rows)
            images = [labels[part], cv2.extractChannel(rgb[part], channel)]
            counts += cv2.calcHist(images, [0, 1], flat[part], [number, 256], [0, number, 0, 256])
        means[:, channel] = _trimmed_means(counts, colours[:, channel])
    return means, counts.sum(axis=1)


def _trimmed_means(counts: Floats, otherwise: Floats) -> Floats:
    """Return the mean of each row's middle 90 % of counts over 0..255."""
    total = counts.sum(axis=1, keepdims=True)
    upto = np.cumsum(counts, axis=1)
    low, high = 0.05 * total, 0.95 * total
    kept = np.clip(np.minimum(upto, high) - np.maximum(upto - counts, low), 0, None)
    weight = kept.sum(axis=1)
    means = (kept @ np.arange(256.0)) / np.maximum(weight, 1e-9)
    return np.where(weight > 0, means, otherwise)
