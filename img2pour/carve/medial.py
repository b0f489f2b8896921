"""The medial axis of polygons: where the material or the pocket is how wide.

The outlines are sampled, more densely where two sides are close; the Delaunay triangles of the
samples give the Voronoi diagram (their circumcentres), and the part of it between sides that are
not neighbours is the medial axis. Clearances are then taken from the outline itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons

IntArray = NDArray[np.int64]

DETOUR = 1.3
"""Two sides face each other if the way along the outline is this much longer than straight across.

A straight side has 1, a right-angled corner up to 1.41, a round end up to pi / 2.
"""

OF_INTEREST = 1.25
"""Gaps up to this many times the width of interest are looked at closely."""

FINEST_MM = 0.04
"""Samples never lie closer than this."""


UNEVEN = 0.4
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
"""Multiples of the golden section, modulo 1, are spread evenly and never repeat."""


@dataclass(frozen=True, eq=False)
class Outline:
    """Samples along the rings of some polygons.

    Attributes
    ----------
    points : (S, 2) float64
    rings : (S,) int64
        Number of the ring.
    along_mm : (S,) float64
        Way along the ring to the sample.
    round_mm : (S,) float64
        Whole length of its ring.
    after, before : (S,) int64
        The next and the previous sample along the ring.
    """

    points: FloatArray
    rings: IntArray
    along_mm: FloatArray
    round_mm: FloatArray
    after: IntArray
    before: IntArray


@dataclass(frozen=True, eq=False)
class MedialAxis:
    """The medial axis as a graph.

    Attributes
    ----------
    points : (M, 2) float64
    clearance_mm : (M,) float64
        Half the width: the mean of the distances to the outline on either side.
    polygons : (M,) int64
        The polygon in which each point lies.
    edges : (E, 2) int64
        Points that are joined.
    sides : (M, 2) int64
        Two samples of the outline that are nearest to the point, on either side.
    across : (M, 2) float64
        From the nearest place on the one side to the nearest on the other.
    outline : Outline
    """

    points: FloatArray
    clearance_mm: FloatArray
    polygons: IntArray
    edges: IntArray
    sides: IntArray
    across: FloatArray
    outline: Outline


def medial_axis(polygons: Polygons, width_mm: float) -> MedialAxis:
    """Return the medial axis of polygons, fine enough to judge widths up to `width_mm`.

    Parameters
    ----------
    polygons : (N,) object
        Shapely polygons that share no edge with each other.
    width_mm : float
        The width of interest; above 0.
    """
    coarse = _sample(polygons, width_mm / 2.0)
    triangles = _triangles(coarse.points)
    outline = _refine(coarse, triangles, width_mm)
    if len(outline.points) > len(coarse.points):
        triangles = _triangles(outline.points)
    return _graph(polygons, outline, *triangles)


def _sample(polygons: Polygons, spacing_mm: float) -> Outline:
    """Sample every ring, at its vertices and at least every `spacing_mm`."""
    rings = shapely.get_rings(polygons)
    points, ring_of = shapely.get_coordinates(rings, return_index=True)
    lengths = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    # The last point of a ring repeats the first, and has no piece of its own.
    is_last = np.append(ring_of[1:] != ring_of[:-1], True)
    is_piece = ~is_last & (lengths > 0.0)
    ends = np.roll(points, -1, axis=0)
    counts = np.ceil(lengths[is_piece] / spacing_mm).astype(np.int64)
    return _subdivide(points[is_piece], ends[is_piece], ring_of[is_piece], counts)


def _subdivide(starts: FloatArray, ends: FloatArray, rings: IntArray, counts: IntArray) -> Outline:
    """Cut straight pieces, ring after ring in order, into `counts` parts."""
    piece = np.repeat(np.arange(len(counts)), counts)
    first = np.cumsum(counts) - counts
    number = np.arange(len(piece)) - first[piece]
    # Even samples on two parallel sides lie on common circles, which leaves triangles undecided.
    uneven = np.where(number > 0, UNEVEN * ((np.arange(len(piece)) * GOLDEN) % 1.0 - 0.5), 0.0)
    share = (number + uneven) / counts[piece]
    points = starts[piece] + share[:, None] * (ends[piece] - starts[piece])
    ring_of = rings[piece]
    is_first = np.append(True, ring_of[1:] != ring_of[:-1])
    starting = np.flatnonzero(is_first)
    ring_index = np.cumsum(is_first) - 1
    stopping = np.append(starting[1:], len(points)) - 1
    after = np.arange(1, len(points) + 1)
    after[stopping] = starting
    before = np.arange(-1, len(points) - 1)
    before[starting] = stopping
    steps = np.hypot(*(points[after] - points).T)
    along = np.cumsum(steps) - steps
    along -= along[starting][ring_index]
    around = np.add.reduceat(steps, starting)[ring_index]
    return Outline(points, ring_of, along, around, after, before)


def _triangles(points: FloatArray) -> tuple[IntArray, IntArray]:
    """Return the Delaunay triangles and, per triangle, its neighbour opposite each corner."""
    from scipy.spatial import Delaunay

    made = Delaunay(points)
    return made.simplices.astype(np.int64), made.neighbors.astype(np.int64)


def _face_each_other(outline: Outline, first: IntArray, second: IntArray) -> NDArray[np.bool_]:
    """Return whether two samples lie on sides that are not neighbours."""
    apart = np.abs(outline.along_mm[first] - outline.along_mm[second])
    apart = np.minimum(apart, outline.round_mm[first] - apart)
    across = np.hypot(*(outline.points[first] - outline.points[second]).T)
    faces: NDArray[np.bool_] = apart > DETOUR * across
    faces |= outline.rings[first] != outline.rings[second]
    return faces


def _refine(outline: Outline, triangles: tuple[IntArray, IntArray], width_mm: float) -> Outline:
    """Cut the pieces beside gaps of interest, until they are half as long as the gap is wide."""
    corners = triangles[0]
    pairs = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    pairs = pairs[_face_each_other(outline, pairs[:, 0], pairs[:, 1])]
    lengths = np.hypot(*(outline.points[outline.after] - outline.points).T)
    gaps = np.full(len(lengths), np.inf)
    for one in (pairs[:, 0], outline.before[pairs[:, 0]]):
        for other in (pairs[:, 1], outline.before[pairs[:, 1]]):
            width = piece_distances(outline, one, other)
            # Pieces that meet in a corner are no gap.
            width = np.where(width > 0.0, width, np.inf)
            np.minimum.at(gaps, one, width)
            np.minimum.at(gaps, other, width)
    wanted = np.clip(gaps / 2.0, FINEST_MM, width_mm / 4.0)
    wanted[gaps > OF_INTEREST * width_mm] = np.inf
    counts = np.maximum(np.ceil(lengths / wanted), 1.0).astype(np.int64)
    ends = outline.points[outline.after]
    return _subdivide(outline.points, ends, outline.rings, counts)


def piece_distances(outline: Outline, one: IntArray, other: IntArray) -> FloatArray:
    """Return the distances between pieces that start at given samples and do not cross."""
    a, b = outline.points[one], outline.points[outline.after[one]]
    c, d = outline.points[other], outline.points[outline.after[other]]
    from_one = np.minimum(_to_piece(a, c, d), _to_piece(b, c, d))
    from_other = np.minimum(_to_piece(c, a, b), _to_piece(d, a, b))
    return np.minimum(from_one, from_other)


def _to_piece(points: FloatArray, starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Return the distance of each point to its straight piece."""
    distances: FloatArray = np.hypot(*(_foot(points, starts, ends) - points).T)
    return distances


