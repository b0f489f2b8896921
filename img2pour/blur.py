"""How blurred the edges of a picture are.

Along a row that crosses a straight edge the coverage p runs from 0 to 1. For a Gaussian edge of
sigma s the integral of p (1 - p) is s / sqrt(pi), whatever the edge's place between the pixels;
the slope of the edge to the row is taken out by comparing the rows above and below.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_LONGEST_RAMP_PX = 26
_LEAST_CONTRAST = 40.0
_MOST_RAMPS = 6000
_FEWEST_CROSSINGS = 12
# A pixel averages over its own square, which alone looks like a sigma of sqrt(1/12).
_PIXEL_VARIANCE = 1 / 12
_LIGHTNESS = np.array([0.299, 0.587, 0.114])


def estimate_blur_px(rgb: Bytes, flat: Bytes, labels: Bytes, colours: Floats) -> float:
    """Estimate the sigma of the blur, beyond that of the pixels themselves.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    flat : ndarray of uint8, shape (H, W)
        255 where the picture is flat.
    labels : ndarray of uint8, shape (H, W)
        Nearest colour of every pixel.
    colours : ndarray of float64, shape (K, 3)
        The colours.

    Returns
    -------
    float
        Median sigma over edges between flat areas, px; 0 when there are too few of them.
    """
    # JPEG files hold colour at half the resolution, so edges of lightness are the true ones.
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)[..., None]
    found = _sigmas(grey, flat, labels, colours @ _LIGHTNESS[:, None])
    if len(found) < _FEWEST_CROSSINGS:
        found = _sigmas(rgb, flat, labels, colours)
    if len(found) < _FEWEST_CROSSINGS:
        return 0.0
    variance = float(np.median(found)) ** 2 - _PIXEL_VARIANCE
    return float(np.sqrt(max(variance, 0.0)))


def _sigmas(image: Bytes, flat: Bytes, labels: Bytes, colours: Floats) -> Floats:
    along_rows = _sigmas_along_rows(image, flat, labels, colours)
    image, flat, labels = (
        np.ascontiguousarray(part.swapaxes(0, 1)) for part in (image, flat, labels)
    )
    return np.concatenate([along_rows, _sigmas_along_rows(image, flat, labels, colours)])


def _sigmas_along_rows(rgb: Bytes, flat: Bytes, labels: Bytes, colours: Floats) -> Floats:
    first, last = _ramps(flat, labels, colours)
    if len(first) == 0:
        return np.zeros(0)
    height, width = flat.shape
    row, left = np.divmod(first, width)
    centre = left + (last - first) // 2
    reach = _LONGEST_RAMP_PX // 2 + 2
    columns = centre[:, None] + np.arange(-reach, reach + 1)
    inside = (columns >= left[:, None] - 2) & (columns <= (last - first + left)[:, None] + 2)
    columns = np.clip(columns, 0, width - 1)
    start = colours[labels.ravel()[first - 1]]
    along = colours[labels.ravel()[last + 1]] - start
    coverage = [
        _coverage(rgb, np.clip(row + step, 0, height - 1), columns, start, along)
        for step in (-1, 0, 1)
    ]
    above, here, below = (np.where(inside, part, 0.0) for part in coverage)
    slope = (below.sum(axis=1) - above.sum(axis=1)) / 2
    mixed = (here * (1 - here)).sum(axis=1)
    straight = np.abs(slope) < 1.0
    return np.asarray(np.sqrt(np.pi) * mixed[straight] / np.sqrt(1 + slope[straight] ** 2))


def _ramps(flat: Bytes, labels: Bytes, colours: Floats) -> tuple[Integers, Integers]:
    """Return first and last pixel of short stretches between two unlike flat ones in a row."""
    edge = flat.copy()
    edge[:, :2] = 0
    edge[:, -2:] = 0
    solid = edge.ravel() > 0
    change = np.flatnonzero(solid[1:] != solid[:-1])
    ends = change[solid[change]]
    begins = change[~solid[change]]
    at = np.searchsorted(begins, ends)
    kept = at < len(begins)
    first, last = ends[kept] + 1, begins[at[kept]]
    width = flat.shape[1]
    near = (last - first < _LONGEST_RAMP_PX) & ((first - 1) // width == (last + 1) // width)
    first, last = first[near], last[near]
    flat_labels = labels.ravel()
    gap = colours[flat_labels[first - 1]] - colours[flat_labels[last + 1]]
    strong = np.flatnonzero(np.linalg.norm(gap, axis=1) >= _LEAST_CONTRAST)
    strong = strong[:: max(1, len(strong) // _MOST_RAMPS)]
    return first[strong], last[strong]


def _coverage(
    rgb: Bytes, rows: Integers, columns: Integers, start: Floats, along: Floats
) -> Floats:
    pixels = rgb[rows[:, None], columns].astype(np.float64)
    squared = np.maximum((along**2).sum(axis=1), 1.0)
    share = np.einsum("npc,nc->np", pixels - start[:, None], along) / squared[:, None]
    return np.asarray(np.clip(share, -0.2, 1.2))
