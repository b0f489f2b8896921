"""Checks of the whole board, against published figures and boards worked out by hand."""

import pytest
import shapely
from shapely.geometry import Point, box

from img2pour.errors import SettingsError
from img2pour.pours.checks import (
    WoodSettings,
    check_bed,
    check_edges,
    check_floor,
    check_movement,
    check_wood_left,
    least_floor_mm,
    movement_mm,
    width_across_mm,
)
from img2pour.pours.stages import Stage, StagePocket


def stage(outline: shapely.Geometry, depth_mm: float = 3.175, blank_mm: float = 19.05) -> Stage:
    none = shapely.MultiPolygon()
    pocket = StagePocket("sea", "blue", outline, none, depth_mm, ())
    return Stage(1, "sea", "pour", (pocket,), blank_mm)


@pytest.mark.parametrize(
    ("wood", "moves_mm"),
    [
        # 300 mm across a flat-sawn board from 8 to 12 %, worked out with the tangential shrinkage
        # of the USDA Wood Handbook, Table 4-3. Cherry: 3000 / 7.1 - 30 + 8 = 400.54;
        # 300 x 4 / 400.54 = 2.996.
        ("black cherry", 3.0),
        ("black walnut", 3.3),
        ("hard maple", 4.3),
        ("white oak", 4.6),
    ],
)
def test_wood_moves_as_the_handbook_says(wood: str, moves_mm: float) -> None:
    found = movement_mm(300.0, WoodSettings(wood).shrinkage_percent, 8.0, 12.0)
    assert found == pytest.approx(moves_mm, abs=0.05)
    # For small changes it is near D x C_T x dM with C_T = S_T / 3000 and a few percent more.
    simple = 300.0 * WoodSettings(wood).shrinkage_percent / 3000.0 * 4.0
    assert found == pytest.approx(simple, rel=0.09)


def test_movement_there_and_back_is_nothing() -> None:
    wet = 100.0 + movement_mm(100.0, 8.0, 6.0, 14.0)
    assert wet + movement_mm(wet, 8.0, 14.0, 6.0) == pytest.approx(100.0, rel=1e-12)


def test_wide_pours_across_the_grain_are_told() -> None:
    long = box(0, 0, 300, 20)
    assert width_across_mm(long, (1.0, 0.0)) == 20
    assert width_across_mm(long, (0.0, 2.0)) == 300
    assert check_movement([("sea", long)], WoodSettings("white oak")) == ()
    (finding,) = check_movement([("sea", long)], WoodSettings("white oak", grain=(0, 1)))
    assert "sea is 300 mm wide across the grain" in finding.words
    assert "moves 4.6 mm from 8 to 12 % moisture" in finding.words
    # Quarter-sawn, 5.6 %: 3000 / 5.6 - 22 = 513.7; 1200 / 513.7 = 2.336.
    quarter = WoodSettings("white oak", quarter_sawn=True, grain=(0, 1))
    assert check_movement([("sea", long)], quarter)[0].value == pytest.approx(2.336, abs=1e-3)
    # One finding for all: the widest with its figure, the others by name.
    pair = [("sea", long), ("sky", box(0, 30, 200, 50)), ("dot", box(0, 0, 5, 5))]
    (finding,) = check_movement(pair, WoodSettings("white oak", grain=(0, 1)))
    assert "sea is 300 mm wide" in finding.words
    assert "(and less in sky)" in finding.words
    # Two islands far apart do not move as one.
    apart = shapely.MultiPolygon([box(0, 0, 10, 10), box(0, 290, 10, 300)])
    assert check_movement([("sea", apart)], WoodSettings("white oak")) == ()


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"species": "plastic"}, "wood 'plastic' is not in the table; there are: white oak"),
        ({"from_mc": -1.0}, "a moisture content of -1 % cannot be; give 0 to 30"),
        ({"to_mc": 45.0}, "a moisture content of 45 %"),
    ],
)
def test_wood_that_cannot_be_is_told(values: dict[str, object], message: str) -> None:
    with pytest.raises(SettingsError, match=message):
        WoodSettings(**values)  # type: ignore[arg-type]


def test_the_floor_is_six_millimetres_or_a_third() -> None:
    assert (least_floor_mm(19.05), least_floor_mm(12.0)) == (6.0, 4.0)
    assert check_floor([stage(box(0, 0, 9, 9))]) == ()
    (finding,) = check_floor([stage(box(0, 0, 9, 9), depth_mm=9.0, blank_mm=12.0)])
    assert finding.words == (
        "stage 1 (sea) leaves a floor of 3.0 mm, less than 4.0 mm: cut at most 8.0 mm deep or "
        "take a thicker blank"
    )
    assert check_floor([stage(box(0, 0, 9, 9), 9.0, 12.0)], least_mm=3.0) == ()


def test_pockets_near_the_edge_are_told_but_not_those_that_run_over_it() -> None:
    board = box(0, 0, 200, 100)
    pockets = shapely.MultiPolygon(
        [box(0, 40, 20, 60), box(50, 10, 60, 96), Point(150, 50).buffer(20), box(180, 3, 190, 20)]
    )
    (found,) = check_edges(pockets, board)
    assert (round(found.value, 9), found.limit) == (3.0, 6.0)
    assert "within 3.0 mm of the board's edge" in found.words
    assert "(1 more within 6 mm)" in found.words
    assert check_edges(box(50, 40, 60, 60), board) == ()


def test_the_bed_is_tried_both_ways() -> None:
    assert check_bed((400, 300), None) == ()
    assert check_bed((400, 300), (400, 300)) == ()
    (turned,) = check_bed((300, 400), (400, 300))
    assert "it fits turned by a quarter" in turned.words
    (large,) = check_bed((500, 400), (400, 300))
    assert "make it smaller or carve it in parts" in large.words
    assert large.value == 100


def test_too_little_wood_is_told() -> None:
    board = box(0, 0, 100, 100)
    assert check_wood_left([stage(box(10, 10, 90, 90))], board) == ()  # 36 % stays
    (finding,) = check_wood_left([stage(box(5, 5, 95, 95))], board)
    assert finding.value == pytest.approx(0.19)
    assert "only 19% of the face stays wood" in finding.words
    assert "a floor of 15.9 mm holds the rest" in finding.words


def test_a_board_cut_from_edge_to_edge_is_told() -> None:
    board = box(0, 0, 100, 100)
    (finding,) = check_wood_left([stage(box(40, 0, 50, 100))], board)
    assert "2 pieces of wood hang together only by a floor" in finding.words
    # An island of wood inside a pocket is no such piece.
    ring = box(30, 30, 70, 70).difference(box(45, 45, 55, 55))
    assert check_wood_left([stage(ring)], board) == ()
