"""Chains of lines, arcs and curves, and how loose ones join up to closed outlines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from img2pour.compose.pen import CLOSED_MM, Pen, Point
from img2pour.plane.regionmap import IntArray

JOINED = 1e-4
"""Ends this close, in the drawing's units, were meant to be one point."""


@dataclass
class Chain:
    """Pieces one after the other; each is an arc of a bulge, or a cubic curve.

    Attributes
    ----------
    points : list of (x, y)
        One more than pieces.
    pieces : list of float or ((x, y), (x, y))
        A bulge, or two control points.
    """

    points: list[Point]
    pieces: list[float | tuple[Point, Point]] = field(default_factory=list)

    @property
    def is_closed(self) -> bool:
        """True where it ends where it began."""
        return len(self.pieces) > 1 and math.dist(self.points[0], self.points[-1]) <= CLOSED_MM

    def add_arc(self, point: Point, bulge: float) -> None:
        """Add a piece; one that turns by more than half a circle is cut in two."""
        if abs(bulge) > 1:
            self._add_wide(point, bulge)
        else:
            self.points.append(point)
            self.pieces.append(bulge)

    def _add_wide(self, point: Point, bulge: float) -> None:
        (x0, y0), (x1, y1) = self.points[-1], point
        # The middle of an arc lies bulge times half the chord to the right of the chord.
        middle = ((x0 + x1 + bulge * (y1 - y0)) / 2, (y0 + y1 - bulge * (x1 - x0)) / 2)
        half = math.tan(math.atan(bulge) / 2)
        for end in (middle, point):
            self.points.append(end)
            self.pieces.append(half)

    def add_cubic(self, first: Point, second: Point, point: Point) -> None:
        """Add a cubic curve."""
        self.points.append(point)
        self.pieces.append((first, second))

    def all_points(self) -> list[float]:
        """Return every number of the chain."""
        numbers = [value for point in self.points for value in point]
        for piece in self.pieces:
            numbers += [v for p in piece for v in p] if isinstance(piece, tuple) else [piece]
        return numbers

    def backwards(self) -> Chain:
        """Return the chain walked the other way."""
        pieces: list[float | tuple[Point, Point]] = [
            (piece[1], piece[0]) if isinstance(piece, tuple) else -piece
            for piece in reversed(self.pieces)
        ]
        return Chain(self.points[::-1], pieces)

    def draw(self, pen: Pen) -> None:
        """Draw it as a closed outline."""
        pen.move(self.points[0])
        for point, piece in zip(self.points[1:], self.pieces, strict=True):
            if isinstance(piece, tuple):
                pen.cubic(*piece, point)
            else:
                pen.arc(point, piece)
        pen.close()


def join_up(loose: Sequence[Chain]) -> tuple[list[Chain], list[tuple[Chain, bool]]]:
    """Join chains whose ends meet.

    Parameters
    ----------
    loose : sequence of Chain

    Returns
    -------
    closed : list of Chain
    left : list of (Chain, bool)
        Those that do not close, and whether more than two ends meet where they stop.
    """
    if not loose:
        return [], []
    ends = _one_place_each(loose)
    at: dict[int, list[int]] = {}
    for half, place in enumerate(ends.tolist()):
        at.setdefault(place, []).append(half)
    used = [False] * len(loose)
    closed: list[Chain] = []
    left: list[tuple[Chain, bool]] = []
    # Those that begin at a free end or a branch first, so that no chain is broken in its middle.
    starts = sorted(range(2 * len(loose)), key=lambda half: (len(at[int(ends[half])]) == 2, half))
    for start in starts:
        if used[start >> 1]:
            continue
        chain, stop = _walk(loose, ends, at, used, start)
        if stop == ends[start] and len(at[int(stop)]) == 2:
            chain.points[-1] = chain.points[0]
            closed.append(chain)
        else:
            left.append((chain, max(len(at[int(stop)]), len(at[int(ends[start])])) > 2))
    return closed, left


def _walk(
    loose: Sequence[Chain],
    ends: IntArray,
    at: dict[int, list[int]],
    used: list[bool],
    start: int,
) -> tuple[Chain, int]:
    """Follow chains from one end on, until they close or do not go on."""
    made = Chain([loose[start >> 1].points[-1 if start & 1 else 0]])
    half = start
    while True:
        used[half >> 1] = True
        one = loose[half >> 1].backwards() if half & 1 else loose[half >> 1]
        made.points += one.points[1:]
        made.pieces += one.pieces
        stop = int(ends[half ^ 1])
        onwards = [other for other in at[stop] if not used[other >> 1]]
        if len(at[stop]) != 2 or not onwards:
            return made, stop
        half = onwards[0]


def _one_place_each(loose: Sequence[Chain]) -> IntArray:
    """Return a number for the place of each end; half 2k is the start of chain k."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    points = np.array([point for chain in loose for point in (chain.points[0], chain.points[-1])])
    pairs = cKDTree(points).query_pairs(JOINED, output_type="ndarray")
    graph = coo_array(
        (np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), (len(points), len(points))
    )
    return connected_components(graph, directed=False)[1].astype(np.int64)
