"""Removed islands that look like lettering: worth a warning of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.carve.limit import RemovedIsland
from img2pour.units import Shown, format_length

# Typographic habit, no source: letters of one line are alike in height and closer than two of it.
LEAST_LETTERS = 4
GREATEST_HEIGHT_RATIO = 2.5
GREATEST_GAP_IN_HEIGHTS = 2.0
GREATEST_SHIFT_IN_HEIGHTS = 0.8


@dataclass(frozen=True)
class LostLine:
    """A line of removed islands that reads like lettering.

    Attributes
    ----------
    colour : int
    letters : int
        Number of islands.
    height_mm : float
        Height of the tallest.
    bounds_mm : tuple of float
        Box of the line: x0, y0, x1, y1.
    """

    colour: int
    letters: int
    height_mm: float
    bounds_mm: tuple[float, float, float, float]


def lost_lettering(removed: Sequence[RemovedIsland]) -> tuple[LostLine, ...]:
    """Return the lines of four or more removed islands of one colour that stand side by side.

    Returns
    -------
    tuple of LostLine
        By colour, then from left to right.
    """
    lines: list[LostLine] = []
    for colour in sorted({island.colour for island in removed}):
        boxes = np.array([i.bounds_mm for i in removed if i.colour == colour])
        for line in _lines(boxes[np.lexsort((boxes[:, 1], boxes[:, 0]))]):
            if len(line) >= LEAST_LETTERS:
                lines.append(_describe(colour, line))
    return tuple(lines)


def lettering_warnings(
    removed: Sequence[RemovedIsland], names: Sequence[str], units: Shown
) -> list[str]:
    """Return one line for each colour of which lettering is lost, whatever lines it stands in.

    Parameters
    ----------
    removed : sequence of RemovedIsland
    names : sequence of str
        Of the colours, by their numbers.
    units : Shown
        How lengths are shown.
    """
    said = []
    lines = lost_lettering(removed)
    for colour in dict.fromkeys(line.colour for line in lines):
        own = [line for line in lines if line.colour == colour]
        highest = format_length(max(line.height_mm for line in own), units)
        said.append(
            f"lettering is lost: {sum(line.letters for line in own)} letters of {names[colour]}, "
            f"up to {highest} high, are too fine for the bits; take a finer bit, a larger board, "
            "or keep them with --small keep"
        )
    return said


def _lines(boxes: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Chain the boxes, sorted from left to right, each to the line whose last letter suits it."""
    lines: list[list[NDArray[np.float64]]] = []
    for box in boxes:
        suited = [line for line in lines if _follows(line[-1], box)]
        if suited:
            min(suited, key=lambda line: abs(_middle(line[-1]) - _middle(box))).append(box)
        else:
            lines.append([box])
    return [np.array(line) for line in lines]


def _middle(box: NDArray[np.float64]) -> float:
    return float(box[1] + box[3]) / 2.0


def _follows(last: NDArray[np.float64], box: NDArray[np.float64]) -> bool:
    """Return whether a box can be the next letter of a line."""
    heights = sorted((float(last[3] - last[1]), float(box[3] - box[1])))
    return bool(
        heights[1] <= GREATEST_HEIGHT_RATIO * heights[0]
        and box[0] - last[2] <= GREATEST_GAP_IN_HEIGHTS * heights[1]
        and abs(_middle(last) - _middle(box)) <= GREATEST_SHIFT_IN_HEIGHTS * heights[1]
    )


def _describe(colour: int, line: NDArray[np.float64]) -> LostLine:
    low, high = line[:, :2].min(axis=0), line[:, 2:].max(axis=0)
    return LostLine(
        colour=colour,
        letters=len(line),
        height_mm=float((line[:, 3] - line[:, 1]).max()),
        bounds_mm=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
    )
