"""Several times the same: grids, rings, and rows into which pieces of different size are nested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from img2pour.errors import SettingsError
from img2pour.plane.placement import Placement

MOST_COPIES = 1000


def grid(columns: int, rows: int, step_mm: tuple[float, float]) -> tuple[Placement, ...]:
    """Return the placements of a grid of copies about the origin, row by row from the lower left.

    Parameters
    ----------
    columns, rows : int
    step_mm : (across, up)
        From one copy to the next.

    Raises
    ------
    SettingsError
        When there are none, or far too many.
    """
    _need_count(columns * rows if min(columns, rows) > 0 else 0)
    across, up = step_mm
    return tuple(
        _shift((i - (columns - 1) / 2) * across, (j - (rows - 1) / 2) * up)
        for j in range(rows)
        for i in range(columns)
    )


def ring(count: int, radius_mm: float, *, turned: bool = True) -> tuple[Placement, ...]:
    """Return the placements of copies on a circle about the origin, the first at the top.

    Parameters
    ----------
    count : int
    radius_mm : float
        Of the circle on which the copies' own origins lie.
    turned : bool
        True: each copy is turned with its place, its top outwards.
    """
    _need_count(count)
    made = []
    for k in range(count):
        angle = -2 * np.pi * k / count
        x, y = -radius_mm * np.sin(angle), radius_mm * np.cos(angle)
        cosine, sine = (np.cos(angle), np.sin(angle)) if turned else (1.0, 0.0)
        made.append(Placement(np.array([[cosine, -sine, x], [sine, cosine, y], [0, 0, 1.0]])))
    return tuple(made)


@dataclass(frozen=True)
class Nested:
    """Pieces in rows.

    Attributes
    ----------
    corners_mm : tuple of (x, y)
        Lower-left corner of every piece, in the order given.
    used_mm : (width, height)
        What the rows take up, gaps between them but no margin.
    """

    corners_mm: tuple[tuple[float, float], ...]
    used_mm: tuple[float, float]


def nest(
    sizes_mm: Sequence[tuple[float, float]],
    board_mm: tuple[float, float],
    *,
    gap_mm: float,
    margin_mm: float = 0.0,
) -> Nested:
    """Return places for pieces in rows: the highest first, each row filled from the left.

    Parameters
    ----------
    sizes_mm : sequence of (width, height)
    board_mm : (width, height)
        The blank that must hold them.
    gap_mm : float
        Left free between pieces: the cutter's width and some more.
    margin_mm : float
        Left free along the edge of the blank.

    Raises
    ------
    SettingsError
        When they do not fit; it says how large the blank would have to be.
    """
    _need_count(len(sizes_mm))
    room = board_mm[0] - 2 * margin_mm
    widest = max(width for width, _ in sizes_mm)
    if widest > room + 1e-9:
        raise SettingsError(
            f"a piece {widest:.4g} mm wide does not fit a blank {board_mm[0]:.4g} mm wide with "
            f"{margin_mm:.4g} mm free on both sides; take a wider blank",
            name="board",
            value=board_mm[0],
        )
    corners: list[tuple[float, float]] = [(0.0, 0.0)] * len(sizes_mm)
    x, y, row, far = 0.0, 0.0, 0.0, 0.0
    for i in sorted(range(len(sizes_mm)), key=lambda i: (-sizes_mm[i][1], -sizes_mm[i][0], i)):
        width, height = sizes_mm[i]
        if x > 0 and x + width > room + 1e-9:
            x, y, row = 0.0, y + row + gap_mm, 0.0
        corners[i] = (margin_mm + x, margin_mm + y)
        row = max(row, height)
        far = max(far, x + width)
        x += width + gap_mm
    if y + row + 2 * margin_mm > board_mm[1] + 1e-9:
        raise SettingsError(
            f"{len(sizes_mm)} pieces need a blank {y + row + 2 * margin_mm:.4g} mm high, and it "
            f"is {board_mm[1]:.4g} mm; take a larger one, or fewer pieces",
            name="board",
            value=board_mm[1],
        )
    return Nested(tuple(corners), (far, y + row))


def _shift(x: float, y: float) -> Placement:
    return Placement(np.array([[1.0, 0, x], [0, 1.0, y], [0, 0, 1.0]]))


def _need_count(count: int) -> None:
    if not 1 <= count <= MOST_COPIES:
        raise SettingsError(
            f"{count} copies cannot be laid out; give 1 to {MOST_COPIES}", name="count", value=count
        )
