"""Takes hatching away: short straight strokes that end free and lie side by side."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.sketch.thinning import fork_pixels, line_ends

# Strokes of one hatching lie at most this many line widths apart and this much out of parallel.
_APART_WIDTHS = 7.0
_PARALLEL = 0.95
# How far a stroke may bow, as a share of its chord; how much of it must lie beside its neighbour.
_BOW = 0.06
_BESIDE_SHARE = 0.4
_FEWEST_NEIGHBOURS = 2


@dataclass(frozen=True, eq=False)
class _Stroke:
    """A branch with a free end: its pixels, middle, unit direction and chord."""

    pixels: NDArray[np.intp]
    middle: NDArray[np.float64]
    way: NDArray[np.float64]
    chord: float


def without_hatching(thin: NDArray[np.uint8], width_px: float) -> NDArray[np.uint8]:
    """Return thinned lines (h, w) of 0/1 without strokes that are hatching.

    A stroke is hatching when one of its ends is free and at least two others that end free lie
    close beside it, in parallel.
    """
    strokes = _free_strokes(thin)
    if len(strokes) <= _FEWEST_NEIGHBOURS:
        return thin
    middles = np.array([s.middle for s in strokes])
    ways = np.array([s.way for s in strokes])
    chords = np.array([s.chord for s in strokes])
    reach = _APART_WIDTHS * max(width_px, 2.0)
    kept = thin.copy()
    for index, stroke in enumerate(strokes):
        away = middles - stroke.middle
        along = away @ stroke.way
        across = np.abs(away @ np.array([-stroke.way[1], stroke.way[0]]))
        parallel = np.abs(ways @ stroke.way) > _PARALLEL
        shared = (stroke.chord + chords) / 2 - np.abs(along)
        beside = shared > _BESIDE_SHARE * np.minimum(stroke.chord, chords)
        near = parallel & beside & (across < reach) & (across > 1.0)
        near[index] = False
        if near.sum() >= _FEWEST_NEIGHBOURS:
            kept[stroke.pixels[:, 0], stroke.pixels[:, 1]] = 0
    return kept


def _free_strokes(thin: NDArray[np.uint8]) -> list[_Stroke]:
    """Return the straight branches between forks that have a free end."""
    forks = fork_pixels(thin).astype(np.uint8)
    parts = (thin > 0) & (cv2.dilate(forks, np.ones((3, 3), np.uint8)) == 0)
    count, label = cv2.connectedComponents(parts.astype(np.uint8), connectivity=8)
    ends = line_ends(thin)
    free = np.zeros(count, bool)
    free[label[ends[:, 0], ends[:, 1]]] = True
    free[0] = False
    spots = np.argwhere(parts)
    names = label[parts]
    order = np.argsort(names, kind="stable")
    bounds = np.searchsorted(names[order], np.arange(count + 1))
    strokes = []
    for name in np.flatnonzero(free):
        stroke = _as_stroke(spots[order[bounds[name] : bounds[name + 1]]])
        if stroke is not None:
            strokes.append(stroke)
    return strokes


def _as_stroke(pixels: NDArray[np.intp]) -> _Stroke | None:
    """Return the branch as a stroke when it is straight."""
    if len(pixels) < 4:
        return None
    middle = pixels.mean(axis=0)
    way = np.linalg.svd(pixels - middle, full_matrices=False)[2][0]
    along = (pixels - middle) @ way
    chord = float(np.ptp(along))
    across = float(np.abs((pixels - middle) @ np.array([-way[1], way[0]])).max())
    return _Stroke(pixels, middle, way, chord) if across < _BOW * chord + 1.5 else None
