"""The nearest of a few colours for every pixel, through a table over coarse RGB cells."""

import os
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

Bytes = NDArray[np.uint8]
# 64 steps a channel: a cell is 4 levels wide, far below the distance of colours worth pouring.
_STEPS = 64
_CELL = 256 // _STEPS
_BAND_ROWS = 32


# Added to the index of a colour that is nearest but not near.
FAR = 64


def nearest_table(colours: ArrayLike, near: float = np.inf) -> Bytes:
    """Make the table of the nearest colour by RGB distance.

    Parameters
    ----------
    colours : array_like, shape (K, 3)
        sRGB of 0..255, at most 255 of them; at most 64 with a limit for near.
    near : float
        Cells further than this from their nearest colour get FAR added to its index.

    Returns
    -------
    ndarray of uint8, shape (64 * 64 * 64,)
        Index of the nearest colour for each cell, red slowest.
    """
    axis = (np.arange(_STEPS, dtype=np.float32) + 0.5) * _CELL - 0.5
    best = np.full((_STEPS,) * 3, np.inf, dtype=np.float32)
    table = np.zeros((_STEPS,) * 3, dtype=np.uint8)
    for index, (red, green, blue) in enumerate(np.asarray(colours, dtype=np.float32)):
        squared = (
            ((axis - red) ** 2)[:, None, None] + ((axis - green) ** 2)[:, None] + (axis - blue) ** 2
        )
        closer = squared < best
        best[closer] = squared[closer]
        table[closer] = index
    table[best > near**2] += FAR
    return table.ravel()


def nearest_index(rgb: Bytes, table: Bytes) -> Bytes:
    """Look up every pixel in a table of `nearest_table`.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        Pixels.
    table : ndarray of uint8
        As `nearest_table` makes it.

    Returns
    -------
    ndarray of uint8, shape (H, W)
        Index of the colour.
    """
    found = np.empty(rgb.shape[:2], dtype=np.uint8)

    def look_up(top: int) -> None:
        red, green, blue = cv2.split(rgb[top : top + _BAND_ROWS])
        cell = (red.astype(np.uint32) // _CELL) * _STEPS**2
        cell += (green.astype(np.uint32) // _CELL) * _STEPS
        cell += np.asarray(blue, dtype=np.uint8) // _CELL
        np.take(table, cell, out=found[top : top + _BAND_ROWS], mode="clip")

    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        list(pool.map(look_up, range(0, rgb.shape[0], _BAND_ROWS)))
    return found
