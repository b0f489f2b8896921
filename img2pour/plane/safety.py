"""No region lost, no outline crossed: what the fit got wrong goes back towards the pixels.

A crossing is mended where it is: the arcs through that place are drawn through their own edge
points there, then along the pixels there, and if that does not help, as a whole: through their
points, along the pixels, smoothed, and in the end corner by corner, which never cross.
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
from img2pour.plane.splice import spliced

CHECK_SAGITTA_PX = 0.02
"""Chords that fine are checked for crossings."""

AREA_SHARE, AREA_PX2 = 0.25, 4.0
"""A face whose area changed by more than this share and this area has collapsed."""

LEFT_SHARE = 0.1
"""A face that keeps no more than this share has collapsed too, or is turned inside out."""

NEAR_PX = 0.75
"""Arcs within this distance of a crossing take part in it."""

THINNED_PX = 0.1
"""Edge points that lie this close to a line through others are left out."""

SMOOTHING_ROUNDS = 2
"""Each moves the middles of the pixels' sides towards their neighbours by a quarter."""

FITTED, LOCAL, LOCAL_RAW, POINTS, SMOOTHED, RAW = range(6)

NEW_PLACE_PX = 5.0
"""A fault this far from those known on an arc is another one."""

Faults = dict[int, list[tuple[float, float]]]
"""Places at which arcs are at fault, by arc; none for an arc whose face has collapsed."""


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
    known: Faults = {}
    current = fitted
    while True:
        faulty = _faulty_arcs(current, whole)
        if not faulty:
            return current
        if not _raised(level, known, faulty):
            return None
        current = _drawn(sources, level, known)


def _raised(level: IntArray, known: Faults, faulty: Faults) -> bool:
    """Take every faulty arc one level towards the pixels; return whether any could go.

    An arc that is mended locally stays so for a fault at a new place.
    """
    any_rose = False
    for arc, places in faulty.items():
        seen = known.setdefault(arc, [])
        new = [
            place
            for place in places
            if all(np.hypot(place[0] - x, place[1] - y) > NEW_PLACE_PX for x, y in seen)
        ]
        if level[arc] <= LOCAL_RAW and new:
            seen += new
            level[arc] = max(level[arc], LOCAL)
        elif level[arc] < RAW:
            level[arc] = level[arc] + 1 if seen else max(level[arc] + 1, POINTS)
        else:
            continue
        any_rose = True
    return any_rose


def _faulty_arcs(region_map: RegionMap, whole: FloatArray) -> Faults:
    """Return the arcs that cross something, and where, and those of faces that collapsed."""
    polygons = np.array(face_polygons(region_map, CHECK_SAGITTA_PX), dtype=object)
    areas = face_areas(region_map)
    collapsed = np.abs(areas - whole) > AREA_SHARE * whole + AREA_PX2
    collapsed |= areas < LEFT_SHARE * whole
    beside = np.isin(region_map.arc_faces, np.flatnonzero(collapsed))
    fallen = np.asarray(beside.any(axis=1))
    faulty: Faults = {arc: [] for arc in np.flatnonzero(fallen).tolist()}
    crossed = np.flatnonzero(~np.asarray(shapely.is_valid(polygons)))
    if len(crossed):
        lines = _arc_lines(chorded(region_map, CHECK_SAGITTA_PX))
        beside = np.asarray(np.isin(region_map.arc_faces, crossed).any(axis=1))
        for arc, place in (
            *_crossing_arcs(lines, beside),
            *_arcs_at_faults(region_map, polygons, crossed, lines),
        ):
            places = faulty.setdefault(arc, [])
            if place is not None and not fallen[arc]:
                places.append(place)
    return faulty


Crossing = tuple[int, tuple[float, float] | None]
"""An arc and where it crosses; None where it crosses itself."""


def _crossing_arcs(lines: NDArray[np.object_], asked: NDArray[np.bool_]) -> list[Crossing]:
    """Return the arcs, among those asked for, that cross another one or themselves."""
    which = np.flatnonzero(asked)
    one, other = shapely.STRtree(lines[which]).query(lines[which], predicate="crosses")
    common = shapely.intersection(lines[which[one]], lines[which[other]])
    points, pair = shapely.get_coordinates(common, return_index=True)
    found: list[Crossing] = [
        (int(which[one[index]]), (x, y))
        for (x, y), index in zip(points.tolist(), pair.tolist(), strict=True)
    ]
    loops = which[~np.asarray(shapely.is_simple(lines[which]))]
    return found + [(int(arc), None) for arc in loops]


def _arcs_at_faults(
    region_map: RegionMap,
    polygons: NDArray[np.object_],
    crossed: IntArray,
    lines: NDArray[np.object_],
) -> list[Crossing]:
    """Return the arcs of invalid faces at the place that GEOS names."""
    places = shapely.points([_fault_place(polygons[face]) for face in crossed])
    arcs, at = shapely.STRtree(places).query(lines, predicate="dwithin", distance=NEAR_PX)
    beside = (region_map.arc_faces[arcs] == crossed[at][:, None]).any(axis=1)
    names = shapely.get_coordinates(places)[at[beside]].tolist()
    return [(int(arc), (x, y)) for arc, (x, y) in zip(arcs[beside], names, strict=True)]


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


def _drawn(sources: _Sources, level: IntArray, faults: Faults) -> RegionMap:
    """Return the map with each arc drawn as its level says; arcs along pixels keep their nodes."""
    fitted, raw = sources.fitted, sources.raw
    has_points = np.diff(sources.edges.offsets) > 0
    raw_nodes = _raw_nodes(raw, np.where(has_points, level, RAW * level))
    vertices, bulges = [], []
    for arc in range(raw.arc_count):
        points, bulge = fitted.arc(arc)
        if level[arc] in (LOCAL, LOCAL_RAW) and has_points[arc]:
            own = _own(sources, arc, points, level[arc] == LOCAL_RAW)
            points, bulge = spliced(points, bulge, own, np.array(faults[arc]))
        elif level[arc] == POINTS and has_points[arc]:
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


def _own(sources: _Sources, arc: int, fitted: FloatArray, raw: bool) -> FloatArray:
    """Return the edge points of an arc or its pixels, a closed one's from where it begins."""
    own: FloatArray
    if raw:
        line = shapely.segmentize(shapely.LineString(sources.raw.arc(arc)[0]), 1.0)
        own = shapely.get_coordinates(line)[:-1]
    else:
        own = sources.edges.points[sources.edges.offsets[arc] : sources.edges.offsets[arc + 1]]
    start, end = sources.raw.arc_nodes[arc]
    if start == end:
        own = np.roll(own, -int(np.argmin(np.hypot(*(own - fitted[0]).T))), axis=0)
    return own


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
