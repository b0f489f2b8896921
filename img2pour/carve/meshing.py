"""From cells with a level at every corner to a closed surface.

Where the cells on both sides of an edge differ, an upright wall fills the gap; walls are split at
every level that occurs at their ends. So the surface closes whatever the cells look like.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons
from img2pour.carve.medial import IntArray

GRID_MM = 1e-3
"""Corners are laid on this grid: what nearly coincides has to coincide."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """A closed surface.

    Attributes
    ----------
    vertices : (V, 3) float64
        x, y as on the board, z up from its underside, mm.
    triangles : (T, 3) int64
        Anticlockwise seen from outside.
    """

    vertices: FloatArray
    triangles: IntArray


class Corners:
    """The corners of all cells, numbered, and the directed edges around each cell."""

    def __init__(self, cells: Polygons) -> None:
        rings, cell_of_ring = _rings(cells)
        points, ring_of = shapely.get_coordinates(rings, return_index=True)
        keys = np.round(points / GRID_MM).astype(np.int64)
        self.keys, numbers = np.unique(keys, axis=0, return_inverse=True)
        numbers = numbers.ravel()
        same_ring = ring_of[1:] == ring_of[:-1]
        self.start: IntArray = numbers[:-1][same_ring]
        self.end: IntArray = numbers[1:][same_ring]
        self.cell: IntArray = cell_of_ring[ring_of[:-1][same_ring]]
        self.cells = cells
        self.points: FloatArray = self.keys * GRID_MM

    def number(self, points: FloatArray) -> IntArray:
        """Return the numbers of points that are corners."""
        keys = np.round(points / GRID_MM).astype(np.int64)
        span = int(self.keys[:, 1].max() - self.keys[:, 1].min()) + 1
        low = self.keys[:, 1].min()
        flat = self.keys[:, 0] * span + self.keys[:, 1] - low
        found: IntArray = np.searchsorted(flat, keys[:, 0] * span + keys[:, 1] - low)
        return found


def _rings(cells: Polygons) -> tuple[Polygons, IntArray]:
    rings, owner = shapely.get_rings(cells, return_index=True)
    return np.asarray(rings, dtype=object), owner.astype(np.int64)


@dataclass(frozen=True, eq=False)
class Tops:
    """The level of every corner of every cell, by a key made of both."""

    corner_count: int
    keys: IntArray
    levels: IntArray

    def at(self, cell: IntArray, corner: IntArray) -> IntArray:
        """Return the level that a cell has at one of its corners."""
        found: IntArray = self.levels[np.searchsorted(self.keys, cell * self.corner_count + corner)]
        return found


@dataclass(frozen=True, eq=False)
class _Edges:
    """Edges by their two ends, and the levels on the left and on the right at either end."""

    ends: IntArray
    here: IntArray
    beyond: IntArray


class Builder:
    """Puts the mesh together from cells, walls, rim and underside."""

    def __init__(self, corners: Corners, tops: Tops, heights: FloatArray) -> None:
        self.corners = corners
        self.tops = tops
        self.heights = heights
        self.level_count = len(heights)
        self.bottom = len(heights) - 1

    def mesh(self) -> Mesh:
        """Return the closed mesh, cells levelled around corners that are still pinched."""
        self.tops.levels[self._is_pinched()[self.tops.keys % len(self.corners.points)]] = 0
        corner, cell = _triangulated(self.corners, self.corners.cells)
        tops = self._node(corner, self.tops.at(np.repeat(cell[:, None], 3, axis=1), corner))
        underside = self._node(corner, np.full_like(corner, self.bottom))[:, ::-1]
        pieces = [tops, self._walls(), underside]
        used, triangles = np.unique(np.concatenate(pieces), return_inverse=True)
        plane = self.corners.points[used // self.level_count]
        heights = self.heights[used % self.level_count]
        return Mesh(np.column_stack([plane, heights]), triangles.reshape(-1, 3))

    def _node(self, corner: IntArray, level: IntArray) -> IntArray:
        """Return the number of a corner at a level."""
        return corner * self.level_count + level

    def _edges(self) -> _Edges:
        """Return every edge once, with the levels on both sides at both of its ends."""
        corners, count = self.corners, len(self.corners.points)
        keys = corners.start * count + corners.end
        order = np.argsort(keys)
        back = corners.end * count + corners.start
        twin = order[np.minimum(np.searchsorted(keys[order], back), len(keys) - 1)]
        has_twin = keys[twin] == back
        once = np.flatnonzero(~has_twin | (np.arange(len(keys)) < twin))
        inner = has_twin[once]
        ends = np.stack([corners.start[once], corners.end[once]])
        here = np.stack([self.tops.at(corners.cell[once], end) for end in ends])
        beyond = np.full_like(here, self.bottom)
        others = corners.cell[twin[once[inner]]]
        beyond[:, inner] = np.stack([self.tops.at(others, end[inner]) for end in ends])
        return _Edges(ends, here, beyond)

    def pinches(self) -> FloatArray:
        """Return the corners at which more than two walls share an upright edge, (N, 2).

        There two pockets touch in a point, and the surface would pass through it twice.
        """
        points: FloatArray = self.corners.points[self._is_pinched()]
        return points

    def _is_pinched(self) -> NDArray[np.bool_]:
        edges = self._edges()
        low = np.minimum(edges.here, edges.beyond).ravel()
        high = np.maximum(edges.here, edges.beyond).ravel()
        corner, count = edges.ends.ravel(), len(self.corners.points)
        pinched = np.zeros(count, dtype=np.bool_)
        for level in range(self.level_count - 1):
            spanning = (low <= level) & (level < high)
            pinched |= np.bincount(corner[spanning], minlength=count) > 2
        return pinched

    def _walls(self) -> IntArray:
        """Return the triangles of the upright walls between cells and around the board."""
        edges = self._edges()
        steps = self._levels_at_corners()
        differs = (edges.here != edges.beyond).any(axis=0)
        ends, here, beyond = (
            part[:, differs].T.tolist() for part in (edges.ends, edges.here, edges.beyond)
        )
        walls: list[tuple[int, int, int]] = []
        for (start, end), first, last in zip(ends, here, beyond, strict=True):
            left = _chain(steps[start], first[0], last[0])
            right = _chain(steps[end], first[1], last[1])
            walls += self._wall(start, end, left, right)
        return np.array(walls, dtype=np.int64).reshape(-1, 3)

    def _levels_at_corners(self) -> list[list[int]]:
        """Return the levels that occur at each corner, from the top down."""
        found: list[set[int]] = [set() for _ in self.corners.points]
        owners = (self.tops.keys % self.tops.corner_count).tolist()
        for corner, level in zip(owners, self.tops.levels.tolist(), strict=True):
            found[corner].add(level)
        return [sorted(levels) for levels in found]

    def _wall(
        self, start: int, end: int, left: list[int], right: list[int]
    ) -> list[tuple[int, int, int]]:
        """Fill the upright strip over one edge, between two chains of levels."""
        base, other = start * self.level_count, end * self.level_count
        triangles = []
        i = j = 0
        while i < len(left) - 1 or j < len(right) - 1:
            if i < len(left) - 1:
                triangles.append((other + right[j], base + left[i], base + left[i + 1]))
                i += 1
            if j < len(right) - 1:
                triangles.append((other + right[j], base + left[i], other + right[j + 1]))
                j += 1
        return triangles


def _chain(levels: list[int], first: int, last: int) -> list[int]:
    """Return the levels from the first to the last, with those between that occur there."""
    low, high = min(first, last), max(first, last)
    between = [level for level in levels if low < level < high]
    if first <= last:
        return [first, *between, last] if first != last else [first]
    return [first, *reversed(between), last]


def _triangulated(corners: Corners, cells: Polygons) -> tuple[IntArray, IntArray]:
    """Return the triangles of the cells by their corners, anticlockwise, and each one's cell."""
    parts, cell = shapely.get_parts(
        shapely.constrained_delaunay_triangles(cells), return_index=True
    )
    parts = shapely.orient_polygons(parts)
    points = shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3]
    numbers = corners.number(points.reshape(-1, 2)).reshape(-1, 3)
    return numbers, cell.astype(np.int64)
