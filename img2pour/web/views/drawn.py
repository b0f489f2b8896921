"""Shapes as the data of SVG paths: board millimetres, y down, the upper left corner the origin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from img2pour.write.chords import polygons_in
from img2pour.write.outlines import face_outlines
from img2pour.write.svg import path_data

if TYPE_CHECKING:
    from img2pour.plane.regionmap import RegionMap

SEEN_MM = 0.02
"""Chords that fine look like the arcs they stand for, well beyond the page's zoom."""


def faces(region_map: RegionMap, height: float) -> list[dict[str, Any]]:
    """Return every region that has a colour, arcs as arcs."""
    rings: dict[tuple[int, int], list[str]] = {}
    for ring in face_outlines(region_map):
        data = path_data(ring.outline, height)
        rings.setdefault((ring.face, ring.colour), []).append(data)
    return [
        {"id": face, "colour": colour, "d": "".join(parts)}
        for (face, colour), parts in sorted(rings.items())
    ]


def shape(geometry: shapely.Geometry, height_mm: float, seen_mm: float = SEEN_MM) -> str:
    """Return a polygon, or several, as one path of chords."""
    parts = []
    for polygon in polygons_in(shapely.simplify(geometry, seen_mm)):
        for ring in (polygon.exterior, *polygon.interiors):
            parts.append(_ring(shapely.get_coordinates(ring)[:-1], height_mm))
    return "".join(parts)


def _ring(points: np.ndarray, height_mm: float) -> str:
    turned = np.round(np.column_stack([points[:, 0], height_mm - points[:, 1]]), 3) + 0.0
    return "M" + "L".join(f"{x:.7g} {y:.7g}" for x, y in turned.tolist()) + "Z"


def point(at_mm: Sequence[float], height_mm: float) -> list[float]:
    """Return a point of the board as it is drawn."""
    return [round(at_mm[0], 3), round(height_mm - at_mm[1], 3)]
