"""Stages: underlap, depths and heights on boards small enough to work out by hand."""

import itertools
from dataclasses import replace

import pytest
from shapely.geometry import Point, box

from img2pour.job.bits import Bit
from img2pour.pours.pour import Pour
from img2pour.pours.seals import SealSettings, band, brushed
from img2pour.pours.stages import BitChoice, StageSettings, plan_stages, stage_warnings
from img2pour.pours.underlap import UnderlapSettings

FLAT = Bit("flat 1/8 in", "flat", 3.175)
FINE = Bit("vee 30 deg", "vee", 6.0, angle_deg=30.0)
SETTINGS = StageSettings(underlap=UnderlapSettings(2.0, 1.0))

ISLAND = Point(50, 50).buffer(15, quad_segs=64)
FIELD = box(20, 20, 80, 80).difference(ISLAND)
BOARD = box(0, 0, 100, 100)
WOOD = BOARD.difference(box(20, 20, 80, 80))
POURS = [Pour("sea", "blue", ("sea",), FIELD, 30.0), Pour("sun", "gold", ("sun",), ISLAND, 85.0)]
SHELF = BitChoice((FLAT,), {"sun": (FINE,)})


def test_a_field_goes_under_the_island_that_follows() -> None:
    sea, sun = plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, SETTINGS)
    assert [(s.number, s.name, s.kind, s.resins) for s in (sea, sun)] == [
        (1, "sea", "pour", ("blue",)),
        (2, "sun", "pour", ("gold",)),
    ]
    # A ring of 2 mm inside a disc of 15 mm: pi (15^2 - 13^2) = 175.93 mm2.
    assert sea.pockets[0].under.area == pytest.approx(175.93, rel=2e-3)
    assert sea.outline.area == pytest.approx(FIELD.area + 175.93, rel=1e-3)
    assert sun.pockets[0].under.is_empty
    assert (sea.pockets[0].bits, sun.pockets[0].bits) == ((FLAT,), (FINE,))


def test_a_later_pour_is_cut_shallower() -> None:
    sea, sun = plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, SETTINGS)
    assert sea.depth_mm == 3.175
    assert sun.depth_mm == pytest.approx(2.775)
    # The blank is 19.05 mm: floors at 15.875 and 16.275 mm above the bed.
    assert (sea.floor_mm, sun.floor_mm) == (pytest.approx(15.875), pytest.approx(16.275))


def test_pours_that_touch_nothing_keep_their_depth() -> None:
    apart = [
        Pour("one", "one", (), box(0, 0, 10, 10), 20.0),
        Pour("two", "two", (), box(30, 0, 40, 10), 20.0),
        Pour("three", "three", (), box(10, 0, 25, 10), 20.0),
    ]
    first, second = plan_stages(apart, ((0, 1), (2,)), box(0, 10, 40, 20), SHELF, SETTINGS)
    assert first.name == "one + two"
    assert [pocket.depth_mm for pocket in first.pockets] == [3.175, 3.175]
    assert second.depth_mm == pytest.approx(2.775)
    alone = plan_stages(apart[:2], ((0,), (1,)), WOOD, SHELF, SETTINGS)
    assert [stage.depth_mm for stage in alone] == [3.175, 3.175]


def test_a_chain_of_overlaps_gets_shallower_each_time() -> None:
    rings = [Point(0, 0).buffer(r, quad_segs=32) for r in (40, 30, 20, 10)]
    shapes = [a.difference(b) for a, b in itertools.pairwise(rings)] + [rings[-1]]
    pours = [Pour(str(i), str(i), (), shape, 50.0) for i, shape in enumerate(shapes)]
    stages = plan_stages(pours, ((0,), (1,), (2,), (3,)), WOOD, SHELF, SETTINGS)
    assert [s.depth_mm for s in stages] == pytest.approx([3.175, 2.775, 2.375, 1.975])
    # At the finished face 0.5 mm less: 1.475 mm is below 1/16 in = 1.5875 mm.
    (warning,) = stage_warnings(stages, pours, SETTINGS)
    assert "3: only 1.48 mm deep at the finished face" in warning
    assert "deeper by 0.11 mm" in warning
    # Several in one line, the shallowest first.
    (warning,) = stage_warnings(stages, pours, replace(SETTINGS, least_depth_mm=2.0))
    assert "3: only 1.48 mm deep at the finished face (2 1.88 mm), below the least" in warning
    assert "deeper by 0.52 mm" in warning


def test_the_seal_comes_first_and_deepest() -> None:
    shape = box(20, 20, 80, 80)
    seal = band(shape, WOOD, SealSettings())
    clear, sea, sun = plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, SETTINGS, seal)
    assert (clear.number, clear.name, clear.kind) == (1, "clear", "seal")
    assert clear.depth_mm == pytest.approx(3.675)
    assert sea.depth_mm == 3.175  # its floor lies 0.5 mm above the seal's: in cured clear
    assert sun.depth_mm == pytest.approx(2.775)
    assert sun.number == 3


def test_a_seal_that_carves_nothing_is_no_stage() -> None:
    seal = brushed("brush", box(20, 20, 80, 80), WOOD)
    assert len(plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, SETTINGS, seal)) == 2


def test_pale_over_dark_is_told() -> None:
    stages = plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, SETTINGS)
    (warning,) = stage_warnings(stages, POURS, SETTINGS)
    assert warning == (
        "sun is lighter, 2.27 mm thick, and lies over the darker sea (1.8 cm2): "
        "use an opaque pigment"
    )
    dark = plan_stages(POURS, ((1,), (0,)), WOOD, SHELF, SETTINGS)
    assert stage_warnings(dark, POURS, SETTINGS) == ()


def test_a_resin_in_two_stages() -> None:
    # Black ground, a white disc in it, and a black dot in the disc, poured last.
    dot, disc = Point(0, 0).buffer(3), Point(0, 0).buffer(20)
    ground = box(-40, -40, 40, 40).difference(disc)
    pours = [
        Pour("ground", "black", ("black",), ground, 10.0),
        Pour("disc", "white", ("white",), disc.difference(dot), 95.0),
        Pour("dot", "black", ("black",), dot, 10.0),
    ]
    stages = plan_stages(pours, ((0,), (1,), (2,)), WOOD, SHELF, SETTINGS)
    assert [stage.resins for stage in stages] == [("black",), ("white",), ("black",)]
    # The dot is too small to carve round: the disc goes right through under it.
    assert stages[1].outline.area == pytest.approx(disc.area, rel=1e-9)


def test_a_tray_is_carved_from_the_bottom_of_its_recess() -> None:
    recessed = StageSettings(blank_mm=25.0, face_below_top_mm=6.0)
    sea, _ = plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, recessed)
    assert sea.top_mm == 19.0
    assert sea.floor_mm == pytest.approx(19.0 - 3.175)


def test_what_is_done_does_not_go_under_a_pour_decided_on_since() -> None:
    # The sea is poured; then the sun, wood until now, is to be poured as well.
    later = StageSettings(underlap=UnderlapSettings(2.0, 1.0), done=1, added=("sun",))
    sea, sun = plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, later)
    assert sea.pockets[0].under.is_empty
    assert sea.outline.area == pytest.approx(FIELD.area)
    assert sun.depth_mm == 3.175  # its pocket cuts no earlier one
    planned = StageSettings(underlap=UnderlapSettings(2.0, 1.0), done=1)
    assert not plan_stages(POURS, ((0,), (1,)), WOOD, SHELF, planned)[0].pockets[0].under.is_empty
