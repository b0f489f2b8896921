"""Colours for cells: as drawn, as wished, or by themselves so that neighbours differ."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.light.srgb import LINEAR_OF_LEVEL

# Eight colours that are told apart at a glance, for cells that nobody has coloured yet.
OWN_COLOURS = (
    "#d8b365",
    "#5ab4ac",
    "#c7564f",
    "#4f6fb0",
    "#7fa650",
    "#9a6fb0",
    "#e6a5b8",
    "#5f6b73",
)
# Cells whose typical colours lie this close together (OKLab x 100) are of one drawn colour.
_SAME_COLOUR = 5.0
# A cell counts as coloured in from this distance to the bare paper.
_COLOURED = 4.0


def neighbours_of(cell: NDArray[np.int32], count: int) -> list[set[int]]:
    """Return the cells that touch each cell along at least three pixel edges."""
    firsts = np.concatenate([cell[:, :-1].ravel(), cell[:-1].ravel()])
    seconds = np.concatenate([cell[:, 1:].ravel(), cell[1:].ravel()])
    differ = firsts != seconds
    low = np.minimum(firsts[differ], seconds[differ]).astype(np.int64)
    high = np.maximum(firsts[differ], seconds[differ])
    keys, lengths = np.unique(low * (count + 1) + high, return_counts=True)
    found: list[set[int]] = [set() for _ in range(count + 1)]
    for key in keys[lengths >= 3]:
        one, two = divmod(int(key), count + 1)
        found[one].add(two)
        found[two].add(one)
    return found


def colour_numbers(neighbours: list[set[int]], fixed: dict[int, int]) -> NDArray[np.int64]:
    """Return a small colour number for each cell so that neighbours differ.

    The cell with the most differently coloured neighbours comes next, the lowest number first
    (Brelaz, "New methods to color the vertices of a graph", 1979).

    Parameters
    ----------
    neighbours : list of set
        Entry 0 stands for no cell.
    fixed : dict
        Cells whose number is given.
    """
    number = np.full(len(neighbours), -1, np.int64)
    for cell, value in fixed.items():
        number[cell] = value
    left = {cell for cell in range(1, len(neighbours)) if number[cell] < 0}
    while left:
        used = {cell: {int(number[n]) for n in neighbours[cell]} - {-1} for cell in left}
        cell = max(left, key=lambda c: (len(used[c]), len(neighbours[c]), -c))
        value = 0
        while value in used[cell]:
            value += 1
        number[cell] = value
        left.remove(cell)
    return number


def drawn_colours(
    rgb: NDArray[np.uint8], cell: NDArray[np.int32], lines: NDArray[np.bool_], count: int
) -> NDArray[np.float64]:
    """Return the typical sRGB of each cell's pixels off the lines (count + 1, 3); row 0 unused."""
    inside = cv2.erode((~lines).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    step = max(1, int(np.sqrt(cell.size / 1_500_000)))
    mask = inside[::step, ::step] & (cell[::step, ::step] > 0)
    names, values = cell[::step, ::step][mask], rgb[::step, ::step][mask]
    order = np.argsort(names, kind="stable")
    names, values = names[order], values[order]
    typical = np.full((count + 1, 3), 255.0)
    bounds = np.searchsorted(names, np.arange(1, count + 2))
    for name in range(1, count + 1):
        part = values[bounds[name - 1] : bounds[name]]
        if len(part):
            typical[name] = np.median(part, axis=0)
    return typical


def oklab(srgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return OKLab x 100 of sRGB 0..255 (Ottosson, "A perceptual color space", 2020)."""
    light = LINEAR_OF_LEVEL[np.clip(np.rint(srgb), 0, 255).astype(np.uint8)].astype(np.float64)
    cones = light @ np.array(
        [
            [0.4122214708, 0.2119034982, 0.0883024619],
            [0.5363325363, 0.6806995451, 0.2817188376],
            [0.0514459929, 0.1073969566, 0.6299787005],
        ]
    )
    mixed: NDArray[np.float64] = (
        100
        * np.cbrt(cones)
        @ np.array(
            [
                [0.2104542553, 1.9779984951, 0.0259040371],
                [0.7936177850, -2.4285922050, 0.7827717662],
                [-0.0040720468, 0.4505937099, -0.8086757660],
            ]
        )
    )
    return mixed


def grouped_colours(
    typical: NDArray[np.float64], areas: NDArray[np.int64]
) -> tuple[NDArray[np.int64], list[NDArray[np.float64]]]:
    """Return the drawn colour of each cell, and the colours, those of large cells first."""
    lab = oklab(typical)
    group = np.zeros(len(typical), np.int64)
    founders: list[int] = []
    for cell in np.argsort(-areas[1:], kind="stable") + 1:
        gaps = [float(np.linalg.norm(lab[cell] - lab[f])) for f in founders]
        if gaps and min(gaps) < _SAME_COLOUR:
            group[cell] = int(np.argmin(gaps))
        else:
            group[cell] = len(founders)
            founders.append(int(cell))
    return group, [typical[f] for f in founders]


def is_coloured_in(typical: NDArray[np.float64], areas: NDArray[np.int64]) -> bool:
    """Return whether cells were coloured in: some differ plainly from the lightest large one."""
    lab = oklab(typical[1:])
    if len(lab) < 2:
        return False
    large = areas[1:] > 0.02 * areas[1:].sum()
    paper = lab[np.argmax(np.where(large, lab[:, 0], -1))]
    differ = np.linalg.norm(lab - paper, axis=1) > _COLOURED
    return bool(areas[1:][differ].sum() > 0.03 * areas[1:].sum())
