"""Flat drawings on a sheet of paper, in millimetres, for the made photos.

Shapes are polygons in millimetres (x right, y down, the sheet's upper-left corner is the origin),
painted in order; what they leave bare is paper.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, affinity, box, unary_union
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

SHEETS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a5": (148.0, 210.0)}

# Inks as they look under the light that makes the paper pure white (sRGB).
INKS = {
    "navy": (24, 48, 96),
    "red": (196, 40, 44),
    "green": (44, 128, 72),
    "orange": (236, 140, 40),
    "sky": (110, 170, 214),
    "cream": (250, 232, 178),
    "blush": (246, 204, 204),
    "mist": (206, 216, 224),
    "black": (34, 34, 36),
    "plum": (112, 50, 110),
}


@dataclass(frozen=True, eq=False)
class Drawing:
    """Colour 0 is the paper; `shapes` are disjoint and lie inside the sheet."""

    sheet: str
    size_mm: tuple[float, float]
    colours: tuple[tuple[int, int, int], ...]
    shapes: tuple[tuple[int, BaseGeometry], ...]

    def label_image(self, px_per_mm: float) -> np.ndarray:
        """Return the colour index of each raster pixel, sampled at its centre (H, W) uint8."""
        width, height = (round(side * px_per_mm) for side in self.size_mm)
        labels = np.zeros((height, width), np.uint8)
        for colour, geometry in self.shapes:
            labels[_inside(geometry, px_per_mm, (height, width))] = colour
        return labels


def _inside(geometry: BaseGeometry, px_per_mm: float, shape: tuple[int, int]) -> np.ndarray:
    """Return which pixel centres lie inside: an odd number of outlines is crossed on their left."""
    crossings = np.zeros((shape[0], shape[1] + 1), np.uint8)
    rings = shapely.get_rings(np.array(_polygons(geometry), object))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    points = points * px_per_mm - 0.5
    same = ring[1:] == ring[:-1]
    start, end = points[:-1][same], points[1:][same]
    first = np.ceil(np.minimum(start[:, 1], end[:, 1])).astype(int)
    count = np.ceil(np.maximum(start[:, 1], end[:, 1])).astype(int) - first
    edge = np.repeat(np.arange(len(first)), count)
    row = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    rise = end[edge] - start[edge]
    x = start[edge, 0] + (row - start[edge, 1]) * rise[:, 0] / rise[:, 1]
    np.add.at(crossings, (row, np.clip(np.ceil(x).astype(int), 0, shape[1])), 1)
    return np.bitwise_and(np.bitwise_xor.accumulate(crossings & 1, axis=1)[:, :-1], 1) > 0


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    if isinstance(geometry, Polygon):
        return [geometry]
    return [part for part in getattr(geometry, "geoms", []) if isinstance(part, Polygon)]


def _star(x: float, y: float, radius: float, turn: float) -> Polygon:
    angles = turn + np.arange(10) * np.pi / 5
    reach = np.where(np.arange(10) % 2, 0.45, 1.0) * radius
    return Polygon(np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)]))


def _blob(x: float, y: float, radius: float, rng: np.random.Generator) -> Polygon:
    angles = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    reach = np.full(angles.shape, radius)
    for wave in (2, 3, 5):
        reach += radius * rng.uniform(0.03, 0.1) * np.cos(wave * angles + rng.uniform(0, 6))
    return Polygon(np.column_stack([x + reach * np.cos(angles), y + reach * np.sin(angles)]))


def _one_shape(kind: int, x: float, y: float, radius: float, rng: np.random.Generator) -> Polygon:
    if kind == 0:
        return Point(x, y).buffer(radius, 64)
    if kind == 1:
        square = box(x - radius * 0.8, y - radius * 0.7, x + radius * 0.8, y + radius * 0.7)
        return affinity.rotate(square, rng.uniform(-45, 45))
    if kind == 2:
        return _star(x, y, radius, rng.uniform(0, 6))
    if kind == 3:
        return Point(x, y).buffer(radius, 64).difference(Point(x, y).buffer(radius * 0.55, 64))
    return _blob(x, y, radius * 0.9, rng)


def flat_drawing(seed: int, sheet: str = "a4", ink_count: int = 4) -> Drawing:
    """Return a drawing of large and small shapes in `ink_count` inks, with bands and strokes."""
    rng = np.random.default_rng(seed)
    size = SHEETS_MM[sheet]
    if rng.random() < 0.5:
        size = size[::-1]
    names = list(rng.permutation(list(INKS))[:ink_count])
    colours = ((255, 255, 255), *(INKS[name] for name in names))
    margin, drawn = 12.0, []
    room = box(margin, margin, size[0] - margin, size[1] - margin)
    if rng.random() < 0.6:
        level = size[1] * rng.uniform(0.55, 0.75)
        drawn.append((1, box(margin, level, size[0] - margin, size[1] - margin)))
    for step in range(int(rng.integers(6, 12))):
        radius = rng.uniform(5, 38)
        x = rng.uniform(margin + radius, size[0] - margin - radius)
        y = rng.uniform(margin + radius, size[1] - margin - radius)
        colour = 1 + step % ink_count
        drawn.append((colour, _one_shape(int(rng.integers(5)), x, y, radius, rng)))
    for step in range(3):
        ends = rng.uniform([margin + 5] * 2, [size[0] - margin - 5, size[1] - margin - 5], (2, 2))
        stroke = LineString(ends).buffer(rng.uniform(0.6, 1.5))
        drawn.append((1 + step % ink_count, stroke))
    return Drawing(sheet, size, colours, _disjoint(drawn, room))


def _disjoint(
    drawn: list[tuple[int, BaseGeometry]], room: BaseGeometry
) -> tuple[tuple[int, BaseGeometry], ...]:
    """Cut from each shape what later shapes cover; join what is left colour by colour."""
    parts: dict[int, list[BaseGeometry]] = {}
    covered: BaseGeometry = Polygon()
    for colour, shape in reversed(drawn):
        seen = shape.intersection(room).difference(covered)
        covered = covered.union(shape)
        if seen.area > 0:
            parts.setdefault(colour, []).append(seen)
    return tuple((colour, unary_union(parts[colour])) for colour in sorted(parts))
