"""Flat pixels: where a picture shows one colour and not the blend of an edge.

A pixel is flat when the smoothed picture hardly changes in the 5 x 5 window around it. What
counts as hardly follows the picture's own median, so grain and paper texture are allowed for.
"""

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

WINDOW = np.ones((5, 5), dtype=np.uint8)
_BESIDE = np.ones((9, 9), dtype=np.uint8)
_LEAST_RANGE, _WIDEST_RANGE = 6, 24
# Rows worked on at a time, small enough to stay in the processor's cache.
_BAND_ROWS = 64
# A flat pixel depends on rows this far away: 1 for smoothing and 2 for the window.
_HALO = 3
# Colours are counted on all rows up to twice this many pixels.
_ENOUGH_PX = 3e6


@dataclass(frozen=True, eq=False)
class Flats:
    """Flat pixels of a picture.

    Attributes
    ----------
    flat : ndarray of uint8, shape (H, W)
        255 where flat and not outside, else 0.
    rough : ndarray of uint8, shape (H, W)
        255 where not flat and not outside, else 0.
    step : int
        Colours are counted on every row (1), every second row (2) ...
    sample : ndarray of uint8, shape (ceil(H / step), W, 3)
        Those rows of the picture averaged over 3 x 3 px.
    noise : float
        Standard deviation of a flat pixel from its neighbours, in levels of 0..255.
    explained : float
        Share of the pixels that are flat or lie within 4 px of a flat one.
    """

    flat: Bytes
    rough: Bytes
    step: int
    sample: Bytes
    noise: float
    explained: float


def find_flats(rgb: Bytes, outside: NDArray[np.bool_] | None) -> Flats:
    """Find the flat pixels of a picture of shape (H, W, 3) and the noise on them."""
    # An odd step meets all rows of JPEG's 8 x 8 blocks alike.
    step = 2 * round(max(rgb.shape[0] * rgb.shape[1] / _ENOUGH_PX - 1, 0) / 2) + 1
    sample, spread = _smooth_and_spread(rgb, step)
    inside = None if outside is None else np.where(outside, 0, 255).astype(np.uint8)
    counts = _level_counts(spread[::step], None if inside is None else inside[::step])
    median = int(np.searchsorted(np.cumsum(counts), counts.sum() / 2))
    limit = min(max(_LEAST_RANGE, 2 * median), _WIDEST_RANGE)
    flat = _bytes(cv2.threshold(spread, limit, 255, cv2.THRESH_BINARY_INV)[1])
    rough = _bytes(cv2.bitwise_not(flat))
    if inside is not None:
        flat, rough = flat & inside, rough & inside
    noise = _noise(rgb[::step], sample, np.ascontiguousarray(flat[::step]))
    return Flats(flat, rough, step, sample, noise, _share_beside(flat, rough))


def all_flat(rgb: Bytes, outside: NDArray[np.bool_] | None) -> Flats:
    """Return what :func:`find_flats` would, were every pixel known to be flat and free of noise."""
    flat = np.full(rgb.shape[:2], 255, dtype=np.uint8)
    if outside is not None:
        flat[outside] = 0
    return Flats(flat, np.zeros_like(flat), 1, rgb, 0.0, 1.0)


def _share_beside(flat: Bytes, rough: Bytes) -> float:
    """Return the share of the pixels that are flat or the edge of a flat area."""
    near = cv2.bitwise_and(rough, cv2.dilate(flat, _BESIDE))
    flat_px, rough_px = cv2.countNonZero(flat), cv2.countNonZero(rough)
    return (flat_px + cv2.countNonZero(near)) / max(flat_px + rough_px, 1)


def smoothed_bands(rgb: Bytes) -> Iterator[tuple[int, Bytes, slice]]:
    """Average a picture over 3 x 3 px, band by band.

    Yields
    ------
    top : int
        First row of the band.
    smooth : ndarray of uint8, shape (rows, W, 3)
        The band with the rows around it that 5 x 5 windows need.
    rows : slice
        The rows of the band itself.
    """
    height = rgb.shape[0]
    for top in range(0, height, _BAND_ROWS):
        bottom = min(height, top + _BAND_ROWS)
        first = max(0, top - _HALO)
        smooth = _bytes(cv2.blur(rgb[first : bottom + _HALO], (3, 3)))
        yield top, smooth, slice(top - first, bottom - first)


def _level_counts(levels: Bytes, inside: Bytes | None) -> NDArray[np.float64]:
    """Return how many pixels have each level, those inside alone."""
    mask = None if inside is None else np.ascontiguousarray(inside)
    return cv2.calcHist([levels], [0], mask, [256], [0, 256]).ravel().astype(np.float64)


def _smooth_and_spread(rgb: Bytes, step: int) -> tuple[Bytes, Bytes]:
    """Return every nth row averaged over 3 x 3 px, and the largest range in 5 x 5 windows."""
    sample = np.empty_like(rgb[::step])
    spread = np.empty(rgb.shape[:2], dtype=np.uint8)

    def look_at(band: tuple[int, Bytes, slice]) -> None:
        top, smooth, rows = band
        own = smooth[rows]
        spread[top : top + len(own)] = _local_range(smooth)[rows]
        taken = own[-top % step :: step]
        at = -(-top // step)
        sample[at : at + len(taken)] = taken

    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        for _ in pool.map(look_at, smoothed_bands(rgb)):
            pass
    return sample, spread


def _local_range(rgb: Bytes) -> Bytes:
    """Return the largest range of a channel in the 5 x 5 window around each pixel."""
    spread = cv2.subtract(cv2.dilate(rgb, WINDOW), cv2.erode(rgb, WINDOW))
    red, green, blue = (cv2.extractChannel(spread, channel) for channel in range(3))
    return _bytes(cv2.max(cv2.max(red, green), blue))


def _noise(rgb: Bytes, smooth: Bytes, flat: Bytes) -> float:
    variance = cv2.norm(rgb, smooth, cv2.NORM_L2SQR, flat) / max(3 * cv2.countNonZero(flat), 1)
    # The mean of nine pixels holds a ninth of the pixel itself.
    return float(np.sqrt(variance * 9 / 8))


def _bytes(image: object) -> Bytes:
    return np.asarray(image, dtype=np.uint8)
