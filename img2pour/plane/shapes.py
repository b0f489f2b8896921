"""Shapely views of a region map, with arcs as chords of a stated sagitta."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.regionmap import (
    NO_FACE,
    FloatArray,
    IntArray,
    RegionMap,
    Rings,
    ring_areas,
    rings,
)


def chords(vertices: FloatArray, bulges: FloatArray, sagitta: float) -> tuple[FloatArray, IntArray]:
    """Return points along an open chain of pieces, arcs cut into chords.

    Parameters
    ----------
    vertices : (n, 2) float64
    bulges : (n,) float64
        The last one is not used.
    sagitta : float
        Greatest distance between a chord and its arc; above 0.

    Returns
    -------
    points : (m, 2) float64
    origin : (n,) int64
        Where each vertex stands among the points.
    """
    counts = _chord_counts(vertices, bulges, sagitta)
    origin = np.concatenate([[0], np.cumsum(counts)])
    piece = np.repeat(np.arange(len(counts)), counts)
    share = (np.arange(len(piece)) - origin[piece]) / counts[piece]
    start, end = vertices[piece], vertices[piece + 1]
    points = points_on_arcs(start, end, bulges[piece], share)
    return np.concatenate([points, vertices[-1:]]), origin


def points_on_arcs(
    start: FloatArray, end: FloatArray, bulges: FloatArray, share: FloatArray
) -> FloatArray:
    """Return the points at `share` (0 to 1) of each arc's angle, (n, 2).

    With t = 4 atan(bulge) the point at angle s t lies at sin(s t / 2) / sin(t / 2) of the chord,
    turned by -(1 - s) t / 2 (inscribed angle theorem).
    """
    half = 2 * np.arctan(bulges)
    flat = np.abs(half) < 1e-9
    ratio = np.where(flat, share, np.sin(share * half) / np.where(flat, 1.0, np.sin(half)))
    turn = -(1 - share) * half
    cosine, sine = ratio * np.cos(turn), ratio * np.sin(turn)
    dx, dy = (end - start).T
    points: FloatArray = start + np.stack(
        [cosine * dx - sine * dy, sine * dx + cosine * dy], axis=1
    )
    return points


def _chord_counts(vertices: FloatArray, bulges: FloatArray, sagitta: float) -> IntArray:
    """Return into how many chords each piece is cut."""
    lengths = np.hypot(*np.diff(vertices, axis=0).T)
    bulge = np.abs(bulges[:-1])
    angle = 4 * np.arctan(bulge)
    radius = lengths * (1 + bulge**2) / (4 * np.maximum(bulge, 1e-300))
    step = 2 * np.arccos(np.clip(1 - sagitta / np.maximum(radius, sagitta), -1, 1))
    counts = np.ceil(angle / np.maximum(step, 1e-9))
    return np.where(bulge < 1e-9, 1, np.maximum(counts, 1)).astype(np.int64)


def chorded(region_map: RegionMap, sagitta: float) -> RegionMap:
    """Return `region_map` with every arc cut into chords; neighbours still share them all."""
    points, origin = chords(region_map.vertices, region_map.bulges, sagitta)
    return RegionMap(
        vertices=points,
        bulges=np.zeros(len(points)),
        arc_offsets=np.concatenate([origin[region_map.arc_offsets[:-1]], [len(points)]]),
        arc_nodes=region_map.arc_nodes,
        arc_faces=region_map.arc_faces,
        next_half=region_map.next_half,
        face_colours=region_map.face_colours,
        bounds=region_map.bounds,
    )


def face_polygons(region_map: RegionMap, sagitta: float) -> list[shapely.Polygon]:
    """Return one polygon per face, its holes cut out; neighbours share their vertices.

    Parameters
    ----------
    region_map : RegionMap
    sagitta : float
        Greatest distance between a chord and its arc.
    """
    cut = chorded(region_map, sagitta)
    found = rings(cut)
    areas = ring_areas(cut, found)
    made = _linear_rings(cut, found)
    # A ring of greatest area is the outer one, also on a map that is still to be mended.
    order = np.lexsort((-areas, found.faces))
    order = order[found.faces[order] != NO_FACE]
    bounds = np.searchsorted(found.faces[order], np.arange(cut.face_count + 1))
    polygons = shapely.polygons(made[order[bounds[:-1]]])
    for face in np.flatnonzero(np.diff(bounds) > 1).tolist():
        own = made[order[bounds[face] : bounds[face + 1]]]
        polygons[face] = shapely.polygons(own[0], holes=own[1:])
    found_polygons: list[shapely.Polygon] = polygons.tolist()
    return found_polygons


def _linear_rings(region_map: RegionMap, found: Rings) -> NDArray[np.object_]:
    """Return every ring of a map without arcs as a closed shapely ring."""
    backwards = (found.halves & 1).astype(bool)
    arc = found.halves >> 1
    first, last = region_map.arc_offsets[arc], region_map.arc_offsets[arc + 1] - 1
    counts = last - first
    half = np.repeat(np.arange(len(arc)), counts)
    place = np.arange(len(half)) - np.repeat(np.cumsum(counts) - counts, counts)
    at = np.where(backwards[half], last[half] - place, first[half] + place)
    sizes = np.add.reduceat(counts, found.offsets[:-1])
    ring = np.repeat(np.arange(len(sizes)), sizes)
    # Shapely asks for three points: a collapsed ring has its last one again, and is not valid.
    short = np.flatnonzero(sizes < 3)
    ends = np.cumsum(sizes)[short] - 1
    at = np.insert(at, np.repeat(ends + 1, 3 - sizes[short]), np.repeat(at[ends], 3 - sizes[short]))
    ring = np.insert(
        ring, np.repeat(ends + 1, 3 - sizes[short]), np.repeat(short, 3 - sizes[short])
    )
    made: NDArray[np.object_] = shapely.linearrings(region_map.vertices[at], indices=ring)
    return made


def colour_shapes(region_map: RegionMap, colours: int, sagitta: float) -> list[shapely.Geometry]:
    """Return the area of each of the first `colours` colours as one shapely geometry."""
    polygons = np.array(face_polygons(region_map, sagitta), dtype=object)
    return [
        shapely.multipolygons(polygons[region_map.face_colours == colour])
        for colour in range(colours)
    ]
