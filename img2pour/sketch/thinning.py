"""Thins strokes to curves one pixel wide, and reads their ends."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

# Neighbours p2 .. p9 clockwise from the one above, one bit each.
_OFFSETS = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))


def _kernel() -> NDArray[np.float32]:
    weights = np.zeros((3, 3), np.float32)
    for bit, (row, column) in enumerate(_OFFSETS):
        weights[1 + row, 1 + column] = 1 << bit
    return weights


@cache
def _removable(second: bool) -> NDArray[np.bool_]:
    """Return, for each of the 256 neighbourhoods, whether its middle may go.

    Guo and Hall, "Parallel thinning with two-subiteration algorithms", 1989: two passes that take
    turns. Slanting lines two pixels wide keep their length, which simpler rules eat away.
    """
    table = np.zeros(256, bool)
    for code in range(256):
        p2, p3, p4, p5, p6, p7, p8, p9 = (bool(code >> bit & 1) for bit in range(8))
        crossings = sum(
            [
                not p2 and (p3 or p4),
                not p4 and (p5 or p6),
                not p6 and (p7 or p8),
                not p8 and (p9 or p2),
            ]
        )
        pairs = min(
            sum([p9 or p2, p3 or p4, p5 or p6, p7 or p8]),
            sum([p2 or p3, p4 or p5, p6 or p7, p8 or p9]),
        )
        held = (p2 or p3 or not p5) and p4 if second else (p6 or p7 or not p9) and p8
        table[code] = crossings == 1 and 2 <= pairs <= 3 and not held
    return table


def neighbour_codes(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the eight neighbours of each pixel of a 0/1 mask as bits."""
    codes = cv2.filter2D(mask, cv2.CV_16U, _kernel(), borderType=cv2.BORDER_CONSTANT)
    return np.asarray(codes, np.uint8)


def thinned(mask: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return the mask thinned to curves one pixel wide (0/1), connections kept.

    Only pixels that are still set and beside one that is not can go: the work is on their list.
    """
    padded = np.pad(mask, 1).astype(np.uint8)
    flat, width = padded.ravel(), padded.shape[1]
    steps = np.array([row * width + column for row, column in _OFFSETS])
    left = np.flatnonzero(flat)
    while left.size:
        before = left.size
        for second in (False, True):
            codes = np.zeros(left.size, np.uint8)
            for bit, step in enumerate(steps):
                codes |= flat[left + step] << bit
            going = _removable(second)[codes]
            flat[left[going]] = 0
            left = left[~going]
        if left.size == before:
            break
    return np.ascontiguousarray(padded[1:-1, 1:-1])


def line_ends(thin: NDArray[np.uint8]) -> NDArray[np.intp]:
    """Return (row, column) of pixels with one neighbour, or two that touch (N, 2)."""
    codes = neighbour_codes(thin)
    return np.argwhere((thin > 0) & _is_end()[codes])


@cache
def _is_end() -> NDArray[np.bool_]:
    table = np.zeros(256, bool)
    for code in range(256):
        p = [(code >> bit) & 1 for bit in range(8)]
        touching = any(p[i] and p[(i + 1) % 8] for i in range(8))
        table[code] = sum(p) == 1 or (sum(p) == 2 and touching)
    return table


@cache
def _is_fork() -> NDArray[np.bool_]:
    """Return, a neighbourhood, whether three lines or more leave it: rises when going round."""
    table = np.zeros(256, bool)
    for code in range(256):
        p = [(code >> bit) & 1 for bit in range(8)]
        table[code] = sum(p[i] == 0 and p[(i + 1) % 8] == 1 for i in range(8)) >= 3
    return table


def fork_pixels(thin: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Return the pixels of thinned lines at which three or more of them meet (h, w)."""
    return np.asarray(_is_fork()[neighbour_codes(thin)] & (thin > 0))


def branch_behind(
    thin: NDArray[np.uint8], end: tuple[int, int], length: int
) -> list[tuple[int, int]]:
    """Return the pixels from a line's end inwards, up to `length` or the first fork."""
    path = [end]
    seen = {end}
    height, width = thin.shape
    while len(path) < length:
        row, column = path[-1]
        following = [
            (row + r, column + c)
            for r, c in _OFFSETS
            if 0 <= row + r < height
            and 0 <= column + c < width
            and thin[row + r, column + c]
            and (row + r, column + c) not in seen
        ]
        if len(following) > 1:
            # Two neighbours in touch are one way on, drawn as a step.
            following = [f for f in following if abs(f[0] - row) + abs(f[1] - column) == 1]
            if len(following) != 1:
                break
        if not following:
            break
        path.append(following[0])
        seen.add(following[0])
    return path
