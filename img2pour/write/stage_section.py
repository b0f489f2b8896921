"""A cut across the board, drawn from the stages: which resin lies where, and how deep."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.errors import SettingsError
from img2pour.plane.regionmap import FloatArray
from img2pour.write.section import Fill, Section
from img2pour.write.values import Board

if TYPE_CHECKING:
    from img2pour.pours.plan_values import PourPlan
    from img2pour.write.make_pours import PourNames

LEAST_PIECE_MM = 0.05
TRIED = 37
"""Heights at which a cut is tried."""


def stage_section(
    plan: PourPlan, board: Board, names: PourNames, at_mm: float | None = None
) -> tuple[Section, ...]:
    """Return a cut across the board, walls drawn upright.

    Its heights run from the board's underside to the carved face.

    Parameters
    ----------
    plan : PourPlan
    board : Board
    names : PourNames
    at_mm : float, optional
        How far above the board's lower edge; where it meets most pours if it is not given.

    Raises
    ------
    SettingsError
        When the cut misses the board.
    """
    if at_mm is not None and at_mm >= board.height_mm:
        raise SettingsError(
            f"the section at {at_mm:.4g} mm lies above the board, which is {board.height_mm:.4g} "
            "mm high; give a smaller height",
            name="output.section",
            value=at_mm,
        )
    if not plan.stages:
        return ()
    heights = np.linspace(0.05, 0.95, TRIED) * board.height_mm
    y = at_mm or float(max(heights, key=lambda height: _met(plan, board, float(height))))
    top = plan.stages[0].top_mm
    fills, floor = [], np.zeros((0, 3))
    for stage in plan.stages:
        for pocket in stage.pockets:
            for left, right in _crossings(pocket.outline, board, y):
                low = top - pocket.depth_mm
                corners = [(left, top), (left, low), (right, low), (right, top)]
                fills.append(Fill(pocket.pour, names.hex(pocket.pour), corners))
                floor = np.vstack([floor, [left, right, pocket.depth_mm]])
    title = f"Cut across the board, {y:.0f} mm from its lower edge; walls drawn upright"
    return (Section(title, board.width_mm, top, _deepest(floor, board.width_mm), fills),)


def _met(plan: PourPlan, board: Board, y: float) -> tuple[int, int]:
    """Return how many pours a cut meets, and in how many pieces."""
    pieces = [
        len(_crossings(pocket.outline, board, y))
        for stage in plan.stages
        for pocket in stage.pockets
    ]
    return sum(count > 0 for count in pieces), -sum(pieces)


def _crossings(shape: shapely.Geometry, board: Board, y: float) -> list[tuple[float, float]]:
    """Return from where to where a horizontal cut runs through a shape, from left to right."""
    cut = shapely.LineString([(0.0, y), (board.width_mm, y)])
    parts = [part.bounds for part in shapely.get_parts(shape.intersection(cut))]
    return sorted((x0, x1) for x0, _, x1, _ in parts if x1 - x0 > LEAST_PIECE_MM)


def _deepest(pieces: FloatArray, length_mm: float) -> list[tuple[float, float]]:
    """Return the deepest carved profile of pieces (left, right, depth): (along, depth)."""
    ends = np.unique(np.concatenate([[0.0, length_mm], pieces[:, 0], pieces[:, 1]]))
    profile: list[tuple[float, float]] = []
    for left, right in pairwise(ends.tolist()):
        over = (pieces[:, 0] <= left) & (pieces[:, 1] >= right)
        depth = float(pieces[over, 2].max()) if over.any() else 0.0
        profile += [(left, depth), (right, depth)]
    return [(0.0, 0.0), *profile, (length_mm, 0.0)]
