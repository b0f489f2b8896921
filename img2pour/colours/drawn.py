"""Tells a picture that was drawn on a screen from one that a camera or a scanner took."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

COMMON_COLOURS = 32
DRAWN_SHARE = 0.6
# A program's fill stands alone; a camera's noise puts as many pixels on the next few levels.
NEIGHBOUR_LEVELS = 3
LONE_RATIO = 2.0


def flat_fill_share(rgb: NDArray[np.uint8]) -> float:
    """Return the share of pixels that lie in exact flat fills, 0 to 1.

    A fill is one of the 32 most frequent exact colours with at least twice as many pixels as all
    colours within three levels of it together.

    Parameters
    ----------
    rgb : (H, W, 3) uint8
        Large pictures are sampled on a grid, never averaged: averages would make new colours.
    """
    step = max(1, int(np.sqrt(rgb.shape[0] * rgb.shape[1] / 400_000)))
    sample = rgb[::step, ::step].reshape(-1, 3).astype(np.int32)
    codes = (sample[:, 0] << 16) | (sample[:, 1] << 8) | sample[:, 2]
    colours, counts = np.unique(codes, return_counts=True)
    levels = np.stack([colours >> 16, (colours >> 8) & 255, colours & 255], axis=1)
    covered = 0
    for index in np.argsort(-counts, kind="stable")[:COMMON_COLOURS]:
        near = np.abs(levels - levels[index]).max(axis=1) <= NEIGHBOUR_LEVELS
        if counts[index] >= LONE_RATIO * (counts[near].sum() - counts[index]):
            covered += int(counts[index])
    return covered / codes.size


def looks_drawn(rgb: NDArray[np.uint8]) -> bool:
    """Return whether the picture is clean digital artwork, to be left exactly as it is."""
    return flat_fill_share(rgb) >= DRAWN_SHARE
