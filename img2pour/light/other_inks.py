"""Depth of shadow at pixels whose drawn colour is not the one of the nearest patch.

Between a shadow's edge and a drawn one lie slivers too small to be patches. There the colours of
the patches round about are tried in turn: one of them, in full light or in full shade, fits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from img2pour.light.patches import trust_in
from img2pour.light.srgb import channel_max

# How far around, in reduced pixels, other colours are looked for.
_REACHES = (0, 3, 7)
_WAYS = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))
# A colour fits that leaves no more than this (natural log) ...
_MOST_LEFT = 0.1
# ... at a depth this near to full light or full shade: in between, blends fit too.
_NEAR_FULL = 0.25


def depth_along(
    below: NDArray[np.float32], step: NDArray[np.float32], trust: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return how many of a shadow's steps lie in some differences of logs, and what is left over.

    Parameters
    ----------
    below : (..., 3) float32
    step : (3,) float32
    trust : (..., 3) float32
        How far each channel is believed, 0 to 1.
    """
    depth = ((below * trust) @ step) / np.maximum(trust @ (step * step), np.float32(1e-6))
    left = channel_max(np.abs(below - depth[..., None] * step) * trust)
    return np.asarray(depth, np.float32), np.asarray(left, np.float32)


def other_depths(
    unlit: NDArray[np.float32],
    place: tuple[NDArray[np.intp], NDArray[np.intp]],
    log_colour: NDArray[np.float32],
    step: NDArray[np.float32],
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return the depth (N,) by the colour round about that fits best, and whether one fits.

    Parameters
    ----------
    unlit : (N, 3) float32
        Log of the pixels' light less the log of the full light there.
    place : (rows, columns), each (N,)
        Where they lie in the reduced picture.
    log_colour : (h, w, 3) float32
        Log of the drawn colour at each reduced pixel.
    step : (3,) float32
        The shadow's.
    """
    rows, columns = place
    depth = np.zeros(len(unlit), np.float32)
    least = np.full(len(unlit), np.inf, np.float32)
    for reach in _REACHES:
        for down, across in _WAYS if reach else ((0, 0),):
            row = np.clip(rows + reach * down, 0, log_colour.shape[0] - 1)
            column = np.clip(columns + reach * across, 0, log_colour.shape[1] - 1)
            colour = log_colour[row, column]
            trust = np.asarray(trust_in(colour + step), np.float32)
            tried, left = depth_along(unlit - colour, step, trust)
            full = np.minimum(np.abs(tried), np.abs(tried - 1)) < _NEAR_FULL
            better = full & (left < least)
            depth[better], least[better] = tried[better], left[better]
    return depth, np.asarray(least < _MOST_LEFT, np.bool_)
