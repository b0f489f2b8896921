"""The label image: which colour of the palette each pixel belongs to.

Where the 5 x 5 window around a pixel holds one label, the pixel is core and keeps it. Every other
pixel is a blend, and is given to one of the core colours nearby unless another colour explains it
far better: so the blended edge between two areas never reads as a third colour.
"""

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colours.blends import NEITHER, settle_blends
from img2pour.colours.nearest import FAR, nearest_index, nearest_table
from img2pour.colours.pieces import dissolve_specks
from img2pour.colours.saddles import remove_saddles
from img2pour.palette import FLAT_ART_SHARE, Palette
from img2pour.picture import Picture

Bytes = NDArray[np.uint8]

OUTSIDE_LABEL = 255
_WINDOW = np.ones((5, 5), dtype=np.uint8)
_LEAST_REACH_PX = 4
_SPECK_PX, _NOISY_SPECK_PX = 5, 9
# From this noise on, a few pixels of a third colour beside an edge are more likely noise.
_NOISY = 1.0
# RGB distance within which a pixel shows a colour as it is, noise aside.
_NEAR = 12.0
_BLURRED_PX = 1.3
_BAND_PX = 1_000_000
# Half a median's window over the longer side, in pictures without flat colours.
_CALM_SHARE = 0.003


def label_picture(picture: Picture, palette: Palette) -> Bytes:
    """Give every pixel to a colour of the palette.

    Parameters
    ----------
    picture : Picture
        The picture.
    palette : Palette
        Its colours, with the blur and noise of the picture.

    Returns
    -------
    ndarray of uint8, shape (H, W)
        Index into ``palette.colours``, or OUTSIDE_LABEL. No 2 x 2 block has equal labels on a
        diagonal that differ from the two others.
    """
    colours = palette.rgb
    if palette.explained_share < FLAT_ART_SHARE:
        picture = replace(picture, rgb=_calmed(picture.rgb))
    near = _NEAR + 3 * palette.noise
    found = nearest_index(picture.rgb, nearest_table(colours, near))
    if len(colours) > 1 and not palette.hard_edged:
        labels = _settle_in_bands(found, picture, palette)
    else:
        labels = found & np.uint8(FAR - 1)
    if picture.outside is not None:
        labels[picture.outside] = OUTSIDE_LABEL
    speck_px = _NOISY_SPECK_PX if palette.noise >= _NOISY else _SPECK_PX
    labels = dissolve_specks(labels, speck_px, OUTSIDE_LABEL)
    return remove_saddles(labels, picture.rgb, colours, OUTSIDE_LABEL)


def _calmed(rgb: Bytes) -> Bytes:
    """Return the medians of windows: soft tones part along calm lines, not along grain."""
    window = 2 * round(_CALM_SHARE * max(rgb.shape[:2])) + 1
    return np.asarray(cv2.medianBlur(rgb, window), dtype=np.uint8)


def core_mask(labels: Bytes) -> Bytes:
    """Return 255 where the 5 x 5 window holds one label, else 0."""
    low, high = cv2.erode(labels, _WINDOW), cv2.dilate(labels, _WINDOW)
    return np.asarray(cv2.compare(low, high, cv2.CMP_EQ), dtype=np.uint8)


def _plateau_mask(found: Bytes, blur_px: float) -> Bytes:
    """Return 255 where a pixel and those beside it are all near to one colour, else 0.

    That is the middle of a thin stroke; blurred edges are too steep to have such a place.
    """
    size = 3 if blur_px < _BLURRED_PX else 5
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (size, size))
    low, high = cv2.erode(found, cross), cv2.dilate(found, cross)
    level = np.asarray(cv2.compare(low, high, cv2.CMP_EQ), dtype=np.uint8)
    level[found >= FAR] = 0
    return level


def _settle_in_bands(found: Bytes, picture: Picture, palette: Palette) -> Bytes:
    """Settle blends in bands of rows, on all processors.

    A label depends on colours nearby, which are looked for up to three times in a row, and on
    which of them are core; bands that overlap by that much give the labels of the whole picture.
    """
    height, width = found.shape
    labels = np.empty_like(found)
    reach_px = _reach_px(palette.blur_px)
    rows, halo = max(64, _BAND_PX // width), 3 * reach_px + 4 + _WINDOW.shape[0] // 2

    def settle(top: int) -> None:
        first, bottom = max(0, top - halo), min(height, top + rows)
        part = slice(first, bottom + halo)
        core = core_mask(found[part] & np.uint8(FAR - 1))
        core |= _plateau_mask(found[part], palette.blur_px)
        if picture.outside is not None:
            core[picture.outside[part]] = NEITHER
        settled = settle_blends(
            found[part], picture.rgb[part], core, palette.rgb, palette.look, reach_px
        )
        labels[top:bottom] = settled[top - first : bottom - first]

    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        list(pool.map(settle, range(0, height, rows)))
    return labels


def _reach_px(blur_px: float) -> int:
    """Return how far from an edge pixel the core of its two sides can begin."""
    return max(_LEAST_REACH_PX, int(np.ceil(2.5 * blur_px + 1)))
