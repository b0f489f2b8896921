"""The cut across the board: areas and depths of grooves worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from img2pour.errors import SettingsError
from img2pour.job.bit_table import load_bit_table
from img2pour.job.bits import Bit
from img2pour.job.shelf import find_bit
from img2pour.pours.plan import plan_pours
from img2pour.pours.plan_values import PlanSettings, PourPlan, Tools
from img2pour.pours.pour import Pour
from img2pour.pours.roles import Layout
from img2pour.pours.stages import BitChoice
from img2pour.write.make_pours import PourNames
from img2pour.write.stage_section import Cut, stage_section
from img2pour.write.values import Board

BOARD = Board(100.0, 60.0, 19.05)
NAMES = PourNames({"navy": "#102040"}, "#c8a06a")
DEPTH_MM, SURFACE_MM = 3.175, 0.5  # the defaults


def bit(text: str) -> Bit:
    return find_bit(text, load_bit_table(None))


def planned(shape: shapely.Geometry, *bits: str) -> PourPlan:
    """Return the plan of one pour, navy, cut by these bits, without a seal."""
    board = box(0, 0, BOARD.width_mm, BOARD.height_mm)
    pour = Pour("navy", "navy", ("navy",), shape, 10.0)
    layout = Layout(
        (pour,), {"navy": "table-top 1:1"}, {"navy": True}, board - shape, box(0, 0, 0, 0)
    )
    tools = Tools(BitChoice(tuple(map(bit, bits))), lambda stage: 1.0)
    return plan_pours(layout, board, tools, replace(PlanSettings(), seal_kind="none"))


def cut_area(plan: PourPlan, cut: Cut) -> list[float]:
    (section,) = stage_section(plan, BOARD, NAMES, cut)
    carved = shapely.Polygon([*section.floor, (100.0, -1.0), (0.0, -1.0)]).area - 100.0
    areas = [shapely.Polygon(fill.outline).area for fill in section.fills]
    assert carved == pytest.approx(sum(areas), abs=1e-6)  # one pour: the floor is its outline
    return areas


def test_a_flat_bit_leaves_upright_walls() -> None:
    plan = planned(box(20, 10, 50, 50), "flat 1/8in")
    # 30 mm wide at every depth, 3.175 mm deep.
    assert cut_area(plan, Cut(SURFACE_MM, at_mm=30.0)) == pytest.approx([30 * DEPTH_MM], rel=1e-6)


def test_a_vee_leaves_sloped_walls_and_a_flat_floor() -> None:
    """A vee of 90 degrees: 45 degree walls, 30 mm wide at the finished face.

    At the carved face 30 + 2 x 0.5 = 31 mm wide, at the floor 31 - 2 x 3.175 = 24.65 mm: a
    trapezoid of (31 + 24.65) / 2 x 3.175 = 88.344 mm2.
    """
    plan = planned(box(20, 10, 50, 50), "vee 90deg")
    found = cut_area(plan, Cut(SURFACE_MM, at_mm=30.0))
    assert found == pytest.approx([88.344375], rel=1e-6)


def test_a_vee_in_a_narrow_groove_ends_in_a_point() -> None:
    """2 mm wide at the finished face, 3 mm at the carved one: a triangle 1.5 mm deep."""
    plan = planned(box(20, 10, 22, 50), "vee 90deg")
    (section,) = stage_section(plan, BOARD, NAMES, Cut(SURFACE_MM, at_mm=30.0))
    (fill,) = section.fills
    # Slices are 3.175 / 24 = 0.132 mm apart: the last one stands at most that above the point.
    depth = max(19.05 - height for _, height in fill.outline)
    assert 1.5 - DEPTH_MM / 24 <= depth <= 1.5 + 1e-9
    assert shapely.Polygon(fill.outline).area == pytest.approx(3 * 1.5 / 2, rel=0.01)
    left, right = fill.outline[0], fill.outline[-1]
    assert (left[0], right[0]) == pytest.approx((19.5, 22.5), abs=1e-6)


def test_sloped_walls_keep_the_flat_bit_away() -> None:
    """A flat bit beside a vee of 60 degrees, walls sloped: the slope is tan 30 per mm."""
    shape, bits = box(20, 10, 50, 50), ("flat 1/4in", "vee 60deg")
    slope = np.tan(np.pi / 6)
    top, floor = 30 + 2 * 0.5 * slope, 30 + 2 * (0.5 - DEPTH_MM) * slope
    sloped = cut_area(planned(shape, *bits), Cut(SURFACE_MM, "sloped", 30.0))
    assert sloped == pytest.approx([(top + floor) / 2 * DEPTH_MM], rel=1e-6)
    (upright,) = cut_area(planned(shape, *bits), Cut(SURFACE_MM, "upright", 30.0))
    # Upright below the finished face, sloped only above it: 30 x depth and two small triangles.
    assert upright == pytest.approx(30 * DEPTH_MM + 0.5 * 0.5 * slope, rel=2e-3)


def test_the_profile_of_a_bit_with_a_ball_is_round_at_the_floor() -> None:
    plan = planned(box(20, 10, 50, 50), "ball 6mm")
    (section,) = stage_section(plan, BOARD, NAMES, Cut(SURFACE_MM, at_mm=30.0))
    depths = {round(x, 3): depth for x, depth in section.floor}
    # At the floor the ball's centre stands 3 mm from the wall: 20.0 + 3 (shank as wide as ball).
    deepest = [x for x, depth in depths.items() if depth > DEPTH_MM - 1e-6]
    assert min(deepest) == pytest.approx(23.0, abs=0.05)
    assert max(deepest) == pytest.approx(47.0, abs=0.05)


def test_the_place_is_told_in_the_units_that_are_read() -> None:
    plan = planned(box(20, 10, 50, 50), "flat 1/8in")
    (section,) = stage_section(plan, BOARD, NAMES, Cut(SURFACE_MM, at_mm=25.4, units="in"))
    assert "1 in (25.4 mm) above its lower edge" in section.title
    with pytest.raises(SettingsError, match="lies above the board"):
        stage_section(plan, BOARD, NAMES, Cut(SURFACE_MM, at_mm=60.0))
