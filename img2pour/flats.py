"""Flat pixels and the colours that gather among them.

A pixel is flat when the smoothed picture hardly changes in the 5 x 5 window around it. Blended
edge pixels are not flat, so a histogram of the flat ones shows the colours of the art alone.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import ciede2000, lab_from_srgb, srgb_difference
from img2pour.nearest import nearest_index, nearest_table

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

WINDOW = np.ones((5, 5), dtype=np.uint8)
_LEAST_RANGE, _WIDEST_RANGE = 6, 24
_STEPS, _CELL = 64, 4
# cv2 counts in float32, which is exact to 2**24.
_COUNTABLE = 1 << 23
_RADIUS = 6.0
_LEAST_SHARE = 1e-4
_LEAST_PIXELS = 12
_MOST_CELLS = 6000
_STAIN = 14.0


@dataclass(frozen=True, eq=False)
class Flats:
    """Flat pixels of a picture.

    Attributes
    ----------
    smooth : ndarray of uint8, shape (H, W, 3)
        The picture averaged over 3 x 3 px.
    mask : ndarray of uint8, shape (H, W)
        255 where flat and not outside, else 0.
    inside : ndarray of uint8, shape (H, W)
        255 where not outside, else 0.
    noise : float
        Standard deviation of a flat pixel from its neighbours, in levels of 0..255.
    pixels : int
        Pixels that are not outside.
    """

    smooth: Bytes
    mask: Bytes
    inside: Bytes
    noise: float
    pixels: int

    @property
    def share(self) -> float:
        """Share of the pixels that are flat."""
        return cv2.countNonZero(self.mask) / max(self.pixels, 1)


def find_flats(rgb: Bytes, outside: NDArray[np.bool_] | None) -> Flats:
    """Find the flat pixels of a picture and the noise on them."""
    smooth = _bytes(cv2.blur(rgb, (3, 3)))
    spread = local_range(smooth)
    inside = np.full(rgb.shape[:2], 255, dtype=np.uint8)
    if outside is not None:
        inside[outside] = 0
    counts = cv2.calcHist([spread], [0], inside, [256], [0, 256]).ravel().astype(np.float64)
    pixels = int(counts.sum())
    median = int(np.searchsorted(np.cumsum(counts), pixels / 2))
    limit = min(max(_LEAST_RANGE, 2 * median), _WIDEST_RANGE)
    mask = _bytes(
        cv2.bitwise_and(cv2.threshold(spread, limit, 255, cv2.THRESH_BINARY_INV)[1], inside)
    )
    return Flats(smooth, mask, inside, _noise(rgb, smooth, mask), pixels)


def local_range(rgb: Bytes) -> Bytes:
    """Return the largest range of a channel in the 5 x 5 window around each pixel."""
    spread = cv2.subtract(cv2.dilate(rgb, WINDOW), cv2.erode(rgb, WINDOW))
    red, green, blue = cv2.split(spread)
    return _bytes(cv2.max(cv2.max(red, green), blue))


def _noise(rgb: Bytes, smooth: Bytes, mask: Bytes) -> float:
    residual = cv2.absdiff(rgb, smooth)
    squares = 0.0
    for channel in range(3):
        counts = cv2.calcHist([residual], [channel], mask, [256], [0, 256]).ravel()
        total = max(float(counts.sum()), 1.0)
        squares += float(counts @ np.arange(256.0) ** 2) / total
    # The mean of nine pixels holds a ninth of the pixel itself.
    return float(np.sqrt(squares / 3 * 9 / 8))


def _bytes(image: object) -> Bytes:
    return np.asarray(image, dtype=np.uint8)


def mask_of(labels: Bytes, index: int) -> Bytes:
    """Return 255 where the label is `index`, else 0."""
    level = np.array([index], dtype=np.float64)
    return _bytes(cv2.inRange(labels, level, level))


def colour_counts(rgb: Bytes, mask: Bytes | None) -> Floats:
    """Count pixels by colour in cells of 4 x 4 x 4 levels, shape (64, 64, 64)."""
    total = np.zeros((_STEPS,) * 3)
    rows = max(1, _COUNTABLE // rgb.shape[1])
    for top in range(0, rgb.shape[0], rows):
        part = None if mask is None else mask[top : top + rows]
        total += cv2.calcHist([rgb[top : top + rows]], [0, 1, 2], part, [_STEPS] * 3, [0, 256] * 3)
    return total


def gather_modes(counts: Floats, pixels: int) -> tuple[Floats, Floats]:
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
    colours = cells * _CELL + (_CELL - 1) / 2
    lab = lab_from_srgb(colours)
    least = max(_LEAST_PIXELS, _LEAST_SHARE * pixels)
    modes: list[Floats] = []
    taken: list[float] = []
    free = np.ones(len(cells), dtype=bool)
    while free.any() and len(modes) < 250:
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


def drop_blends(flats: Flats, colours: Floats, taken: Floats) -> Floats:
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
    labels = nearest_index(flats.smooth, nearest_table(colours))
    keep = np.ones(len(colours), dtype=bool)
    for at in suspects:
        own = _bytes(cv2.bitwise_and(mask_of(labels, at), flats.mask))
        body = cv2.countNonZero(cv2.erode(own, WINDOW))
        keep[at] = body >= 0.12 * cv2.countNonZero(own)
    return colours[keep]


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


def core_means(rgb: Bytes, flats: Flats, colours: Floats) -> tuple[Floats, Floats]:
    """Average the flat pixels nearest to each colour.

    Returns
    -------
    means : ndarray of float64, shape (K, 3)
        The mean colour; the given one where no flat pixel is nearest to it.
    counts : ndarray of float64, shape (K,)
        Flat pixels that were averaged.
    """
    labels = nearest_index(flats.smooth, nearest_table(colours))
    means, counts = colours.copy(), np.zeros(len(colours))
    for at in range(len(colours)):
        own = _bytes(cv2.bitwise_and(mask_of(labels, at), flats.mask))
        counts[at] = cv2.countNonZero(own)
        if counts[at]:
            means[at] = cv2.mean(rgb, own)[:3]
    return means, counts
