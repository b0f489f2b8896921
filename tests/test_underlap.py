"""Underlap against closed forms (u = 2 mm)."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from img2pour.pours.underlap import (
    UnderlapSettings,
    carry_under,
    is_cheaper_through,
    under,
    underlap_width_mm,
)

U2 = UnderlapSettings(width_mm=2.0, least_core_mm=1.0)


def disc(radius: float) -> shapely.Polygon:
    return Point(0, 0).buffer(radius, quad_segs=256)


def test_two_squares_side_by_side() -> None:
    # A strip of 2 x 50 mm.
    assert under(box(0, 0, 50, 50), box(50, 0, 100, 50), U2).area == pytest.approx(100, rel=1e-12)


def test_an_enclosed_disc() -> None:
    field = box(-50, -50, 50, 50).difference(disc(10))
    ring = under(field, disc(10), U2).area
    assert ring == pytest.approx(math.pi * (100 - 64), rel=1e-3)  # a ring of 2 mm inside
    through = under(field, disc(10), UnderlapSettings(2.0, 1.0, through=True)).area
    assert through == pytest.approx(314.159, rel=1e-4)  # pi 10^2
    island_first = under(disc(10), field, U2).area
    assert island_first == pytest.approx(138.230, rel=1e-3)  # pi (12^2 - 10^2)


@pytest.mark.parametrize(
    ("width", "least_core", "area"),
    [
        (3.0, 1.0, 150.0),  # narrower than 2u: fills by itself
        (4.5, 1.0, 225.0),  # a core of 0.5 mm cannot stand: right through
        (4.5, 0.4, 200.0),  # it can: two strips of 2 x 50
    ],
)
def test_a_strip_between_two_sides(width: float, least_core: float, area: float) -> None:
    sides = shapely.union(box(-40, 0, 0, 50), box(width, 0, width + 40, 50))
    strip = box(0, 0, width, 50)
    carried = under(sides, strip, UnderlapSettings(2.0, least_core)).area
    assert carried == pytest.approx(area, abs=1e-6)


def test_a_core_that_leans_on_wood_stands() -> None:
    # A strip 2.5 wide between a pour and wood: the half millimetre left is part of the wood.
    pour, strip, wood = box(-40, 0, 0, 50), box(0, 0, 2.5, 50), box(2.5, 0, 40, 50)
    assert under(pour, strip, U2).area == pytest.approx(125.0)
    assert under(pour, strip, U2, solid=[wood]).area == pytest.approx(100.0)


def test_a_small_island_is_not_worth_its_core() -> None:
    # pi r^2 < 2 pi r u + pi u^2 for r < u (1 + sqrt 2) = 4.828 mm.
    assert is_cheaper_through(disc(4.8), 2.0)
    assert not is_cheaper_through(disc(4.9), 2.0)
    field = box(-50, -50, 50, 50).difference(disc(4.5))
    assert under(field, disc(4.5), UnderlapSettings(2.0, 0.1)).area == pytest.approx(
        disc(4.5).area, rel=1e-9
    )


def test_pours_that_do_not_meet_are_left_alone() -> None:
    carried = carry_under(box(0, 0, 10, 10), box(30, 0, 40, 10), U2)
    assert carried.under.is_empty
    assert carried.outline.equals(box(0, 0, 10, 10))


def test_it_does_not_jump_over_a_wall_of_wood() -> None:
    assert under(box(0, 0, 10, 10), box(11, 0, 20, 10), U2).is_empty


@pytest.mark.parametrize("gap", [3.0, 3.5, 4.0, 4.5, 5.0, 6.0])
def test_two_underlaps_of_one_stage_keep_a_wall_between_them(gap: float) -> None:
    left, right = box(0, 0, 20, 30), box(20 + gap, 0, 40 + gap, 30)
    later = box(20, 0, 20 + gap, 30)
    one = carry_under(left, later, U2, beside=[right])
    two = carry_under(right, later, U2, beside=[left])
    assert one.outline.distance(two.outline) >= 1.0 - 1e-9
    assert min(one.under.area, two.under.area) >= 30 * 1.0 - 1e-6  # at least 1 mm each


def test_the_usual_width() -> None:
    assert underlap_width_mm(None) == 2.0
    assert underlap_width_mm(3.175) == 2.0
    assert underlap_width_mm(6.35) == 3.175


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.floats(1, 60), st.floats(1, 60), st.floats(0.5, 4.0), st.floats(0.2, 3.0), st.booleans())
def test_nothing_visible_changes(
    wide: float, high: float, u: float, core: float, through: bool
) -> None:
    island = shapely.affinity.rotate(box(0, 0, wide, high), 31.0)
    field = box(-90, -90, 90, 90).difference(island)
    chosen = UnderlapSettings(u, core, through)
    carried = carry_under(field, island, chosen)
    assert carried.under.difference(island).area < 1e-9
    assert carried.outline.difference(island).symmetric_difference(field).area < 1e-6
    least = island.area - island.buffer(-u).area
    assert least - 1e-6 <= carried.under.area <= island.area + 1e-6


def test_what_lies_in_another_pour_is_not_gone_under() -> None:
    """A frame, in its hole a field, in the field a small dot: the frame stays away from the dot."""
    dot = Point(50, 50).buffer(3, quad_segs=32)
    field = box(20, 20, 80, 80) - dot
    frame = box(0, 0, 100, 100) - box(20, 20, 80, 80)
    for through in (False, True):
        settings = UnderlapSettings(2.0, 1.5, through)
        assert not under(frame, dot, settings).intersects(dot)
        assert under(field, dot, settings).area == pytest.approx(dot.area)
