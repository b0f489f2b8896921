"""Long straight edges of a reduced picture, each with its support counted along its length."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.straighten.sampling import sampled

MAX_LINES = 44
# A side may bow by this much at the reduced size (lens, curled paper) and still be one line.
BOW_PX = 3
# Weakest step that counts, in grey levels a pixel after the blur; noise stays below it.
STEP_LEVEL = 2.5


@dataclass(frozen=True, eq=False)
class Lines:
    """Straight lines with support.

    Attributes
    ----------
    origins, directions : (L, 2) float64
        A point on each line (nearest to the frame's middle) and its unit direction.
    start : float
        Position along a line of the first sample, in px from its origin.
    bright, dark : (L, N) int32
        Running count of supported samples, 1 px apart: where the picture gets brighter, or darker,
        towards the side of the left-hand normal (-dy, dx).
    """

    origins: NDArray[np.float64]
    directions: NDArray[np.float64]
    start: float
    bright: NDArray[np.int32]
    dark: NDArray[np.int32]


def find_lines(grey: NDArray[np.float32]) -> Lines | None:
    """Return the strongest lines of a reduced grey picture (H, W), or None when there are none."""
    gradient_x, gradient_y = _gradients(grey)
    candidates = _candidates(grey)
    if len(candidates) < 4:
        return None
    middle = np.array([grey.shape[1] / 2, grey.shape[0] / 2])
    origins, directions = _as_lines(candidates, middle)
    reach = int(np.hypot(*grey.shape) / 2) + 2
    bright, dark = _support(gradient_x, gradient_y, origins, directions, reach)
    order = np.argsort(-np.maximum(bright.sum(1), dark.sum(1)), kind="stable")
    keep = _distinct(origins, directions, order)[:MAX_LINES]
    return Lines(
        origins[keep],
        directions[keep],
        float(-reach),
        np.cumsum(bright[keep], axis=1, dtype=np.int32),
        np.cumsum(dark[keep], axis=1, dtype=np.int32),
    )


def _gradients(grey: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    smooth = cv2.GaussianBlur(grey, (0, 0), 1.0)
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(across, np.float32), np.asarray(down, np.float32)


def _candidates(grey: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return segments (N, 4) from the segment detector, the longest first."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD, 0.8)
    found = detector.detect(np.clip(grey, 0, 255).astype(np.uint8))[0]
    if found is None:
        return np.zeros((0, 4))
    segments = found.reshape(-1, 4).astype(np.float64)
    lengths = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    order = np.argsort(-lengths, kind="stable")
    long: NDArray[np.float64] = segments[order][lengths[order] > 0.03 * max(grey.shape)]
    return long[:300]


def _as_lines(
    segments: NDArray[np.float64], middle: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Join segments that lie on one line, then return the lines' origins and directions."""
    starts, ends = segments[:, :2] + 0.5, segments[:, 2:] + 0.5
    lengths = np.linalg.norm(ends - starts, axis=1)
    free = np.ones(len(segments), bool)
    origins, directions = [], []
    for seed in range(len(segments)):
        if not free[seed]:
            continue
        direction = (ends[seed] - starts[seed]) / lengths[seed]
        normal = np.array([-direction[1], direction[0]])
        offset = np.maximum(
            np.abs((starts - starts[seed]) @ normal), np.abs((ends - starts[seed]) @ normal)
        )
        distance = np.abs(((starts + ends) / 2 - starts[seed]) @ direction)
        near = free & (offset < BOW_PX + 0.012 * distance)
        free[near] = False
        points = np.vstack([starts[near], ends[near]])
        weights = np.tile(lengths[near], 2)
        centre = np.average(points, axis=0, weights=weights)
        spread = (points - centre) * np.sqrt(weights)[:, None]
        direction = np.linalg.svd(spread, full_matrices=False)[2][0]
        origins.append(centre + direction * float((middle - centre) @ direction))
        directions.append(direction)
    return np.array(origins), np.array(directions)


def _support(
    gradient_x: NDArray[np.float32],
    gradient_y: NDArray[np.float32],
    origins: NDArray[np.float64],
    directions: NDArray[np.float64],
    reach: int,
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return, a sample each px along each line, whether a step across the line lies there."""
    along = np.arange(-reach, reach + 1, dtype=np.float64)
    normals = np.stack([-directions[:, 1], directions[:, 0]], axis=1)
    spots = origins[:, None] + along[None, :, None] * directions[:, None]
    bright = np.full(spots.shape[:2], -np.inf, np.float32)
    dark = np.full(spots.shape[:2], -np.inf, np.float32)
    for shift in range(-BOW_PX, BOW_PX + 1):
        at = (spots + shift * normals[:, None] - 0.5).astype(np.float32)
        along_x = sampled(gradient_x, at, cv2.INTER_LINEAR)
        along_y = sampled(gradient_y, at, cv2.INTER_LINEAR)
        across = along_x * normals[:, :1] + along_y * normals[:, 1:]
        total = np.hypot(along_x, along_y)
        # A step that runs another way belongs to another edge.
        across = np.where(np.abs(across) > 0.8 * total, across, 0).astype(np.float32)
        bright = np.maximum(bright, across)
        dark = np.maximum(dark, -across)
    return bright > STEP_LEVEL, dark > STEP_LEVEL


def _distinct(
    origins: NDArray[np.float64], directions: NDArray[np.float64], order: NDArray[np.intp]
) -> list[int]:
    """Return `order` without lines that nearly repeat an earlier one."""
    kept: list[int] = []
    for line in order:
        repeats = any(
            abs(_cross(directions[line], directions[k])) < 0.012
            and abs(_offset(origins, directions, k, line)) < BOW_PX
            for k in kept
        )
        if not repeats:
            kept.append(int(line))
    return kept


def _offset(
    origins: NDArray[np.float64], directions: NDArray[np.float64], line: int, other: int
) -> float:
    normal = np.array([-directions[line][1], directions[line][0]])
    return float((origins[other] - origins[line]) @ normal)


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    """Return the cross product of two plane vectors: the sine of the angle between directions."""
    return float(a[0] * b[1] - a[1] * b[0])
