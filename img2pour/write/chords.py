"""Outlines of shapely geometry: chords joined again into the arcs and lines they came from.

Offsets and overlays hand back arcs as many short chords. Each ring is covered, from its sharpest
corner on, by the longest arcs and lines that stay within a tolerance of it, vertices and the
middles of chords alike; every end is a vertex of the ring.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from img2pour.plane.regionmap import FloatArray
from img2pour.write.outlines import LEAST_PIECE_MM, Outline

TOLERANCE_MM = 0.01
"""A tenth of what a small machine repeats; common practice, no source."""

LINE_SHARE = 0.1
"""Share of the tolerance that lines may use.

The first vertex of an arc cut into chords lies four sagittas off the line that leads into it: a
line must not take it along, or the arc begins late.
"""

CORNER_RAD = np.radians(20.0)
"""Chords of arcs turn less than this where they meet."""

LEAST_CHORDS = 3
"""Fewer chords than this are not taken for an arc: any three points lie on a circle."""


def shape_outlines(shape: shapely.Geometry, tolerance_mm: float = TOLERANCE_MM) -> list[Outline]:
    """Return the outlines of a polygon, a multipolygon or a collection of them.

    Parameters
    ----------
    shape : shapely geometry
        Parts without area are left out.
    tolerance_mm : float
        Greatest distance between the ring and what is written for it.

    Returns
    -------
    list of Outline
        Outer rings anticlockwise, holes clockwise; no piece shorter than `LEAST_PIECE_MM`, no
        bulge above 1.
    """
    outlines = []
    for part in polygons_in(shape):
        oriented = shapely.orient_polygons(part)
        for ring in [oriented.exterior, *oriented.interiors]:
            points = _spaced(shapely.get_coordinates(ring)[:-1])
            if len(points) >= 3:
                outlines.append(ring_of_arcs(points, tolerance_mm))
    return outlines


def polygons_in(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """Return the polygons in a shape, in collections of any depth."""
    if isinstance(shape, shapely.Polygon):
        return [] if shape.is_empty else [shape]
    return [polygon for part in getattr(shape, "geoms", ()) for polygon in polygons_in(part)]


def _spaced(points: FloatArray) -> FloatArray:
    """Return the closed ring without vertices within the least piece of the one before."""
    kept = [0]
    for index in range(1, len(points)):
        if np.hypot(*(points[index] - points[kept[-1]])) >= LEAST_PIECE_MM:
            kept.append(index)
    while len(kept) > 1 and np.hypot(*(points[kept[-1]] - points[0])) < LEAST_PIECE_MM:
        kept.pop()
    return points[kept]


def ring_of_arcs(points: FloatArray, tolerance: float) -> Outline:
    """Return the outline of a closed ring (n, 2) as few arcs and lines within `tolerance`."""
    ring = np.roll(points, -_first_vertex(points), axis=0)
    chain = np.vstack([ring, ring[:1]])
    vertices, bulges = [], []
    at, end = 0, len(chain) - 1
    while at < end:
        line = _longest(chain, at, lambda run: _line_fits(run, tolerance * LINE_SHARE))
        arc = _longest(chain, at, lambda run: _arc_bulge(run, tolerance) is not None)
        bulge = _arc_bulge(chain[at : arc + 1], tolerance) if arc - at >= LEAST_CHORDS else None
        vertices.append(chain[at])
        if bulge is not None and arc > line:
            bulges.append(bulge)
            at = arc
        else:
            bulges.append(0.0)
            at = line
    return Outline(np.array(vertices), np.array(bulges))


def _first_vertex(points: FloatArray) -> int:
    """Return the sharpest corner, or without any the end of the longest chord."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turns = np.abs(np.arctan2(cross, (before * after).sum(axis=1)))
    if turns.max() > CORNER_RAD:
        return int(np.argmax(np.round(turns, 6)))
    return int(np.argmax(np.round(np.hypot(*before.T), 6)))


def _longest(chain: FloatArray, at: int, fits: Callable[[FloatArray], bool]) -> int:
    """Return the last vertex of the longest run from `at` that fits; one chord always does.

    Runs grow by doubling and are then halved in on; a run of two thirds of the ring or more
    would close on itself.
    """
    most = len(chain) - 1 - (0 if at else 1)
    good, step = at + 1, 2
    while good < most:
        ahead = min(at + step, most)
        if not fits(chain[at : ahead + 1]):
            break
        good, step = ahead, step * 2
    bad = min(at + step, most + 1) if good < most else most + 1
    while bad - good > 1:
        middle = (good + bad) // 2
        if fits(chain[at : middle + 1]):
            good = middle
        else:
            bad = middle
    return good


def _line_fits(run: FloatArray, tolerance: float) -> bool:
    """Tell whether all vertices lie within tolerance of the chord, one after the other."""
    start, way = run[0], run[-1] - run[0]
    length = float(np.hypot(*way))
    if length < LEAST_PIECE_MM:
        return False
    along = (run - start) @ way / length
    away = np.abs((run[:, 0] - start[0]) * way[1] - (run[:, 1] - start[1]) * way[0]) / length
    return bool(away.max() <= tolerance and (np.diff(along) > 0).all())


def _arc_bulge(run: FloatArray, tolerance: float) -> float | None:
    """Return the bulge of the arc through the run's ends and its middle, None if it is none.

    With the start at the origin, the chord c and the third point m, the circle's centre lies at
    the chord's middle plus a normal times ((m . m - m . c) / (2 m . n)) (plane geometry).
    """
    start, end, middle = run[0], run[-1], run[len(run) // 2]
    chord = end - start
    normal = np.array([-chord[1], chord[0]])
    height = float((middle - start) @ normal)
    length = float(np.hypot(*chord))
    if length < LEAST_PIECE_MM or abs(height) < 1e-9 * length * length:
        return None
    share = float((middle - start) @ (middle - end)) / (2 * height)
    centre = (start + end) / 2 + share * normal
    radius = float(np.hypot(*(start - centre)))
    middles = (run[1:] + run[:-1]) / 2
    probes = np.concatenate([run, middles])
    away = np.abs(np.hypot(*(probes - centre).T) - radius)
    if away.max() > tolerance:
        return None
    angles = np.arctan2(*(run - centre).T[::-1])
    turns = (np.diff(angles) + np.pi) % (2 * np.pi) - np.pi
    whole = float(turns.sum())
    if not (np.sign(turns) == np.sign(whole)).all() or abs(whole) > np.pi + 1e-9:
        return None
    return float(np.clip(np.tan(whole / 4), -1.0, 1.0))
