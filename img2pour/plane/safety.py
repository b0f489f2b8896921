"""No region lost, no outline crossed: what the fit got wrong goes back towards the pixels.

A crossing is mended where it is: the arcs through that place are drawn through their own edge
points, and if that does not help, along the pixels: smoothed, and in the end corner by corner,
which never cross.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.edges import EdgePoints
from img2pour.plane.edit import with_arcs
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap, face_areas
from img2pour.plane.shapes import chorded, face_polygons

CHECK_SAGITTA_PX = 0.02
"""Chords that fine are checked for crossings."""

AREA_SHARE, AREA_PX2 = 0.25, 4.0
"""A face whose area changed by more than this share and this area has collapsed."""

NEAR_PX = 0.75
"""Arcs within this distance of a crossing take part in it."""

THINNED_PX = 0.1
"""Edge points that lie this close to a line through others are left out."""

SMOOTHING_ROUNDS = 2
"""Each moves the middles of the pixels' sides towards their neighbours by a quarter."""

FITTED, POINTS, SMOOTHED, RAW = range(4)


@dataclass(frozen=True, eq=False)
class _Sources:
    """What every arc is drawn from, from the smoothest to the safest."""

    fitted: RegionMap
    raw: RegionMap
    edges: EdgePoints


def mended(
    fitted: RegionMap, raw: RegionMap, edges: EdgePoints, whole: FloatArray
) -> RegionMap | None:
    """Return the fitted map with every fault taken back towards the pixels.

    Parameters
    ----------
    fitted, raw : RegionMap
        The same faces and arcs, as fitted and as walked.
    edges : EdgePoints
        Points along the same arcs.
    whole : (F,) float64
        Area of each face along the pixels.

    Returns
    -------
    RegionMap or None
        All its faces are valid polygons, and none has collapsed. None where the pixels' own
        outlines cross, which they do only where junctions were joined wrongly.
    """
    sources = _Sources(fitted, raw, edges)
    level = np.zeros(raw.arc_count, dtype=np.int64)
    current = fitted
    while True:
        faulty = _faulty_arcs(current, whole)
        if len(faulty) == 0:
            return current
        rising = faulty[level[faulty] < RAW]
        if len(rising) == 0:
            return None
        level[rising] += 1
        current = _drawn(sources, level)


def _faulty_arcs(region_map: RegionMap, whole: FloatArray) -> IntArray:
    """Return the arcs that cross something or bound a face that collapsed."""
    polygons = np.array(face_polygons(region_map, CHECK_SAGITTA_PX), dtype=object)
    change = np.abs(face_areas(region_map) - whole)
    collapsed = change > AREA_SHARE * whole + AREA_PX2
    faulty = np.zeros(region_map.arc_count, bool)
    faulty[np.isin(region_map.arc_faces, np.flatnonzero(collapsed)).any(axis=1)] = True
    crossed = np.flatnonzero(~np.asarray(shapely.is_valid(polygons)))
    if len(crossed):
        lines = _arc_lines(chorded(region_map, CHECK_SAGITTA_PX))
        beside = np.asarray(np.isin(region_map.arc_faces, crossed).any(axis=1))
        faulty[_crossing_arcs(lines, beside)] = True
        faulty[_arcs_at_faults(region_map, polygons, crossed, lines)] = True
    return np.flatnonzero(faulty)


def _crossing_arcs(lines: NDArray[np.object_], asked: NDArray[np.bool_]) -> IntArray:
    """Return the arcs, among those asked for, that cross another one or themselves."""
    which = np.flatnonzero(asked)
    one, other = shapely.STRtree(lines[which]).query(lines[which], predicate="crosses")
    loops = which[~shapely.is_simple(lines[which])]
    return np.unique(np.concatenate([which[one], which[other], loops]))


def _arcs_at_faults(
    region_map: RegionMap,
    polygons: NDArray[np.object_],
    crossed: IntArray,
    lines: NDArray[np.object_],
) -> IntArray:
    """Return the arcs of invalid faces at the place that GEOS names."""
    places = shapely.points([_fault_place(polygons[face]) for face in crossed])
    arcs, at = shapely.STRtree(places).query(lines, predicate="dwithin", distance=NEAR_PX)
    beside = (region_map.arc_faces[arcs] == crossed[at][:, None]).any(axis=1)
    return np.unique(arcs[beside])


