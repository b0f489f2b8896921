"""Resamples the photo once, from the sheet's corners to an upright rectangle."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.straighten.lens import Lens
from img2pour.straighten.sampling import sampled

_BAND_ROWS = 512
_GRID_PX = 16
# The outermost pixels mix the sheet with the table: they are replaced by the next ones inside.
FRINGE_PX = 2


def warp(
    image: NDArray[np.uint8],
    to_output: NDArray[np.float64],
    size: tuple[int, int],
    lens: Lens | None,
    *,
    smooth: bool = True,
) -> NDArray[np.uint8]:
    """Return the picture of (width, height) px under a homography, in one resampling.

    Parameters
    ----------
    image : (H, W, 3) or (H, W) uint8
    to_output : (3, 3) float64
        From bulge-free input pixels to output pixels; both count the first pixel's centre as 0.5.
    smooth : bool
        Cubic interpolation; else the nearest pixel.
    """
    method = cv2.INTER_CUBIC if smooth else cv2.INTER_NEAREST
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    if lens is None:
        back = np.linalg.inv(half) @ np.linalg.inv(to_output) @ half
        flags = method | cv2.WARP_INVERSE_MAP
        found = cv2.warpPerspective(image, back, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(found, np.uint8)
    out = np.empty((size[1], size[0], *image.shape[2:]), np.uint8)
    for top, maps in _bands(np.asarray(np.linalg.inv(to_output), np.float64), size, lens):
        out[top : top + len(maps)] = sampled(image, maps, method)
    return out


def _bands(
    back: NDArray[np.float64], size: tuple[int, int], lens: Lens
) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """Yield row bands of the map to photo pixels.

    The map is smooth: it is computed each 16 px and drawn out linearly, which is right to a
    thousandth of a pixel. One more grid cell on each side keeps the ends from being cut flat.
    """
    cells = size[0] // _GRID_PX + 3
    x = (np.arange(cells) - 0.5) * _GRID_PX
    for top in range(0, size[1], _BAND_ROWS):
        rows = min(_BAND_ROWS, size[1] - top)
        steps = -(-rows // _GRID_PX) + 2
        y = top + (np.arange(steps) - 0.5) * _GRID_PX
        grid = np.stack(np.meshgrid(x, y), axis=-1)
        seen = lens.seen(project(back, grid)) - 0.5
        fine = cv2.resize(
            seen.astype(np.float32),
            (cells * _GRID_PX, steps * _GRID_PX),
            interpolation=cv2.INTER_LINEAR,
        )
        cut = fine[_GRID_PX : _GRID_PX + rows, _GRID_PX : _GRID_PX + size[0]]
        yield top, np.ascontiguousarray(cut)


def project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return points (..., 2) under a 3x3 homography."""
    moved = points @ matrix[:, :2].T + matrix[:, 2]
    flat: NDArray[np.float64] = moved[..., :2] / moved[..., 2:]
    return flat


def cover_fringe(image: NDArray[np.uint8], rim_px: int = FRINGE_PX) -> NDArray[np.uint8]:
    """Return the image with its outermost rows and columns replaced by the next ones inside."""
    if min(image.shape[:2]) <= 4 * rim_px:
        return image
    image[:rim_px] = image[rim_px]
    image[-rim_px:] = image[-rim_px - 1]
    image[:, :rim_px] = image[:, rim_px : rim_px + 1]
    image[:, -rim_px:] = image[:, -rim_px - 1 : -rim_px]
    return image
