"""The small turn of a scan that has no sheet edge to go by."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colours.drawn import looks_drawn

MAX_TURN_DEG = 6.0
MIN_TURN_DEG = 0.15
_REDUCED_PX = 1000
_SAME_TURN_DEG = 0.4
_AGREEING_SHARE = 0.6
_MIN_LENGTH_SHARE = 1.2


def small_turn_deg(rgb: NDArray[np.uint8]) -> float:
    """Return by how much a scanned page is turned (positive: clockwise on the screen), or 0.

    The page's long straight edges must agree, upright and level ones together, and its rim must be
    bare paper: then it is a scan and not a scene.
    """
    if looks_drawn(rgb):
        return 0.0
    scale = max(1.0, max(rgb.shape[:2]) / _REDUCED_PX)
    size = (round(rgb.shape[1] / scale), round(rgb.shape[0] / scale))
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.uint8)
    if not _has_paper_rim(grey):
        return 0.0
    angles, lengths = _segments(grey)
    if lengths.sum() < _MIN_LENGTH_SHARE * max(size):
        return 0.0
    return _agreed_turn(angles, lengths)


def _has_paper_rim(grey: NDArray[np.uint8]) -> bool:
    rim = max(2, round(0.015 * min(grey.shape)))
    border = np.concatenate(
        [grey[:rim].ravel(), grey[-rim:].ravel(), grey[:, :rim].ravel(), grey[:, -rim:].ravel()]
    ).astype(np.float64)
    middle = float(np.median(border))
    return middle > 150 and float(np.mean(np.abs(border - middle) < 14)) > 0.97


def _segments(grey: NDArray[np.uint8]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the angle off the nearest axis (degrees) and the length of each long segment."""
    found = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 0.8).detect(grey)[0]
    if found is None:
        return np.zeros(0), np.zeros(0)
    ends = found.reshape(-1, 4).astype(np.float64)
    across, down = ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]
    lengths = np.hypot(across, down)
    angles = (np.degrees(np.arctan2(down, across)) + 45) % 90 - 45
    long = lengths > 0.05 * max(grey.shape)
    return angles[long], lengths[long]


def _agreed_turn(angles: NDArray[np.float64], lengths: NDArray[np.float64]) -> float:
    shares = [lengths[np.abs(angles - a) < _SAME_TURN_DEG].sum() / lengths.sum() for a in angles]
    best = int(np.argmax(shares))
    near = np.abs(angles - angles[best]) < _SAME_TURN_DEG
    turn = float(np.average(angles[near], weights=lengths[near]))
    is_sure = shares[best] >= _AGREEING_SHARE and MIN_TURN_DEG <= abs(turn) <= MAX_TURN_DEG
    return turn if is_sure else 0.0
