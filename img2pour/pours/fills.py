"""From the pockets of the stages to what each one takes: volume, bare wood, dams."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.contacts import find_contacts
from img2pour.pours.geometry import (
    Geometry,
    areal,
    as_array,
    dilate,
    empty,
    inside_points,
    multi,
    polygons_of,
    union,
)
from img2pour.pours.mixes import Fill
from img2pour.pours.stages import Stage, StagePocket, flat_radius_mm

Volumes = Callable[[Sequence[Geometry], StagePocket], NDArray[np.float64]]
"""Volume in mm3, up to the carved face, of each polygon of a pocket."""

ROW_MM = 25.0  # pockets are numbered in rows of this height, from the top left


def upright_volumes(polygons: Sequence[Geometry], pocket: StagePocket) -> NDArray[np.float64]:
    """Return area times depth: upright walls and corners cut sharp."""
    areas: NDArray[np.float64] = shapely.area(as_array(polygons))
    return areas * pocket.depth_mm


def volumes_of_bits(surface_mm: float, walls: Literal["upright", "sloped"] = "upright") -> Volumes:
    """Return the volumes that the pockets' own bits open, for a surface taken off at the end."""
    from img2pour.carve.pockets import PocketSettings, pocket_volumes
    from img2pour.carve.profile import profile_of
    from img2pour.carve.voids import opened

    def volumes(polygons: Sequence[Geometry], pocket: StagePocket) -> NDArray[np.float64]:
        if not pocket.bits or not len(polygons):
            return upright_volumes(polygons, pocket)
        radius = flat_radius_mm(pocket.bits)
        if radius is not None:
            return upright_volumes(list(opened(as_array(polygons), radius)), pocket)
        cut = PocketSettings(pocket.depth_mm, surface_mm, walls)
        profiles = [profile_of(bit) for bit in pocket.bits]
        return pocket_volumes(as_array(polygons), profiles, cut)

    return volumes


def stage_fills(
    stages: Sequence[Stage], board: Geometry, volumes: Volumes = upright_volumes
) -> tuple[tuple[tuple[Fill, ...], ...], ...]:
    """Return the fills of each pocket of each stage.

    Wood that no earlier stage has cut is bare: it drinks. Each polygon of a pocket is one fill,
    numbered through the stage in rows from the top left.

    Parameters
    ----------
    stages : sequence of Stage
    board : shapely geometry
        The finished board; where a pocket runs over its edge a dam is needed.
    volumes : callable

    Returns
    -------
    tuple
        By stage, by pocket, by polygon.
    """
    beyond = areal(dilate(board, 1.0).difference(board))
    cured = empty()
    found = []
    for stage in stages:
        first = 1
        of_stage = []
        for pocket in stage.pockets:
            fills = _pocket_fills(pocket, cured, beyond, volumes, first)
            first += len(fills)
            of_stage.append(fills)
        found.append(tuple(of_stage))
        cured = union([cured, *(pocket.outline for pocket in stage.pockets)])
    return tuple(found)


def _pocket_fills(
    pocket: StagePocket, cured: Geometry, beyond: Geometry, volumes: Volumes, first: int
) -> tuple[Fill, ...]:
    parts = sorted(polygons_of(pocket.outline), key=_reading_place)
    if not parts:
        return ()
    held = volumes(parts, pocket)
    areas = shapely.area(as_array(parts))
    floors = _bare_floors(parts, cured)
    dams = _open_edges(parts, beyond)
    walls = np.maximum(_bare_walls(parts, cured) - dams, 0.0) * pocket.depth_mm
    points = shapely.get_coordinates(inside_points(parts)).tolist()
    kept = np.flatnonzero(held > 0.0)  # where no bit enters there is nothing to fill
    return tuple(
        Fill(
            place=str(first + number),
            volume_mm3=float(held[i]),
            area_mm2=float(areas[i]),
            depth_mm=pocket.depth_mm,
            bare_floor_mm2=float(floors[i]),
            bare_wall_mm2=float(walls[i]),
            open_mm=float(dams[i]),
            at_mm=(points[i][0], points[i][1]),
        )
        for number, i in enumerate(kept)
    )


def _bare_floors(parts: Sequence[Geometry], cured: Geometry) -> NDArray[np.float64]:
    """Return how much of each polygon no earlier stage has cut, mm2."""
    bare = as_array(polygons_of(multi(parts).difference(cured)))
    return _sum_by_part(parts, inside_points(bare), shapely.area(bare))


def _bare_walls(parts: Sequence[Geometry], cured: Geometry) -> NDArray[np.float64]:
    """Return the length of each polygon's outline outside earlier pockets, mm."""
    lines = shapely.get_parts(multi(parts).boundary.difference(cured))
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    return _sum_by_part(parts, middles, shapely.length(lines))


def _sum_by_part(
    parts: Sequence[Geometry], points: NDArray[np.object_], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the sum of the values whose point lies in each polygon or on its outline."""
    if len(points) == 0:
        return np.zeros(len(parts))
    nearest = shapely.STRtree(as_array(parts)).query_nearest(points, all_matches=False)[1]
    return np.bincount(nearest, values, minlength=len(parts)).astype(np.float64)


def _open_edges(parts: Sequence[Geometry], beyond: Geometry) -> NDArray[np.float64]:
    """Return the length of each polygon's outline along the board's edge, mm."""
    contacts = find_contacts([multi(parts), beyond])
    own = contacts.shape == 0
    total = np.bincount(contacts.part[own], contacts.length_mm[own], minlength=len(parts))
    return total[: len(parts)].astype(np.float64)


def _reading_place(part: Geometry) -> tuple[int, float]:
    """Return row and place in it: from the top down, from the left to the right."""
    x, y = part.centroid.x, part.centroid.y
    return (-round(y / ROW_MM), float(x))