def _foot(points: FloatArray, starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Return the point of each straight piece that is nearest to its point."""
    span = ends - starts
    length2 = np.maximum((span**2).sum(axis=1), 1e-300)
    share = np.clip(((points - starts) * span).sum(axis=1) / length2, 0.0, 1.0)
    foot: FloatArray = starts + share[:, None] * span
    return foot


def _graph(
    polygons: Polygons, outline: Outline, corners: IntArray, neighbours: IntArray
) -> MedialAxis:
    """Build the graph: circumcentres, and on every edge the place nearest to its two sides."""
    centres = _circumcentres(outline.points[corners])
    inside = _polygons_around(polygons, centres)
    triangle, corner = np.nonzero(neighbours > np.arange(len(corners))[:, None])
    beyond = neighbours[triangle, corner]
    left = corners[triangle, (corner + 1) % 3]
    right = corners[triangle, (corner + 2) % 3]
    kept = (inside[triangle] >= 0) & (inside[triangle] == inside[beyond])
    kept &= _face_each_other(outline, left, right)
    # In a cleft finer than the samples the centres may lie across the outline; this does not.
    kept[kept] = inside[triangle[kept]] == _polygons_around(
        polygons, (outline.points[left[kept]] + outline.points[right[kept]]) / 2.0
    )
    triangle, beyond, left, right = triangle[kept], beyond[kept], left[kept], right[kept]
    used, renumbered = np.unique(np.concatenate([triangle, beyond]), return_inverse=True)
    start, end = renumbered[: len(triangle)], renumbered[len(triangle) :]
    middles = _nearest_on_edges(outline, centres[triangle], centres[beyond], left, right)
    between = len(used) + np.arange(len(triangle))
    sides = np.concatenate([_two_sides(outline, corners[used]), np.stack([left, right], axis=1)])
    points = np.concatenate([centres[used], middles])
    (one_foot, one_far), (other_foot, other_far) = (
        _nearest(outline, points, sides[:, column]) for column in (0, 1)
    )
    return MedialAxis(
        points=points,
        # Between samples a point stands a little nearer to one side than to the other.
        clearance_mm=(one_far + other_far) / 2.0,
        polygons=np.concatenate([inside[used], inside[triangle]]),
        edges=np.concatenate([np.stack([start, between], 1), np.stack([between, end], 1)]),
        sides=sides,
        across=other_foot - one_foot,
        outline=outline,
    )


def _circumcentres(triangles: FloatArray) -> FloatArray:
    """Return the centre of the circle through the corners of each triangle, (T, 2)."""
    b, c = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    cross = 2.0 * (b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0])
    cross = np.where(np.abs(cross) < 1e-14, np.nan, cross)
    b2, c2 = (b**2).sum(axis=1), (c**2).sum(axis=1)
    x = (c[:, 1] * b2 - b[:, 1] * c2) / cross
    y = (b[:, 0] * c2 - c[:, 0] * b2) / cross
    # Flat triangles have no centre; far outside they are in no polygon.
    offsets: FloatArray = np.nan_to_num(np.stack([x, y], axis=1), nan=1e9)
    return offsets + triangles[:, 0]


def _polygons_around(polygons: Polygons, points: FloatArray) -> IntArray:
    """Return the polygon in which each point lies, or -1."""
    tree = shapely.STRtree(shapely.points(points))
    polygon, point = tree.query(polygons, predicate="contains_properly")
    around = np.full(len(points), -1, dtype=np.int64)
    around[point] = polygon
    return around


def _two_sides(outline: Outline, corners: IntArray) -> IntArray:
    """Return, of the three samples around a point, two that face each other if any do."""
    chosen = corners[:, [0, 1]].copy()
    for first, second in ((1, 2), (0, 2)):
        faces = _face_each_other(outline, corners[:, first], corners[:, second])
        chosen[faces] = corners[faces][:, [first, second]]
    return chosen


def _nearest_on_edges(
    outline: Outline, starts: FloatArray, ends: FloatArray, left: IntArray, right: IntArray
) -> FloatArray:
    """Return the point of each edge that is nearest to its two samples: on the line between."""
    foot = (outline.points[left] + outline.points[right]) / 2.0
    span = ends - starts
    length2 = np.maximum((span**2).sum(axis=1), 1e-300)
    share = ((foot - starts) * span).sum(axis=1) / length2
    # A foot outside the edge says only that the clearance falls all the way.
    share = np.where((share > 0.0) & (share < 1.0), share, 0.5)
    return starts + share[:, None] * span


def _nearest(
    outline: Outline, points: FloatArray, samples: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return the nearest place on the two pieces that meet at a sample, and its distance."""
    ahead = _foot(points, outline.points[samples], outline.points[outline.after[samples]])
    behind = _foot(points, outline.points[outline.before[samples]], outline.points[samples])
    is_ahead = np.hypot(*(ahead - points).T) <= np.hypot(*(behind - points).T)
    nearest = np.where(is_ahead[:, None], ahead, behind)
    return nearest, np.hypot(*(nearest - points).T)