def _fault_place(polygon: shapely.Polygon) -> tuple[float, float]:
    """Return where a polygon is not valid, from GEOS' own words."""
    words = str(shapely.is_valid_reason(polygon))
    x, y = words[words.index("[") + 1 : words.index("]")].split()[:2]
    return float(x), float(y)


def _arc_lines(region_map: RegionMap) -> NDArray[np.object_]:
    """Return every arc's vertices as a line."""
    counts = np.diff(region_map.arc_offsets)
    index = np.repeat(np.arange(region_map.arc_count), counts)
    lines: NDArray[np.object_] = shapely.linestrings(region_map.vertices, indices=index)
    return lines


def _drawn(sources: _Sources, level: IntArray) -> RegionMap:
    """Return the map with each arc drawn as its level says; arcs along pixels keep their nodes."""
    fitted, raw = sources.fitted, sources.raw
    has_points = np.diff(sources.edges.offsets) > 0
    raw_nodes = _raw_nodes(raw, np.where(has_points, level, RAW * level))
    vertices, bulges = [], []
    for arc in range(raw.arc_count):
        points, bulge = fitted.arc(arc)
        if level[arc] == POINTS and has_points[arc]:
            points = _along_points(sources, arc, points)
            bulge = np.zeros(len(points))
        elif level[arc] == SMOOTHED and has_points[arc]:
            points = _along_pixels(raw.arc(arc)[0])
            bulge = np.zeros(len(points))
        elif level[arc] > FITTED:
            points, bulge = raw.arc(arc)
        points = points.copy()
        for end, node in ((0, raw.arc_nodes[arc, 0]), (-1, raw.arc_nodes[arc, 1])):
            if node in raw_nodes:
                points[end] = raw_nodes[node]
        vertices.append(points)
        bulges.append(bulge)
    return with_arcs(fitted, vertices, bulges)


def _along_points(sources: _Sources, arc: int, fitted: FloatArray) -> FloatArray:
    """Return an arc drawn through its edge points, thinned to what they show."""
    own = sources.edges.points[sources.edges.offsets[arc] : sources.edges.offsets[arc + 1]]
    start, end = sources.raw.arc_nodes[arc]
    if start == end and len(own) > 2:
        line = np.concatenate([own, own[:1]])
    else:
        line = np.concatenate([fitted[:1], own[2:-2], fitted[-1:]])
    thinned: FloatArray = shapely.get_coordinates(
        shapely.simplify(shapely.LineString(line), THINNED_PX)
    )
    return thinned


def _along_pixels(corners: FloatArray) -> FloatArray:
    """Return an arc through the middles of its pixels' sides, smoothed, its ends where they were.

    Middles alone never cross another arc's, since each side belongs to one arc.
    """
    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(corners, axis=0)).sum(axis=1))])
    at = np.concatenate([[0.0], np.arange(0.5, along[-1]), along[-1:]])
    line = np.stack([np.interp(at, along, corners[:, axis]) for axis in (0, 1)], axis=1)
    for _ in range(SMOOTHING_ROUNDS):
        line[1:-1] = (line[:-2] + 2 * line[1:-1] + line[2:]) / 4
    smooth: FloatArray = shapely.get_coordinates(
        shapely.simplify(shapely.LineString(line), THINNED_PX)
    )
    return smooth


def _raw_nodes(raw: RegionMap, level: IntArray) -> dict[int, FloatArray]:
    """Return where the nodes of raw arcs lie: junctions that were joined lie in their middle."""
    ends = np.concatenate(
        [raw.vertices[raw.arc_offsets[:-1]], raw.vertices[raw.arc_offsets[1:] - 1]]
    )
    nodes = raw.arc_nodes.T.ravel()
    wanted = np.unique(raw.arc_nodes[level >= SMOOTHED])
    return {int(node): ends[nodes == node].mean(axis=0) for node in wanted}
