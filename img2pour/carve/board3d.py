"""The carved board as a closed mesh, made from the slices of its pockets.

The slices of all pockets at a few depths cut the board into cells. Every cell has a depth at each
of its corners: on the outline of the next deeper slice that slice's depth, elsewhere its own; but
floors are level. Where the cells on both sides of an edge differ, an upright wall fills the gap;
walls are split at every depth that occurs at their ends. So the mesh closes whatever the slices
look like.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons
from img2pour.carve.medial import IntArray
from img2pour.carve.pockets import PocketSettings, pocket_grounds
from img2pour.carve.profile import Profile
from img2pour.carve.voids import void_slices
from img2pour.errors import GeometryError

SLOPE_STEPS = 4
"""Slices down a sloped wall."""

GRID_MM = 1e-3
"""Corners of slices are laid on this grid: what nearly coincides has to coincide."""

ROUNDING_MM = 1e-6

SMOOTH_MM = 0.02
MOST_TRIANGLES = 800_000
"""Keeps the written file under 15 MB."""

MOST_TRIES = 6

POLYGON = 3
"""Type of a polygon among shapely's geometry types."""


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


@dataclass(frozen=True, eq=False)
class CutPockets:
    """Pockets that are cut with the same bits to the same depth.

    Attributes
    ----------
    polygons : (N,) object
        At the finished face.
    profiles : tuple of Profile
    settings : PocketSettings
        The mesh shows the board after surfacing.
    """

    polygons: Polygons
    profiles: tuple[Profile, ...]
    settings: PocketSettings


def board_mesh(frame: shapely.Polygon, thickness_mm: float, pockets: Sequence[CutPockets]) -> Mesh:
    """Return the carved board after surfacing, as a closed mesh.

    Parameters
    ----------
    frame : Polygon
        The finished board.
    thickness_mm : float
        Of the finished board.
    pockets : sequence of CutPockets

    Raises
    ------
    GeometryError
        If a pocket is deeper than the board is thick.
    """
    deepest = max((cut.settings.finished_depth_mm for cut in pockets), default=0.0)
    if deepest >= thickness_mm:
        raise GeometryError(
            f"pockets {deepest:g} mm deep do not fit into a board {thickness_mm:g} mm thick"
        )
    smooth = SMOOTH_MM
    for _ in range(MOST_TRIES):
        mesh = _mesh(frame, thickness_mm, pockets, smooth)
        if len(mesh.triangles) <= MOST_TRIANGLES:
            break
        smooth *= 2.0
    return mesh


def _mesh(
    frame: shapely.Polygon, thickness_mm: float, pockets: Sequence[CutPockets], smooth_mm: float
) -> Mesh:
    depths = _depths(pockets)
    slices = _nested_slices(frame, pockets, depths, smooth_mm)
    cells = _cells(frame, slices)
    levels = _levels_of_cells(cells, slices)
    is_floor = _floors(cells, pockets, depths[np.maximum(levels - 1, 0)])
    corners = _Corners(cells)
    tops = _corner_levels(corners, levels, is_floor, slices)
    heights = thickness_mm - np.append(depths, thickness_mm)
    return _Builder(corners, tops, heights).mesh()


def _nested_slices(
    frame: shapely.Polygon, pockets: Sequence[CutPockets], depths: FloatArray, smooth_mm: float
) -> list[shapely.Geometry]:
    """Return what is open down to each depth below the finished face, each within the last."""
    slices: list[shapely.Geometry] = []
    for depth in depths.tolist():
        joined = shapely.union_all(shapely.simplify(_open_at(pockets, depth), smooth_mm))
        around = slices[-1] if slices else frame
        slices.append(_areas(shapely.intersection(_areas(joined), around, grid_size=GRID_MM)))
    return slices


def _areas(shape: shapely.Geometry) -> shapely.Geometry:
    """Return the polygons of a shape, without the points and lines at which others touch."""
    parts = shapely.get_parts(shape)
    return shapely.multipolygons(parts[shapely.get_type_id(parts) == POLYGON])


def _open_at(pockets: Sequence[CutPockets], depth_mm: float) -> list[shapely.Geometry]:
    """Return the slices of all pockets that reach a depth below the finished face."""
    found: list[shapely.Geometry] = []
    for cut in pockets:
        if len(cut.polygons) and depth_mm <= cut.settings.finished_depth_mm + ROUNDING_MM:
            grounds = pocket_grounds(cut.polygons, cut.profiles, cut.settings)
            found += void_slices(grounds, cut.settings.surface_mm + depth_mm).tolist()
    return found


def _floors(
    cells: Polygons, pockets: Sequence[CutPockets], cell_depths: FloatArray
) -> NDArray[np.bool_]:
    """Return which cells lie on the floor of a pocket of just their depth."""
    inside = shapely.point_on_surface(cells)
    is_floor = np.zeros(len(cells), dtype=np.bool_)
    for depth in sorted({cut.settings.finished_depth_mm for cut in pockets}):
        ending = [cut for cut in pockets if cut.settings.finished_depth_mm == depth]
        floor = shapely.union_all(_open_at(ending, depth))
        shapely.prepare(floor)
        is_floor |= (np.abs(cell_depths - depth) < ROUNDING_MM) & shapely.contains(floor, inside)
    return is_floor


