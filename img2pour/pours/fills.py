"""From the pockets of the stages to what each one takes: volume, bare wood, dams."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.geometry import Geometry, dilate_thinly, polygons_of, union
from img2pour.pours.mixes import Fill
from img2pour.pours.stages import Stage, StagePocket

Volumes = Callable[[Sequence[Geometry], StagePocket], NDArray[np.float64]]
"""Volume in mm3, up to the carved face, of each polygon of a pocket."""

ROW_MM = 25.0  # pockets are numbered in rows of this height, from the top left


def upright_volumes(polygons: Sequence[Geometry], pocket: StagePocket) -> NDArray[np.float64]:
    """Return area times depth: upright walls and corners cut sharp."""
    areas: NDArray[np.float64] = shapely.area(np.array(polygons, dtype=object))
    return areas * pocket.depth_mm


def volumes_of_bits(surface_mm: float, walls: Literal["upright", "sloped"] = "upright") -> Volumes:
    """Return the volumes that the pockets' own bits open, for a surface taken off at the end."""
    from img2pour.carve.pockets import PocketSettings, pocket_volumes
    from img2pour.carve.profile import profile_of

    def volumes(polygons: Sequence[Geometry], pocket: StagePocket) -> NDArray[np.float64]:
        if not pocket.bits:
            return upright_volumes(polygons, pocket)
        cut = PocketSettings(pocket.depth_mm, surface_mm, walls)
        profiles = [profile_of(bit) for bit in pocket.bits]
        return pocket_volumes(np.array(polygons, dtype=object), profiles, cut)

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
    rim = dilate_thinly(board.boundary)
    cured = union([])
    found = []
    for stage in stages:
        first = 1
        of_stage = []
        for pocket in stage.pockets:
            fills = _pocket_fills(pocket, cured, rim, volumes, first)
            first += len(fills)
            of_stage.append(fills)
        found.append(tuple(of_stage))
        cured = union([cured, stage.outline])
    return tuple(found)


def _pocket_fills(
    pocket: StagePocket, cured: Geometry, rim: Geometry, volumes: Volumes, first: int
) -> tuple[Fill, ...]:
    parts = sorted(polygons_of(pocket.outline), key=_reading_place)
    if not parts:
        return ()
    shapely.prepare(rim)
    fills = []
    for number, (part, volume) in enumerate(
        zip(parts, volumes(parts, pocket), strict=True), start=first
    ):
        if volume <= 0.0:
            continue  # no bit enters: nothing to fill
        bare = part.difference(cured)
        walls = part.boundary.difference(cured)
        open_edge = part.boundary.intersection(rim)  # no wall there, but a dam
        fills.append(
            Fill(
                place=str(number),
                volume_mm3=float(volume),
                area_mm2=float(part.area),
                depth_mm=pocket.depth_mm,
                bare_floor_mm2=float(bare.area),
                bare_wall_mm2=float(walls.difference(rim).length * pocket.depth_mm),
                open_mm=float(open_edge.length),
            )
        )
    return tuple(fills)


def _reading_place(part: Geometry) -> tuple[int, float]:
    """Return row and place in it: from the top down, from the left to the right."""
    x, y = part.centroid.x, part.centroid.y
    return (-round(y / ROW_MM), float(x))
