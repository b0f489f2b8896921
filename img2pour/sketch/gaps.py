"""Bridges gaps: from each free line end to the end or line that it points at."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.sketch.thinning import branch_behind, line_ends

# A bridge may turn this far off the line's own direction (cosines).
_AHEAD = 0.5
_AHEAD_OF_LINE = 0.64
# A line wins over a facing end only when it is nearer than this share of the end's distance;
# ends that continue each other are hardly ever given up.
_END_BONUS, _STRAIGHT_BONUS = 0.6, 0.25
_STRAIGHT_ON = 0.88


def bridge_reach(close_px: float, width_px: float) -> float:
    """Return how far apart the thinned ends of a gap may be: its round ends are thinned away."""
    return 1.15 * close_px + 2 * width_px


def look_back(width_px: float) -> float:
    """Return the length of line that tells where its end points."""
    return max(5.0, 2.5 * width_px)


def bridged(
    thin: NDArray[np.uint8], reach_px: float, look_back_px: float
) -> tuple[NDArray[np.uint8], list[tuple[tuple[int, int], tuple[int, int]]]]:
    """Return the thinned lines with gaps up to `reach_px` bridged, and the bridges (row, column).

    Parameters
    ----------
    thin : (h, w) uint8
        Thinned lines, 0/1.
    reach_px : float
        Longest gap.
    look_back_px : float
        Length of line behind an end that tells its direction; shorter branches are spurs.
    """
    ends, ways = _ends_with_direction(thin, look_back_px)
    if len(ends) == 0 or reach_px < 1:
        return thin, []
    closed = thin.copy()
    bridges = []
    for index, end in enumerate(ends):
        goal = _goal(thin, ends, ways, index, reach_px)
        if goal is None:
            continue
        start, stop = (int(end[0]), int(end[1])), (int(goal[0]), int(goal[1]))
        cv2.line(closed, start[::-1], stop[::-1], 1, 1, cv2.LINE_8)
        # Two ends of one gap point at each other: one bridge.
        if (stop, start) not in bridges:
            bridges.append((start, stop))
    return closed, bridges


def _ends_with_direction(
    thin: NDArray[np.uint8], look_back_px: float
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    ends, ways = [], []
    length = max(4, round(look_back_px))
    for row, column in line_ends(thin):
        path = branch_behind(thin, (int(row), int(column)), length)
        if len(path) < max(3, length // 2):
            continue
        way = np.array(path[0], float) - np.array(path[-1], float)
        norm = float(np.linalg.norm(way))
        if norm > 0:
            ends.append((row, column))
            ways.append(way / norm)
    return np.array(ends, np.intp).reshape(-1, 2), np.array(ways, np.float64).reshape(-1, 2)


def _goal(
    thin: NDArray[np.uint8],
    ends: NDArray[np.intp],
    ways: NDArray[np.float64],
    index: int,
    reach_px: float,
) -> NDArray[np.intp] | None:
    """Return the pixel that an end is joined to: a facing end first, else the nearest line."""
    here, way = ends[index].astype(np.float64), ways[index]
    away = ends - here
    far = np.hypot(away[:, 0], away[:, 1])
    ahead = (away @ way) / np.maximum(far, 1e-9)
    facing = -(ways * (away / np.maximum(far, 1e-9)[:, None])).sum(axis=1)
    fits = (far > 0) & (far <= reach_px) & (ahead > _AHEAD) & (facing > _AHEAD)
    best_end = int(np.argmin(np.where(fits, far, np.inf))) if fits.any() else -1
    line = _line_ahead(thin, here, way, reach_px)
    if best_end >= 0:
        straight = min(ahead[best_end], facing[best_end]) > _STRAIGHT_ON
        bonus = _STRAIGHT_BONUS if straight else _END_BONUS
        if line is None or bonus * far[best_end] <= line[1]:
            return np.asarray(ends[best_end], np.intp)
    return None if line is None else np.asarray(line[0], np.intp)


def _line_ahead(
    thin: NDArray[np.uint8], here: NDArray[np.float64], way: NDArray[np.float64], reach_px: float
) -> tuple[NDArray[np.intp], float] | None:
    reach = int(np.ceil(reach_px))
    row, column = int(here[0]), int(here[1])
    top, left = max(0, row - reach), max(0, column - reach)
    window = thin[top : row + reach + 1, left : column + reach + 1]
    spots = np.argwhere(window) + np.array([top, left])
    away = spots - here
    far = np.hypot(away[:, 0], away[:, 1])
    ahead = (away @ way) / np.maximum(far, 1e-9)
    fits = (far > 1.5) & (far <= reach_px) & (ahead > _AHEAD_OF_LINE)
    if not fits.any():
        return None
    best = int(np.argmin(np.where(fits, far, np.inf)))
    return np.asarray(spots[best], np.intp), float(far[best])
