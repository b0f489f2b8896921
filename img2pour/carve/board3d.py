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
from img2pour.carve.meshing import GRID_MM, Builder, Corners, Mesh, Tops
from img2pour.carve.pockets import PocketSettings, pocket_grounds
from img2pour.carve.profile import Profile
from img2pour.carve.voids import void_slices
from img2pour.errors import GeometryError

SLOPE_STEPS = 4
"""Slices down a sloped wall."""

ROUNDING_MM = 1e-6

SMOOTH_MM = 0.02
MOST_TRIANGLES = 800_000
"""Keeps the written file under 15 MB."""

MOST_TRIES = 4

BRIDGE_MM = 0.03
"""Half the width of a passage, doubled at every further try."""

POLYGON = 3
"""Type of a polygon among shapely's geometry types."""


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
    heights = thickness_mm - np.append(depths, thickness_mm)
    slices = _nested_slices(frame, pockets, depths, smooth_mm)
    floors = _floors(pockets)
    for attempt in range(MOST_TRIES):
        cells = _cells(frame, slices)
        levels = _levels_of_cells(cells, slices)
        is_floor = _on_floors(cells, floors, depths[np.maximum(levels - 1, 0)])
        corners = Corners(cells)
        builder = Builder(corners, _corner_levels(corners, levels, is_floor, slices), heights)
        pinches = builder.pinches()
        if len(pinches) == 0:
            break
        slices = _bridged(frame, slices, pinches, BRIDGE_MM * 2.0**attempt)
    return builder.mesh()


def _bridged(
    frame: shapely.Polygon,
    slices: Sequence[shapely.Geometry],
    pinches: FloatArray,
    half_mm: float,
) -> list[shapely.Geometry]:
    """Open a passage, fine as a hair, where two pockets touch in a point."""
    x, y = pinches.T
    squares = shapely.box(x - half_mm, y - half_mm, x + half_mm, y + half_mm)
    bridged = []
    for part in slices:
        shapely.prepare(part)
        touching = squares[shapely.intersects(part, squares)]
        joined = shapely.union_all([part, *touching], grid_size=GRID_MM)
        bridged.append(_areas(shapely.intersection(joined, frame, grid_size=GRID_MM)))
    return bridged


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


def _floors(pockets: Sequence[CutPockets]) -> dict[float, shapely.Geometry]:
    """Return the floors of the pockets of each depth."""
    floors = {}
    for depth in sorted({cut.settings.finished_depth_mm for cut in pockets}):
        ending = [cut for cut in pockets if cut.settings.finished_depth_mm == depth]
        floors[depth] = shapely.union_all(_open_at(ending, depth))
        shapely.prepare(floors[depth])
    return floors


def _on_floors(
    cells: Polygons, floors: dict[float, shapely.Geometry], cell_depths: FloatArray
) -> NDArray[np.bool_]:
    """Return which cells lie on the floor of a pocket of just their depth."""
    inside = shapely.point_on_surface(cells)
    is_floor = np.zeros(len(cells), dtype=np.bool_)
    for depth, floor in floors.items():
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


def _corner_levels(
    corners: Corners,
    levels: IntArray,
    is_floor: NDArray[np.bool_],
    slices: Sequence[shapely.Geometry],
) -> Tops:
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
    return Tops(count, keys, found)


def _corners_on_edges(corners: Corners, slices: Sequence[shapely.Geometry]) -> NDArray[np.bool_]:
    """Return which corners lie on the outline of each slice, (K, C) bool."""
    points = shapely.points(corners.points)
    found = np.zeros((len(slices), len(points)), dtype=np.bool_)
    for index, part in enumerate(slices):
        if not part.is_empty:
            outline = shapely.boundary(part)
            shapely.prepare(outline)
            found[index] = shapely.dwithin(outline, points, GRID_MM / 2.0)
    return found
