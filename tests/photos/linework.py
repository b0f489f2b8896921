"""Line drawings with truth: closed and crossing curves, gaps, hatching and smudges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon, box, unary_union
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import polygonize

from tests.photos.drawings import SHEETS_MM, Drawing

PENS = {
    "pencil": ((132, 130, 128), 0.6),
    "pen": ((40, 40, 48), 0.7),
    "marker": ((40, 70, 150), 1.8),
}


@dataclass(frozen=True, eq=False)
class LineArt:
    """A drawing, the cells its lines enclose (polygons to the lines' middles), and its lines."""

    drawing: Drawing
    cells: tuple[Polygon, ...]
    middles: BaseGeometry
    width_mm: float


def _wave(y: float, width: float, rng: np.random.Generator) -> LineString:
    x = np.linspace(0, width, 80)
    height = y + rng.uniform(4, 12) * np.sin(x / width * rng.uniform(3, 9) + rng.uniform(0, 6))
    return LineString(np.column_stack([x, height]))


def _closed_curve(x: float, y: float, radius: float, rng: np.random.Generator) -> LineString:
    angles = np.linspace(0, 2 * np.pi, 90)
    reach = radius * (1 + 0.12 * np.cos(int(rng.integers(2, 5)) * angles + rng.uniform(0, 6)))
    points = np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)])
    points[-1] = points[0]
    return LineString(points)


def line_drawing(
    seed: int, pen: str = "pen", *, gaps: int = 6, gap_mm: float = 2.0, hatching: bool = True
) -> LineArt:
    """Return a framed drawing of waves and closed curves, with gaps away from the crossings."""
    rng = np.random.default_rng(seed)
    size = SHEETS_MM["a4"][::-1]
    left, top, right, bottom = 20.0, 20.0, size[0] - 20, size[1] - 20
    frame = box(left, top, right, bottom)
    curves: list[BaseGeometry] = [frame.exterior]
    for share in (0.35, 0.68):
        wave = _wave(top + share * (bottom - top), size[0], rng)
        curves.append(wave)
    for _ in range(5):
        radius = rng.uniform(12, 30)
        centre = rng.uniform([left + 34, top + 34], [right - 34, bottom - 34])
        curves.append(_closed_curve(centre[0], centre[1], radius, rng))
    noded = unary_union(curves)
    cells = list(polygonize(noded))
    # The waves run out over the frame, so that they surely meet it; what is outside is not drawn.
    inside = frame.buffer(1e-6)
    middles = unary_union([line for line in noded.geoms if inside.covers(line)])
    colour, width = PENS[pen]
    broken = _with_gaps(middles, gaps, gap_mm, width, rng)
    strokes = broken.buffer(width / 2, quad_segs=8)
    shapes: list[tuple[int, BaseGeometry]] = [(1, strokes)]
    if hatching:
        hatch = _hatching(max(cells, key=lambda c: c.area), width, rng).difference(strokes)
        shapes.append((2, hatch))
    lighter = tuple(int(255 - 0.75 * (255 - c)) for c in colour)
    drawing = Drawing("a4", size, ((255, 255, 255), colour, lighter), tuple(shapes))
    return LineArt(drawing, tuple(cells), middles, width)


def smallest_cell_is_wide(art: LineArt, least_mm: float = 6.0) -> bool:
    """Return whether each cell holds a disc of this width and no strokes touch across it."""
    for cell in art.cells:
        inner = cell.buffer(-art.width_mm / 2 - 0.6)
        if cell.buffer(-least_mm / 2).is_empty or len(getattr(inner, "geoms", [inner])) > 1:
            return False
    return True


def _with_gaps(
    middles: BaseGeometry, count: int, gap_mm: float, width: float, rng: np.random.Generator
) -> BaseGeometry:
    """Cut gaps that are `gap_mm` wide between the round ends of the strokes."""
    crossings = [Point(line.coords[i]) for line in middles.geoms for i in (0, -1)]
    lines, cut = list(middles.geoms), middles
    made = 0
    for _ in range(count * 20):
        line = lines[int(rng.integers(len(lines)))]
        spot = line.interpolate(rng.uniform(0.1, 0.9), normalized=True)
        if min(spot.distance(c) for c in crossings) < 4 * gap_mm:
            continue
        cut = cut.difference(spot.buffer((gap_mm + width) / 2))
        crossings.append(spot)
        made += 1
        if made == count:
            break
    return cut


def _hatching(cell: Polygon, width: float, rng: np.random.Generator) -> BaseGeometry:
    """Return parallel strokes inside a cell that stop short of its outline."""
    room = cell.buffer(-3.5)
    x0, y0, x1, y1 = room.bounds
    x1 = x0 + 0.35 * (x1 - x0)
    strokes = []
    for offset in np.arange(y0 - (x1 - x0), y1, 2.4):
        strokes.append(LineString([(x0, offset), (x1, offset + (x1 - x0))]))
    marks = unary_union(strokes).intersection(room)
    return marks.buffer(max(0.2, 0.3 * width))
