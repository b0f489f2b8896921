"""No region lost, no outline crossed: what the fit got wrong goes back towards the pixels.

A crossing is mended where it is: the arcs through that place are drawn through their own edge
points, and if that does not help, along the pixels themselves, which never cross.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.plane.edges import EdgePoints
from img2pour.plane.edit import with_arcs
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap, face_areas
from img2pour.plane.shapes import face_polygons

CHECK_SAGITTA_PX = 0.02
"""Chords that fine are checked for crossings."""

AREA_SHARE, AREA_PX2 = 0.25, 4.0
"""A face whose area changed by more than this share and this area has collapsed."""

NEAR_PX = 0.75
"""Arcs within this distance of a crossing take part in it."""

MOST_ROUNDS = 40

FITTED, POINTS, RAW = 0, 1, 2


@dataclass(frozen=True, eq=False)
class _Sources:
    """The three drawings of every arc, from the smoothest to the safest."""

    fitted: RegionMap
    raw: RegionMap
    edges: EdgePoints


def mended(fitted: RegionMap, raw: RegionMap, edges: EdgePoints, walked: RegionMap) -> RegionMap:
    """Return the fitted map with every fault taken back towards the pixels.

    Parameters
    ----------
    fitted, raw : RegionMap
        The same faces and arcs, as fitted and as walked.
    edges : EdgePoints
        Points along the same arcs.
    walked : RegionMap
        The map along the pixels before any junctions were joined: the last resort.

    Returns
    -------
    RegionMap
        All its faces are valid polygons, and none has collapsed.
    """
    sources = _Sources(fitted, raw, edges)
    level = np.zeros(raw.arc_count, dtype=np.int64)
    whole = face_areas(raw)
    current = fitted
    for round_number in range(MOST_ROUNDS):
        faulty = _faulty_arcs(current, whole)
        if len(faulty) == 0:
            return current
        if (level[faulty] == RAW).all() or round_number > MOST_ROUNDS // 2:
            faulty = _arcs_of_same_faces(raw, faulty)
        level[faulty] = np.minimum(level[faulty] + 1, RAW)
        current = _drawn(sources, level)
    return walked


def _faulty_arcs(region_map: RegionMap, whole: FloatArray) -> IntArray:
    """Return the arcs that cross something or bound a face that collapsed."""
    polygons = np.array(face_polygons(region_map, CHECK_SAGITTA_PX), dtype=object)
    change = np.abs(face_areas(region_map) - whole)
    collapsed = change > AREA_SHARE * whole + AREA_PX2
    faulty = np.zeros(region_map.arc_count, bool)
    faulty[np.isin(region_map.arc_faces, np.flatnonzero(collapsed)).any(axis=1)] = True
    crossed = np.flatnonzero(~shapely.is_valid(polygons))
    if len(crossed):
        places = shapely.points([_fault_place(polygons[face]) for face in crossed])
        lines = _arc_lines(region_map)
        arcs, at = shapely.STRtree(places).query(lines, predicate="dwithin", distance=NEAR_PX)
        beside = (region_map.arc_faces[arcs] == crossed[at][:, None]).any(axis=1)
        faulty[arcs[beside]] = True
    return np.flatnonzero(faulty)


def _fault_place(polygon: shapely.Polygon) -> tuple[float, float]:
    """Return where a polygon is not valid, from GEOS' own words."""
    words = str(shapely.is_valid_reason(polygon))
    x, y = words[words.index("[") + 1 : words.index("]")].split()[:2]
    return float(x), float(y)


def _arc_lines(region_map: RegionMap) -> FloatArray:
    """Return every arc's vertices as a line."""
    counts = np.diff(region_map.arc_offsets)
    index = np.repeat(np.arange(region_map.arc_count), counts)
    return shapely.linestrings(region_map.vertices, indices=index)


def _arcs_of_same_faces(raw: RegionMap, arcs: IntArray) -> IntArray:
    """Return all arcs of the faces that these arcs bound."""
    faces = np.unique(raw.arc_faces[arcs])
    return np.flatnonzero(np.isin(raw.arc_faces, faces[faces >= 0]).any(axis=1))


def _drawn(sources: _Sources, level: IntArray) -> RegionMap:
    """Return the map with each arc drawn as its level says; nodes of raw arcs are raw too."""
    fitted, raw = sources.fitted, sources.raw
    raw_nodes = _raw_nodes(raw, level)
    vertices, bulges = [], []
    for arc in range(raw.arc_count):
        points, bulge = fitted.arc(arc)
        if level[arc] == POINTS:
            own = sources.edges.points[sources.edges.offsets[arc] : sources.edges.offsets[arc + 1]]
            points = np.concatenate([points[:1], own[2:-2], points[-1:]])
            bulge = np.zeros(len(points))
        elif level[arc] == RAW:
            points, bulge = raw.arc(arc)
        points = points.copy()
        for end, node in ((0, raw.arc_nodes[arc, 0]), (-1, raw.arc_nodes[arc, 1])):
            if node in raw_nodes:
                points[end] = raw_nodes[node]
        vertices.append(points)
        bulges.append(bulge)
    return with_arcs(fitted, vertices, bulges)


def _raw_nodes(raw: RegionMap, level: IntArray) -> dict[int, FloatArray]:
    """Return where the nodes of raw arcs lie: junctions that were joined lie in their middle."""
    ends = np.concatenate(
        [raw.vertices[raw.arc_offsets[:-1]], raw.vertices[raw.arc_offsets[1:] - 1]]
    )
    nodes = raw.arc_nodes.T.ravel()
    wanted = np.unique(raw.arc_nodes[level == RAW])
    return {int(node): ends[nodes == node].mean(axis=0) for node in wanted}
