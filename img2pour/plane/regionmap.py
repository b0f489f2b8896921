"""The region map: a planar graph whose faces tile the artwork and share every boundary.

Conventions, in pixels and in millimetres alike:

* an *arc* is a chain of pieces (lines and circular arcs) from node to node; a closed outline that
  meets no other has a node of its own at its start;
* the *bulge* of a piece is tan(angle / 4), positive where it turns from +x towards +y;
* the *left* of a direction (dx, dy) is (-dy, dx); walking with a face on the left, its outer ring
  has a positive shoelace area;
* half-edge 2a is arc a forwards (its face is the arc's left one), 2a + 1 is arc a backwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

OUTSIDE_COLOUR = -1
"""Colour of faces that are not part of the piece."""

NO_FACE = -1
"""The face beyond the artwork's frame."""


@dataclass(frozen=True, eq=False)
class RegionMap:
    """All regions of all colours; neighbours share the very same boundary.

    Attributes
    ----------
    vertices : (V, 2) float64
        Points of all arcs, arc after arc.
    bulges : (V,) float64
        Bulge of the piece from a vertex to the next of the same arc, in [-1, 1]; 0 at the last.
    arc_offsets : (A + 1,) int64
        Arc a owns the vertices [arc_offsets[a], arc_offsets[a + 1]), two or more.
    arc_nodes : (A, 2) int64
        Start and end node of each arc.
    arc_faces : (A, 2) int64
        Left and right face of each arc, -1 beyond the frame.
    next_half : (2A,) int64
        The half-edge that follows along the same face's ring.
    face_colours : (F,) int64
        Index of each face's colour, -1 for `outside`.
    bounds : (x0, y0, x1, y1)
        The frame.
    """

    vertices: FloatArray
    bulges: FloatArray
    arc_offsets: IntArray
    arc_nodes: IntArray
    arc_faces: IntArray
    next_half: IntArray
    face_colours: IntArray
    bounds: tuple[float, float, float, float]

    @property
    def arc_count(self) -> int:
        """Number of arcs."""
        return len(self.arc_offsets) - 1

    @property
    def face_count(self) -> int:
        """Number of faces."""
        return len(self.face_colours)

    def arc(self, index: int) -> tuple[FloatArray, FloatArray]:
        """Return the vertices (n, 2) and bulges (n,) of one arc."""
        part = slice(self.arc_offsets[index], self.arc_offsets[index + 1])
        return self.vertices[part], self.bulges[part]

    def half_faces(self) -> IntArray:
        """Return the face on the left of each half-edge, (2A,)."""
        return self.arc_faces.ravel()


@dataclass(frozen=True, eq=False)
class Rings:
    """The rings of a map: cycles of half-edges, each with its face on the left.

    Attributes
    ----------
    halves : (2A,) int64
        Half-edges, ring after ring.
    offsets : (R + 1,) int64
        Ring r owns halves[offsets[r]:offsets[r + 1]].
    faces : (R,) int64
        The face of each ring, -1 for the rim seen from beyond the frame.
    """

    halves: IntArray
    offsets: IntArray
    faces: IntArray

    def __len__(self) -> int:
        """Return the number of rings."""
        return len(self.faces)

    def ring(self, index: int) -> IntArray:
        """Return the half-edges of one ring."""
        return self.halves[self.offsets[index] : self.offsets[index + 1]]


def rings(region_map: RegionMap) -> Rings:
    """Return all rings of `region_map`, in the order of their smallest half-edge."""
    following = region_map.next_half.tolist()
    seen = bytearray(len(following))
    halves: list[int] = []
    offsets = [0]
    for first in range(len(following)):
        half = first
        while not seen[half]:
            seen[half] = 1
            halves.append(half)
            half = following[half]
        if len(halves) > offsets[-1]:
            offsets.append(len(halves))
    order = np.array(halves, dtype=np.int64)
    bounds = np.array(offsets, dtype=np.int64)
    return Rings(order, bounds, region_map.half_faces()[order[bounds[:-1]]])


def half_outline(region_map: RegionMap, half: int) -> tuple[FloatArray, FloatArray]:
    """Return vertices and bulges along one half-edge, without its last vertex."""
    points, bulges = region_map.arc(half >> 1)
    if half & 1:
        return points[:0:-1], -bulges[-2::-1]
    return points[:-1], bulges[:-1]


def ring_outline(region_map: RegionMap, ring: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return the closed outline of a ring.

    Parameters
    ----------
    region_map : RegionMap
        The map.
    ring : (n,) int64
        Half-edges in order, from :meth:`Rings.ring`.

    Returns
    -------
    vertices : (m, 2) float64
        Without repeating the first vertex at the end.
    bulges : (m,) float64
        Bulge from each vertex to the next, the last one back to the first.
    """
    parts = [half_outline(region_map, int(half)) for half in ring]
    return np.concatenate([p for p, _ in parts]), np.concatenate([b for _, b in parts])


def arc_moments(region_map: RegionMap) -> FloatArray:
    """Return what each arc adds to the shoelace area of the face on its left, (A,).

    The chord's share is (x0 y1 - x1 y0) / 2; a piece of bulge b over a chord c adds the circular
    segment c^2 (t - sin t) / (8 sin^2(t / 2)) with t = 4 atan(b) (plane geometry).
    """
    centre = np.array(region_map.bounds, dtype=np.float64).reshape(2, 2).mean(axis=0)
    points = region_map.vertices - centre
    ahead = np.roll(points, -1, axis=0)
    shares = (points[:, 0] * ahead[:, 1] - ahead[:, 0] * points[:, 1]) / 2
    shares -= segment_areas(np.hypot(*(ahead - points).T), region_map.bulges)
    shares[region_map.arc_offsets[1:] - 1] = 0.0
    return np.add.reduceat(shares, region_map.arc_offsets[:-1])


def segment_areas(chords: FloatArray, bulges: FloatArray) -> FloatArray:
    """Return the signed areas between arcs and their chords, positive to the chord's left.

    An arc of positive bulge runs on the right of its chord, hence the minus sign. For small
    bulges the closed form loses digits and the series c^2 b / 6 * 2 (1 + ...) takes over.
    """
    angles = 4 * np.arctan(bulges)
    small = np.abs(bulges) < 1e-3
    halves = np.where(small, 1.0, np.sin(angles / 2))
    exact = (angles - np.sin(angles)) / (8 * halves**2)
    series = bulges / 3 * (1 + bulges**2 / 5)
    return -(chords**2) * np.where(small, series, exact)


def ring_areas(region_map: RegionMap, found: Rings) -> FloatArray:
    """Return the signed area of every ring: outer rings positive, holes negative."""
    moments = arc_moments(region_map)
    signs = np.where(found.halves & 1, -1.0, 1.0)
    return np.add.reduceat(signs * moments[found.halves >> 1], found.offsets[:-1])


def face_areas(region_map: RegionMap) -> FloatArray:
    """Return the exact area of every face, arcs included, (F,)."""
    moments = arc_moments(region_map)
    areas = np.zeros(region_map.face_count + 1)
    np.add.at(areas, region_map.arc_faces[:, 0], moments)
    np.add.at(areas, region_map.arc_faces[:, 1], -moments)
    return areas[:-1]


def colour_areas(region_map: RegionMap, colours: int) -> FloatArray:
    """Return the area of each of the first `colours` colours."""
    inside = region_map.face_colours >= 0
    areas = face_areas(region_map)
    summed: FloatArray = np.zeros(colours)
    np.add.at(summed, region_map.face_colours[inside], areas[inside])
    return summed
