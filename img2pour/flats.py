"""Flat pixels: where a picture shows one colour and not the blend of an edge.

A pixel is flat when the smoothed picture hardly changes in the 5 x 5 window around it. What
counts as hardly follows the picture's own median, so grain and paper texture are allowed for.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

WINDOW = np.ones((5, 5), dtype=np.uint8)
_LEAST_RANGE, _WIDEST_RANGE = 6, 24
# Rows worked on at a time, small enough to stay in the processor's cache.
_BAND_ROWS = 128
# A flat pixel depends on rows this far away: 1 for smoothing and 2 for the window.
_HALO = 3
# Noise is measured on all rows up to this many pixels, then on every second, third ...
_ENOUGH_PX = 4e6


@dataclass(frozen=True, eq=False)
class Flats:
    """Flat pixels of a picture.

    Attributes
    ----------
    smooth : ndarray of uint8, shape (H, W, 3)
        The picture averaged over 3 x 3 px.
    flat : ndarray of uint8, shape (H, W)
        255 where flat and not outside, else 0.
    rough : ndarray of uint8, shape (H, W)
        255 where not flat and not outside, else 0.
    noise : float
        Standard deviation of a flat pixel from its neighbours, in levels of 0..255.
    """

    smooth: Bytes
    flat: Bytes
    rough: Bytes
    noise: float


def find_flats(rgb: Bytes, outside: NDArray[np.bool_] | None) -> Flats:
    """Find the flat pixels of a picture of shape (H, W, 3) and the noise on them."""
    smooth, spread = _smooth_and_spread(rgb)
    inside = None if outside is None else np.where(outside, 0, 255).astype(np.uint8)
    counts = cv2.calcHist([spread], [0], inside, [256], [0, 256]).ravel().astype(np.float64)
    median = int(np.searchsorted(np.cumsum(counts), counts.sum() / 2))
    limit = min(max(_LEAST_RANGE, 2 * median), _WIDEST_RANGE)
    flat = _bytes(cv2.threshold(spread, limit, 255, cv2.THRESH_BINARY_INV)[1])
    rough = _bytes(cv2.bitwise_not(flat))
    if inside is not None:
        flat, rough = flat & inside, rough & inside
    return Flats(smooth, flat, rough, _noise(rgb, smooth, flat))


def _smooth_and_spread(rgb: Bytes) -> tuple[Bytes, Bytes]:
    """Return the picture averaged over 3 x 3 px, and its largest range in 5 x 5 windows."""
    height = rgb.shape[0]
    smooth = np.empty_like(rgb)
    spread = np.empty(rgb.shape[:2], dtype=np.uint8)
    for top in range(0, height, _BAND_ROWS):
        bottom = min(height, top + _BAND_ROWS)
        first = max(0, top - _HALO)
        part = _bytes(cv2.blur(rgb[first : bottom + _HALO], (3, 3)))
        rows = slice(top - first, bottom - first)
        smooth[top:bottom] = part[rows]
        spread[top:bottom] = _local_range(part)[rows]
    return smooth, spread


def _local_range(rgb: Bytes) -> Bytes:
    """Return the largest range of a channel in the 5 x 5 window around each pixel."""
    spread = cv2.subtract(cv2.dilate(rgb, WINDOW), cv2.erode(rgb, WINDOW))
    red, green, blue = cv2.split(spread)
    return _bytes(cv2.max(cv2.max(red, green), blue))


def _noise(rgb: Bytes, smooth: Bytes, flat: Bytes) -> float:
    step = max(1, round(flat.size / _ENOUGH_PX))
    rgb, smooth, flat = rgb[::step], smooth[::step], np.ascontiguousarray(flat[::step])
    squares = cv2.norm(rgb, smooth, cv2.NORM_L2SQR, flat)
    variance = squares / max(3 * cv2.countNonZero(flat), 1)
    # The mean of nine pixels holds a ninth of the pixel itself.
    return float(np.sqrt(variance * 9 / 8))


def _bytes(image: object) -> Bytes:
    return np.asarray(image, dtype=np.uint8)
