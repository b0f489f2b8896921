"""A cut across the board, drawn from the stages: which resin lies where, and how deep."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.carve.pockets import PocketSettings, Walls, pocket_grounds
from img2pour.carve.profile import profile_of
from img2pour.carve.voids import void_slices
from img2pour.errors import SettingsError
from img2pour.pours.geometry import as_array, polygons_of
from img2pour.units import Shown, format_length
from img2pour.write.section import Fill, Section
from img2pour.write.values import Board
from img2pour.write.words import span

if TYPE_CHECKING:
    from img2pour.pours.plan_values import PourPlan
    from img2pour.pours.stages import StagePocket
    from img2pour.write.make_pours import PourNames

Point = tuple[float, float]
Profile = list[Point]
"""Along the cut and depth below the carved face, from the left edge of a pocket to its right."""

LEAST_PIECE_MM = 0.05
TRIED = 37
"""Heights at which a cut is tried."""

LEVELS = 24
"""Depths at which a pocket with sloped walls is sliced."""

STRIP_RADII, STRIP_MM = 3.0, 1.0
"""Only so much of a pocket on both sides of the cut decides what the cut shows."""


@dataclass(frozen=True)
class Cut:
    """How the board is carved and where it is cut across.

    Attributes
    ----------
    surface_mm : float
        How far the carved face lies above the finished one.
    walls : {"upright", "sloped"}
        How flat bits meet the wall.
    at_mm : float or None
        How far above the board's lower edge; where it meets most pours if it is not given.
    units : {"in", "mm"}
        What the title speaks in.
    """

    surface_mm: float
    walls: Walls = "upright"
    at_mm: float | None = None
    units: Shown = "mm"


def stage_section(plan: PourPlan, board: Board, names: PourNames, cut: Cut) -> tuple[Section, ...]:
    """Return a cut across the board, with walls and floors as the bits leave them.

    Its heights run from the board's underside to the carved face.

    Parameters
    ----------
    plan : PourPlan
    board : Board
    names : PourNames
    cut : Cut

    Raises
    ------
    SettingsError
        When the cut misses the board.
    """
    if cut.at_mm is not None and cut.at_mm >= board.height_mm:
        at, high = (format_length(mm, cut.units) for mm in (cut.at_mm, board.height_mm))
        raise SettingsError(
            f"the section at {at} lies above the board, which is {high} high; give a smaller "
            "height",
            name="output.section",
            value=cut.at_mm,
        )
    if not plan.stages:
        return ()
    heights = np.linspace(0.05, 0.95, TRIED) * board.height_mm
    y = cut.at_mm or float(max(heights, key=lambda height: _met(plan, board, float(height))))
    top = plan.stages[0].top_mm
    fills = []
    for stage in plan.stages:
        for pocket in stage.pockets:
            shape = PocketSettings(pocket.depth_mm, cut.surface_mm, cut.walls)
            for profile in _profiles(pocket, shape, board, y):
                corners = [(along, top - depth) for along, depth in profile]
                fills.append(Fill(pocket.pour, names.hex(pocket.pour), corners))
    where = span(round(y, 1), cut.units)
    title = f"Cut across the board, {where} above its lower edge; walls as the bits leave them"
    return (Section(title, board.width_mm, top, _floor(fills, board.width_mm, top), fills),)


def _met(plan: PourPlan, board: Board, y: float) -> tuple[int, int]:
    """Return how many pours a cut meets, and in how many pieces."""
    pieces = [
        len(_crossings(pocket.outline, board, y))
        for stage in plan.stages
        for pocket in stage.pockets
    ]
    return sum(count > 0 for count in pieces), -sum(pieces)


def _crossings(shape: shapely.Geometry, board: Board, y: float) -> list[Point]:
    """Return from where to where a horizontal cut runs through a shape, from left to right."""
    cut = shapely.LineString([(0.0, y), (board.width_mm, y)])
    parts = [part.bounds for part in shapely.get_parts(shape.intersection(cut))]
    return sorted((x0, x1) for x0, _, x1, _ in parts if x1 - x0 > LEAST_PIECE_MM)


def _profiles(pocket: StagePocket, shape: PocketSettings, board: Board, y: float) -> list[Profile]:
    """Return the profiles of a pocket where a cut runs through it."""
    bits = [profile_of(bit) for bit in pocket.bits]
    reach_mm = max((float(bit.radius_at(pocket.depth_mm)) for bit in bits), default=0.0)
    half_mm = STRIP_RADII * reach_mm + STRIP_MM
    left, _, right, _ = pocket.outline.bounds
    strip = shapely.box(left - 1.0, y - half_mm, right + 1.0, y + half_mm)
    parts = as_array(polygons_of(pocket.outline.intersection(strip)))
    if not len(parts):
        return []
    if not bits:
        ends = _crossings(pocket.outline, board, y)
        return _between([(0.0, ends), (pocket.depth_mm, ends)])
    grounds = pocket_grounds(parts, bits, shape)
    upright = all(ground.profile.is_upright for ground in grounds)
    depths = np.linspace(0.0, pocket.depth_mm, 2 if upright else LEVELS + 1).tolist()
    slices = (shapely.union_all(void_slices(grounds, depth)) for depth in depths)
    return _between(
        [(depth, _crossings(void, board, y)) for depth, void in zip(depths, slices, strict=True)]
    )


def _between(levels: Sequence[tuple[float, Sequence[Point]]]) -> list[Profile]:
    """Return profiles from the stretches (left, right) that are open at rising depths.

    What is open at a depth is open above it too, so the ends in their order along the cut are the
    profile: down its left ends and up its right ones.
    """
    ends = [(left, 1, depth) for depth, open_ in levels for left, _ in open_]
    ends += [(right, 0, -depth) for depth, open_ in levels for _, right in open_]
    line = [(along, abs(depth)) for along, _, depth in sorted(ends)]
    return [[point for point in line if left <= point[0] <= right] for left, right in levels[0][1]]


def _floor(fills: Iterable[Fill], length_mm: float, top_mm: float) -> Profile:
    """Return the deepest carved profile from the start of the cut to its end: (along, depth)."""
    carved = shapely.union_all([shapely.make_valid(shapely.Polygon(f.outline)) for f in fills])
    wood = shapely.box(0.0, 0.0, length_mm, top_mm).difference(carved)
    left = max(polygons_of(wood), key=shapely.area)
    ring = shapely.get_coordinates(shapely.normalize(left).exterior).tolist()
    corner = ring.index([0.0, 0.0])
    around = ring[corner:-1] + ring[:corner]
    return [(x, top_mm - height) for x, height in around if height > 0.0]
