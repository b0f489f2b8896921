"""Independent readers of drawings, for tests: DXF through GDAL, group codes, even-odd areas."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import numpy as np
import pyogrio
import shapely

ARC_STEP_DEG = 0.01
"""Step at which GDAL cuts arcs into chords; at 4 degrees, its own, a circle loses 0.08 %.

Shallow arcs of large radius are few chords even at 0.25 degrees and lose a sixteenth of their
segment there.
"""


def rings_by_layer(path: Path) -> dict[str, list[np.ndarray]]:
    """Return the closed lines of a DXF file by layer, as GDAL reads them."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": ARC_STEP_DEG})
    try:
        meta, _, geometry, fields = pyogrio.raw.read(path, columns=["Layer"])
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    assert list(meta["fields"]) == ["Layer"]
    found: dict[str, list[np.ndarray]] = defaultdict(list)
    for layer, shape in zip(fields[0], shapely.from_wkb(geometry), strict=True):
        points = shapely.get_coordinates(shape)
        if (points[0] == points[-1]).all():
            found[layer].append(points)
    return found


def even_odd_area(rings: list[np.ndarray]) -> float:
    """Return the area inside an odd number of the rings, which may not cross."""
    polygons = [shapely.Polygon(ring) for ring in rings]
    inside = [polygon.representative_point() for polygon in polygons]
    total = 0.0
    for index, polygon in enumerate(polygons):
        others = [p for i, p in enumerate(polygons) if i != index and p.area > polygon.area]
        depth = sum(bool(shapely.contains_properly(p, inside[index])) for p in others)
        total += polygon.area * (-1 if depth % 2 else 1)
    return total


def signed_area(ring: np.ndarray) -> float:
    """Return the shoelace area of a closed ring, positive when it turns anticlockwise."""
    x, y = ring[:-1].T
    ahead_x, ahead_y = ring[1:].T
    return float((x * ahead_y - ahead_x * y).sum() / 2)


def group_codes(data: bytes) -> list[tuple[int, str]]:
    """Return the (group code, value) pairs of a DXF file."""
    lines = data.decode("ascii").split("\n")
    assert lines.pop() == ""
    return [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def header_variables(pairs: list[tuple[int, str]]) -> dict[str, list[str]]:
    """Return the header's variables and their values."""
    end = pairs.index((0, "ENDSEC"))
    variables: dict[str, list[str]] = {}
    for code, value in pairs[2:end]:
        if code == 9:
            variables[value] = []
        else:
            list(variables.values())[-1].append(value)
    return variables


def records(pairs: list[tuple[int, str]], kind: str) -> list[list[tuple[int, str]]]:
    """Return the tags of all records of a kind, up to the next record."""
    found = []
    for index, pair in enumerate(pairs):
        if pair == (0, kind):
            stop = next(i for i in range(index + 1, len(pairs)) if pairs[i][0] == 0)
            found.append(pairs[index + 1 : stop])
    return found
