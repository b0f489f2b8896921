"""How blurred the edges of a picture are.

Along a row that crosses a straight edge the coverage p runs from 0 to 1. For a Gaussian edge of
sigma s the integral of p (1 - p) is s / sqrt(pi), whatever the edge's place between the pixels;
the slope of the edge to the row is taken out by comparing the rows above and below.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.flats import Flats

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_LONGEST_RAMP_PX = 26
_LEAST_CONTRAST = 40.0
_MOST_RAMPS = 2000
# Larger pictures are looked at in every second, third ... row.
_ENOUGH_PX = 2e6
_FEWEST_CROSSINGS = 12
# A pixel averages over its own square, which alone looks like a sigma of sqrt(1/12).
_PIXEL_VARIANCE = 1 / 12
_LIGHTNESS = np.array([0.299, 0.587, 0.114])


def estimate_blur_px(rgb: Bytes, flats: Flats, colours: Floats) -> float:
    """Estimate the sigma of the blur, beyond that of the pixels themselves.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    flats : Flats
        Its flat pixels.
    colours : ndarray of float64, shape (K, 3)
        The palette.

    Returns
    -------
    float
        Median sigma over edges between flat areas, px; 0 when there are too few of them.
    """
    crossings = [_crossings(rgb, flats, colours, turned=turned) for turned in (False, True)]
    starts, ends, pixels, inside = (np.concatenate(parts) for parts in zip(*crossings, strict=True))
    # JPEG files hold colour at half the resolution, so edges of lightness are the true ones.
    lightness = _LIGHTNESS[:, None]
    found = _sigmas(starts @ lightness, ends @ lightness, pixels @ lightness, inside)
    if len(found) < _FEWEST_CROSSINGS:
        found = _sigmas(starts, ends, pixels, inside)
    if len(found) < _FEWEST_CROSSINGS:
        return 0.0
    variance = float(np.median(found)) ** 2 - _PIXEL_VARIANCE
    return float(np.sqrt(max(variance, 0.0)))


def _crossings(
    rgb: Bytes, flats: Flats, colours: Floats, *, turned: bool
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Cut pieces of rows (or columns, turned) that cross from one flat colour to another.

    Returns
    -------
    starts, ends : ndarray of float64, shape (n, 3)
        The colours of both sides.
    pixels : ndarray of float64, shape (n, 3, reach, 3)
        The row above, the row itself and the row below, around the crossing.
    inside : ndarray of bool, shape (n, reach)
        True where the row belongs to the crossing.
    """
    flat = np.asarray(cv2.transpose(flats.flat) if turned else flats.flat, dtype=np.uint8)
    step = max(1, round(flat.size / _ENOUGH_PX))
    first, last = _ramps(flat[::step])
    row, left = np.divmod(first, flat.shape[1])
    row, right = row * step, left + last - first
    axes = (1, 0, 2) if turned else (0, 1, 2)
    smooth, image = flats.smooth.transpose(axes), rgb.transpose(axes)
    starts = _nearest_colours(smooth[row, left - 1], colours)
    ends = _nearest_colours(smooth[row, right + 1], colours)
    strong = np.flatnonzero(np.linalg.norm(ends - starts, axis=1) >= _LEAST_CONTRAST)
    strong = strong[:: max(1, len(strong) // _MOST_RAMPS)]
    row, left, right = row[strong], left[strong], right[strong]
    reach = _LONGEST_RAMP_PX // 2 + 2
    columns = ((left + right) // 2)[:, None] + np.arange(-reach, reach + 1)
    inside = (columns >= left[:, None] - 2) & (columns <= right[:, None] + 2)
    columns = np.clip(columns, 0, flat.shape[1] - 1)
    rows = np.clip(row[:, None] + np.array([-1, 0, 1]), 0, flat.shape[0] - 1)
    pixels = image[rows[:, :, None], columns[:, None, :]].astype(np.float64)
    return starts[strong], ends[strong], pixels, inside


def _ramps(flat: Bytes) -> tuple[Integers, Integers]:
    """Return first and last pixel of the short stretches between two flat ones in a row."""
    edge = flat.copy()
    edge[:, :2] = 0
    edge[:, -2:] = 0
    solid = edge.ravel() > 0
    change = np.flatnonzero(solid[1:] != solid[:-1])
    leaving = solid[change]
    ends, begins = change[leaving], change[~leaving]
    at = np.searchsorted(begins, ends)
    kept = at < len(begins)
    first, last = ends[kept] + 1, begins[at[kept]]
    width = flat.shape[1]
    near = (last - first < _LONGEST_RAMP_PX) & ((first - 1) // width == (last + 1) // width)
    return first[near], last[near]


def _nearest_colours(pixels: Bytes, colours: Floats) -> Floats:
    gaps = ((pixels[:, None].astype(np.float64) - colours) ** 2).sum(axis=2)
    return np.asarray(colours[gaps.argmin(axis=1)])


def _sigmas(starts: Floats, ends: Floats, pixels: Floats, inside: NDArray[np.bool_]) -> Floats:
    """Return the sigma at each crossing whose two sides differ enough in these channels."""
    along = ends - starts
    squared = (along**2).sum(axis=1)
    strong = squared >= _LEAST_CONTRAST**2
    along, squared = along[strong], squared[strong]
    from_start = pixels[strong] - starts[strong][:, None, None]
    coverage = np.einsum("nrpc,nc->nrp", from_start, along) / squared[:, None, None]
    coverage = np.where(inside[strong][:, None], np.clip(coverage, -0.2, 1.2), 0.0)
    slope = (coverage[:, 2] - coverage[:, 0]).sum(axis=1) / 2
    mixed = (coverage[:, 1] * (1 - coverage[:, 1])).sum(axis=1)
    straight = np.abs(slope) < 1.0
    return np.asarray(np.sqrt(np.pi) * mixed[straight] / np.sqrt(1 + slope[straight] ** 2))
