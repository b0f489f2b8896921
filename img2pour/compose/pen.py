"""Draw outlines out of lines, arcs and cubic curves; what is curved otherwise becomes arcs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from img2pour.compose.beziers import arcs_from_cubics
from img2pour.plane.overlay import Outline
from img2pour.plane.regionmap import FloatArray

Point = tuple[float, float]

CURVE_TOLERANCE_MM = 0.005
"""Greatest distance between a drawn curve and the arcs that stand for it."""

CLOSED_MM = 1e-6
"""An outline whose ends are this close is closed."""

LINE_SAGITTA_MM = 1e-9
"""An arc flatter than this is a line."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """What a pen drew.

    Attributes
    ----------
    closed : tuple of (vertices, bulges)
        Closed outlines, the first vertex not repeated.
    open : tuple of (vertices, bulges)
        Outlines that do not end where they began; the last bulge is 0.
    """

    closed: tuple[Outline, ...]
    open: tuple[Outline, ...]


@dataclass
class _Run:
    """One outline: points at which its pieces end, and each piece's shape."""

    points: list[Point]
    bulges: list[float] = field(default_factory=list)
    cubics: list[tuple[Point, Point] | None] = field(default_factory=list)
    is_closed: bool = False


class Pen:
    """Draws outlines; `outlines` returns them as lines and arcs."""

    def __init__(self) -> None:
        self._runs: list[_Run] = []

    def move(self, point: Point) -> None:
        """Begin a new outline."""
        self._runs.append(_Run([point]))

    @property
    def first(self) -> Point | None:
        """Where the drawing begins, None where nothing is drawn."""
        return self._runs[0].points[0] if self._runs else None

    @property
    def at(self) -> Point:
        """Where the pen is."""
        run = self._runs[-1]
        return run.points[0] if run.is_closed else run.points[-1]

    def line(self, point: Point) -> None:
        """Draw a line."""
        self.arc(point, 0.0)

    def arc(self, point: Point, bulge: float) -> None:
        """Draw an arc of this bulge, in [-1, 1]."""
        run = self._run()
        run.points.append(point)
        run.bulges.append(bulge)
        run.cubics.append(None)

    def cubic(self, first: Point, second: Point, point: Point) -> None:
        """Draw a cubic curve with two control points."""
        run = self._run()
        run.points.append(point)
        run.bulges.append(0.0)
        run.cubics.append((first, second))

    def quadratic(self, control: Point, point: Point) -> None:
        """Draw a quadratic curve with one control point."""
        (x0, y0), (x1, y1), (x2, y2) = self.at, control, point
        self.cubic(
            (x0 + 2 * (x1 - x0) / 3, y0 + 2 * (y1 - y0) / 3),
            (x2 + 2 * (x1 - x2) / 3, y2 + 2 * (y1 - y2) / 3),
            point,
        )

    def close(self) -> None:
        """Close the outline, with a line where it does not end at its beginning."""
        if self._runs:
            self._runs[-1].is_closed = True

    def _run(self) -> _Run:
        if self._runs[-1].is_closed:
            self.move(self._runs[-1].points[0])
        return self._runs[-1]

    def outlines(self, tolerance: float = CURVE_TOLERANCE_MM) -> Drawn:
        """Return all outlines; curves become arcs within `tolerance`."""
        runs = [run for run in self._runs if len(run.points) > 1]
        curves = [
            [run.points[i], *controls, run.points[i + 1]]
            for run in runs
            for i, controls in enumerate(run.cubics)
            if controls is not None
        ]
        arcs = _arcs_of_each(curves, tolerance)
        closed, open_ = [], []
        for run in runs:
            vertices, bulges = _vertices(run, arcs)
            near = np.hypot(*(vertices[0] - vertices[-1])) <= CLOSED_MM
            if near:
                vertices, bulges = vertices[:-1], bulges[:-1]
            if not (near or run.is_closed):
                open_.append((vertices, bulges))
            elif len(vertices) > 2 or (len(vertices) == 2 and bulges.any()):
                closed.append(without_doubles(vertices, bulges))
        return Drawn(tuple(closed), tuple(open_))


def _arcs_of_each(
    curves: Sequence[Sequence[Point]], tolerance: float
) -> list[tuple[FloatArray, FloatArray]]:
    """Return the arcs of every curve, last curve first so that they can be taken off the end."""
    if not curves:
        return []
    starts, bulges, owner = arcs_from_cubics(np.array(curves, dtype=np.float64), tolerance)
    bounds = np.searchsorted(owner, np.arange(len(curves) + 1))
    return [
        (starts[bounds[i] : bounds[i + 1]], bulges[bounds[i] : bounds[i + 1]])
        for i in reversed(range(len(curves)))
    ]


def _vertices(run: _Run, arcs: list[tuple[FloatArray, FloatArray]]) -> Outline:
    """Return all vertices of an outline, the last point too, and the bulges after them."""
    points: list[FloatArray] = []
    bulges: list[FloatArray] = []
    for i, controls in enumerate(run.cubics):
        if controls is None:
            points.append(np.array([run.points[i]], dtype=np.float64))
            bulges.append(np.array([run.bulges[i]]))
        else:
            starts, bends = arcs.pop()
            points.append(starts)
            bulges.append(bends)
    points.append(np.array([run.points[-1]], dtype=np.float64))
    bulges.append(np.zeros(1))
    return np.concatenate(points), np.concatenate(bulges)


def without_doubles(vertices: FloatArray, bulges: FloatArray) -> Outline:
    """Return a closed outline without pieces of no length, and with flat arcs as lines."""
    length = np.hypot(*(np.roll(vertices, -1, axis=0) - vertices).T)
    kept = length > CLOSED_MM
    bulges = np.where(np.abs(bulges) * length / 2 < LINE_SAGITTA_MM, 0.0, bulges)
    return vertices[kept], bulges[kept]