def _depths(pockets: Sequence[CutPockets]) -> FloatArray:
    """Return the depths, from the finished face, at which something may change."""
    found = {0.0}
    for cut in pockets:
        depth = cut.settings.finished_depth_mm
        is_sloped = any(not profile.is_upright for profile in cut.profiles)
        steps = SLOPE_STEPS if is_sloped else 1
        found |= {round(depth * step / steps, 9) for step in range(1, steps + 1)}
    return np.array(sorted(found))


def _cells(frame: shapely.Polygon, slices: Sequence[shapely.Geometry]) -> Polygons:
    """Cut the board along the outlines of all slices."""
    lines = [frame.boundary, *(shapely.boundary(part) for part in slices if not part.is_empty)]
    noded = shapely.union_all(lines, grid_size=GRID_MM)
    cells = shapely.get_parts(shapely.polygonize([noded]))
    return np.asarray(shapely.orient_polygons(cells), dtype=object)


def _levels_of_cells(cells: Polygons, slices: Sequence[shapely.Geometry]) -> IntArray:
    """Return how many slices lie over each cell."""
    inside = shapely.point_on_surface(cells)
    count = np.zeros(len(cells), dtype=np.int64)
    for part in slices:
        shapely.prepare(part)
        count += shapely.contains(part, inside)
    return count


class _Corners:
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
class _Tops:
    """The level of every corner of every cell, by a key made of both."""

    corner_count: int
    keys: IntArray
    levels: IntArray

    def at(self, cell: IntArray, corner: IntArray) -> IntArray:
        """Return the level that a cell has at one of its corners."""
        found: IntArray = self.levels[np.searchsorted(self.keys, cell * self.corner_count + corner)]
        return found


def _corner_levels(
    corners: _Corners,
    levels: IntArray,
    is_floor: NDArray[np.bool_],
    slices: Sequence[shapely.Geometry],
) -> _Tops:
    """Give every corner of a cell the cell's level, or the next deeper one on that slice's edge.

    A cell under n slices has the level of slice n - 1; the open board has the level 0.
    """
    count = len(corners.points)
    keys = np.unique(corners.cell * count + corners.start)
    cell, corner = keys // count, keys % count
    on_edge = _corners_on_edges(corners, slices)
    sinks = (levels[cell] > 0) & (levels[cell] < len(slices)) & ~is_floor[cell]
    deeper = np.minimum(levels[cell], len(slices) - 1)
    found = np.maximum(levels[cell] - 1, 0)
    found[sinks & on_edge[deeper, corner]] += 1
    return _Tops(count, keys, found)


def _corners_on_edges(corners: _Corners, slices: Sequence[shapely.Geometry]) -> NDArray[np.bool_]:
    """Return which corners lie on the outline of each slice, (K, C) bool."""
    points = shapely.points(corners.points)
    found = np.zeros((len(slices), len(points)), dtype=np.bool_)
    for index, part in enumerate(slices):
        if not part.is_empty:
            outline = shapely.boundary(part)
            shapely.prepare(outline)
            found[index] = shapely.dwithin(outline, points, GRID_MM / 2.0)
    return found


@dataclass(frozen=True, eq=False)
class _Edges:
    """Edges by their two ends, and the levels on the left and on the right at either end."""

    ends: IntArray
    here: IntArray
    beyond: IntArray


class _Builder:
    """Puts the mesh together from cells, walls, rim and underside."""

    def __init__(self, corners: _Corners, tops: _Tops, heights: FloatArray) -> None:
        self.corners = corners
        self.tops = tops
        self.heights = heights
        self.level_count = len(heights)
        self.bottom = len(heights) - 1

    def mesh(self) -> Mesh:
        """Return the closed mesh."""
        self._unpinch()
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

    def _unpinch(self) -> None:
        """Level the cells around corners at which more than two walls would share an upright edge.

        There two pockets touch in a point, and the surface would pass through it twice.
        """
        edges = self._edges()
        low = np.minimum(edges.here, edges.beyond).ravel()
        high = np.maximum(edges.here, edges.beyond).ravel()
        corner, count = edges.ends.ravel(), len(self.corners.points)
        pinched = np.zeros(count, dtype=np.bool_)
        for level in range(self.level_count - 1):
            spanning = (low <= level) & (level < high)
            pinched |= np.bincount(corner[spanning], minlength=count) > 2
        self.tops.levels[pinched[self.tops.keys % count]] = 0

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


def _triangulated(corners: _Corners, cells: Polygons) -> tuple[IntArray, IntArray]:
    """Return the triangles of the cells by their corners, anticlockwise, and each one's cell."""
    parts, cell = shapely.get_parts(
        shapely.constrained_delaunay_triangles(cells), return_index=True
    )
    parts = shapely.orient_polygons(parts)
    points = shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3]
    numbers = corners.number(points.reshape(-1, 2)).reshape(-1, 3)
    return numbers, cell.astype(np.int64)
