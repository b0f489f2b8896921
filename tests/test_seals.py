"""Seals against Steiner's formula for convex outlines and against figures done by hand."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from img2pour.errors import SettingsError
from img2pour.pours.resins import find_resin, standard_resins
from img2pour.pours.seal_checks import border_at_depth_mm, check_border, thin_wood
from img2pour.pours.seal_options import (
    SealGround,
    coat_volume_mm3,
    compare_seals,
    weighted_length,
)
from img2pour.pours.seals import SealSettings, band, brushed, flood, flood_board, wood_borders

BOARD = box(-200, -200, 200, 200)
# Border 1 mm and 5.6 mm inside the pour: a channel of 6.6 mm, a 1/4 in bit and 0.25 mm.
ONE = SealSettings(border_mm=1.0)
HEXAGON = Polygon(
    [(60 * math.cos(k * math.pi / 3), 60 * math.sin(k * math.pi / 3)) for k in range(6)]
)


@pytest.mark.parametrize(
    ("shape", "outer_mm2", "inner_mm2"),
    [
        # Outer: P b + pi b^2. Inner: the shape less the shape 5.6 mm smaller all round.
        (box(0, 0, 100, 100), 403.1416, 2114.56),
        (box(0, 0, 120, 60), 363.1416, 1890.56),
        (Polygon([(0, 0), (80, 0), (0, 60)]), 243.1416, 1155.84),
        (HEXAGON, 363.1416, 1907.3658),
    ],
)
def test_steiner(shape: shapely.Polygon, outer_mm2: float, inner_mm2: float) -> None:
    seal = band(shape, BOARD.difference(shape), ONE)
    assert seal.outline.difference(shape).area == pytest.approx(outer_mm2, rel=1e-4)
    assert seal.outline.intersection(shape).area == pytest.approx(inner_mm2, rel=1e-4)
    assert seal.edge_mm == pytest.approx(shape.length, rel=1e-6)
    assert seal.border_mm == (1.0,)


def test_edges_with_other_pours_and_with_the_frame_need_no_seal() -> None:
    # Two pours side by side fill the lower half of a board of 100 x 100; wood is the upper half.
    left, right, wood = box(0, 0, 50, 50), box(50, 0, 100, 50), box(0, 50, 100, 100)
    seal = band(shapely.union(left, right), wood, ONE)
    assert seal.outline.symmetric_difference(box(0, 44.4, 100, 51)).area < 1e-6
    assert seal.edge_mm == pytest.approx(100, abs=1e-2)


def test_a_corner_is_sealed_to_its_tip_if_the_border_is_wide_enough() -> None:
    # Border >= r (1 - sin(theta / 2)). For r 3.175 and a right angle: 0.9299 mm.
    square = box(0, 0, 100, 100)
    wood = BOARD.difference(square)
    tight = SealSettings(clearance_mm=0.0, border_mm=0.94)
    assert band(square, wood, tight).unsealed == ()
    short = SealSettings(clearance_mm=0.0, border_mm=0.80)
    bare = band(square, wood, short).unsealed
    assert len(bare) == 4
    # By hand: the bit's axis stays r - b = 2.375 mm inside both edges; its circle meets an edge
    # sqrt(r^2 - 2.375^2) = 2.1070 mm from the foot, so 2.375 - 2.1070 = 0.2680 mm of each of the
    # two edges is bare.
    assert bare[0].length_mm == pytest.approx(2 * 0.2680, abs=0.01)
    assert {(round(x / 100), round(y / 100)) for x, y in (s.at_mm for s in bare)} == {
        (0, 0),
        (0, 1),
        (1, 0),
        (1, 1),
    }


def test_a_stroke_narrower_than_the_bit_stays_unsealed_and_is_measured() -> None:
    stroke = box(0, 0, 80, 2)
    seal = band(stroke, BOARD.difference(stroke), SealSettings())
    assert seal.unsealed_mm == pytest.approx(164, abs=0.01)
    assert seal.edge_mm == pytest.approx(164, abs=0.01)
    fine = SealSettings(bit_diameter_mm=3.175, border_mm=0.8)
    assert band(stroke, BOARD.difference(stroke), fine).unsealed_mm < 4.0


def test_the_border_narrows_beside_small_wood() -> None:
    # An island of wood 2.4 mm wide: both borders together take half, 0.6 mm each. One of 1 mm
    # would leave 0.25 mm: the least border, 0.4 mm, holds.
    wood = shapely.MultiPolygon([box(0, 0, 2.4, 30), box(10, 0, 11, 30), box(30, 0, 90, 90)])
    assert wood_borders(wood, SealSettings()) == pytest.approx((0.6, 0.4, 0.8), abs=0.006)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"border_mm": 0.3}, "seal border 0.3 mm is below 0.4 mm"),
        (
            {"border_mm": 0.8, "registration_mm": 0.7},
            "below 0.9 mm, the least that stays with a registration error of 0.7 mm",
        ),
        ({"border_mm": 4.0}, "half of the channel"),
    ],
)
def test_borders_that_cannot_hold_are_told(values: dict[str, float], message: str) -> None:
    with pytest.raises(SettingsError, match=message):
        SealSettings(**values)


def test_sloped_walls_eat_the_border() -> None:
    # A seal cut with a taper of 6.2 degrees a side: tan = 0.10863; over 3.175 mm it eats 0.345 mm.
    slope = math.tan(math.radians(6.2))
    at_floor = border_at_depth_mm(0.8, 3.175, seal_slope=slope, colour_slope=0.0)
    assert at_floor == pytest.approx(0.8 - 0.34491, abs=1e-4)
    fine = check_border(SealSettings(bit_slope=slope), (0.8,), 3.175, 0.0)
    assert fine.warning == ""
    assert fine.least_mm == pytest.approx(at_floor)
    thin = check_border(SealSettings(bit_slope=slope), (0.7,), 3.175, 0.0)
    assert "0.70 mm at the face but 0.36 mm at the floor" in thin.warning
    # A colour cut with the same taper leans the same way: nothing is lost.
    assert check_border(SealSettings(bit_slope=slope), (0.8,), 3.175, slope).least_mm == 0.8


def test_walls_of_wood_are_checked_again_after_the_seal() -> None:
    # 3 mm of wood between two pours, less 0.75 mm on both sides (a quarter of 3 mm each): 1.5 mm
    # is left, too thin if 2 mm must stay, not if 1.4 mm will do.
    left, wall, right = box(-60, 0, 0, 80), box(0, 0, 3, 80), box(3, 0, 60, 80)
    seal = band(shapely.union(left, right), wall, SealSettings())
    found = thin_wood(wall, seal.outline, 2.0)
    assert [(t.width_mm, t.area_mm2) for t in found] == [
        (pytest.approx(1.5, abs=0.02), pytest.approx(120, abs=1.5))
    ]
    assert thin_wood(wall, seal.outline, 1.4) == ()
    # A wall that was too thin before the seal is not its doing.
    assert thin_wood(wall, shapely.MultiPolygon(), 4.0) == ()


def test_a_flood_widens_what_touches_wood() -> None:
    inner, outer = Point(0, 0).buffer(20, quad_segs=64), box(-60, -60, 60, 60)
    ring, wood = outer.difference(inner), BOARD.difference(outer)
    seal = flood([ring, inner], wood, ONE)
    # The disc touches no wood; the ring does and is widened by P b + pi b^2 = 480 + pi.
    assert seal.outline.area == pytest.approx(ring.area + 480 + math.pi, rel=1e-5)
    assert seal.unsealed == ()
    assert flood_board(BOARD, outer, wood, ONE).outline.area == pytest.approx(400 * 400)


def test_none_leaves_every_edge_bare() -> None:
    square = box(0, 0, 100, 100)
    seal = brushed("none", square, BOARD.difference(square))
    assert seal.unsealed_mm == pytest.approx(400, abs=0.01)
    assert brushed("brush", square, BOARD.difference(square)).unsealed == ()


INCH = 25.4
WIDE, HIGH = 21 * INCH, 14.25 * INCH
CLEAR = find_resin(standard_resins(), "table-top 1:1")


def two_dark_pockets() -> SealGround:
    """Return a 21 x 14.25 in board, half of it in two dark pockets."""
    pocket_wide = 8.0 * INCH
    pocket_high = 299.25 / 4 / 8.0 * INCH  # a quarter of the board's 299.25 square inches
    board = box(0, 0, WIDE, HIGH)
    low = (HIGH - pocket_high) / 2
    left = box(2 * INCH, low, 2 * INCH + pocket_wide, low + pocket_high)
    right = shapely.affinity.translate(left, 9 * INCH)
    wood = board.difference(shapely.union(left, right))
    return SealGround(board, (left, right), wood, 3.175, (1.0, 0.0), CLEAR)


def test_a_band_saves_nine_to_ten_ounces_on_a_usual_board() -> None:
    # About ten fluid ounces saved by sealing the edges only: common practice, no source.
    level = SealSettings(border_mm=1.0, deeper_mm=0.0)
    options = compare_seals(two_dark_pockets(), level)
    by_kind = {option.seal.kind: option for option in options}
    assert by_kind["flood board"].volume_ml / 29.5735295625 == pytest.approx(20.73, abs=0.005)
    saved = by_kind["flood"].volume_ml - by_kind["band"].volume_ml
    assert 9.0 < saved / 29.5735295625 < 10.0
    # By hand: the band is 6.6 mm wide and runs along 2 x 2 x (8 + 9.3516) in = 69.406 in of edge,
    # less 4 corners of 5.6^2 and plus pi 1^2 in each pocket: 6.6 x 1762.92 - 8 x 31.36 + 2 pi.
    hand_mm2 = 6.6 * 69.406 * INCH - 8 * 31.36 + 2 * math.pi
    assert by_kind["band"].volume_ml == pytest.approx(hand_mm2 * 3.175 / 1000, rel=1e-4)
    assert by_kind["none"].cost == 0
    assert by_kind["none"].mix is None
    assert by_kind["band"].days == 2.0  # 48 h of cure
    assert by_kind["brush"].days == 0.5  # two coats, 6 h each
    assert by_kind["brush"].mix is not None
    assert not any("least depth" in warning for warning in by_kind["brush"].mix.warnings)
    assert all(a.total_ml >= a.volume_ml for a in options)


def test_a_brushed_coat_by_hand() -> None:
    # 100 x 40 mm, 3 mm deep, grain along x, 0.15 mm, 2 coats, end grain twice. Floor 4000 mm2;
    # walls along the grain 200 x 3 = 600; across it 80 x 3 x 2 = 480: 5080 x 0.3 = 1524 mm3.
    pocket = box(0, 0, 100, 40)
    wood = BOARD.difference(pocket)
    taken = coat_volume_mm3([pocket], wood, 3.0, SealSettings(), (5.0, 0.0))
    assert taken == pytest.approx(1524.0, rel=1e-5)


def test_a_coat_of_shellac_is_bought_ready() -> None:
    shellac = SealSettings(coat_of="shellac", shellac_per_litre=40.0)
    ground = two_dark_pockets()
    brush = next(o for o in compare_seals(ground, shellac) if o.seal.kind == "brush")
    resin = next(o for o in compare_seals(ground, SealSettings()) if o.seal.kind == "brush")
    assert brush.mix is None
    assert brush.volume_ml == pytest.approx(resin.volume_ml)
    assert brush.total_ml == pytest.approx(1.1 * brush.volume_ml)
    assert brush.cost == pytest.approx(brush.total_ml * 0.040)


def test_a_circle_drinks_one_and_a_half_times() -> None:
    # The mean of 1 + (2 - 1) sin^2 over a circle is 1.5.
    circle = Point(0, 0).buffer(10, quad_segs=64).boundary
    points = shapely.get_coordinates(circle)
    edges = np.stack([points[:-1], points[1:]], axis=1)
    assert weighted_length(edges, (1.0, 0.0), 2.0) == pytest.approx(1.5 * circle.length, rel=1e-9)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.floats(20, 80), st.floats(20, 80), st.floats(0.4, 2.0), st.floats(0, 90))
def test_a_band_stays_beside_the_edge(a: float, b: float, border: float, turn: float) -> None:
    shape = shapely.affinity.rotate(box(0, 0, a, b), turn)
    wood = BOARD.difference(shape)
    seal = band(shape, wood, SealSettings(border_mm=border))
    edge = shape.boundary
    assert seal.outline.difference(edge.buffer(6.6 - border + 1e-3, quad_segs=64)).area < 1e-6
    outside = seal.outline.intersection(wood)
    assert outside.difference(edge.buffer(border + 1e-3, quad_segs=64)).area < 1e-6
    assert seal.unsealed_mm <= 8 * 6.6
