"""Necks, ends, islands and corners: planted ones are found, and nothing else is."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from img2pour.carve.medial import medial_axis
from img2pour.carve.profile import Profile
from img2pour.carve.reach import colour_reach, needs_of
from tests.stars import stars
from tests.thin import thin_places

BIT = 3.175
RADIUS = BIT / 2
FLAT = needs_of([Profile(RADIUS, 0.0, 0.0, RADIUS)])


def vee(angle_deg, tip_mm=0.0):
    return Profile(tip_mm / 2, 0.0, math.radians(angle_deg) / 2, 30.0)


def several(*polygons):
    return np.array(polygons, dtype=object)


def channel(width):
    left, right = shapely.box(-12, -5, -3, 5), shapely.box(3, -5, 12, 5)
    return shapely.union_all([left, right, shapely.box(-4, -width / 2, 4, width / 2)])


def short_channel(width):
    left, right = shapely.box(-12, -5, -0.05, 5), shapely.box(0.05, -5, 12, 5)
    return shapely.union_all([left, right, shapely.box(-1, 1 - width / 2, 1, 1 + width / 2)])


def two_discs(width):
    """Two 64-gons with vertices on the x axis, cut off where they are `width` high."""
    angles = np.arange(64) * 2 * math.pi / 64
    disc = np.stack([5 * np.cos(angles), 5 * np.sin(angles)], axis=1)
    polygon = shapely.Polygon(disc)
    # The chord at x = c of the polygon is `width` high: solved by bisection on the polygon itself.
    low, high = 0.0, 5.0
    for _ in range(60):
        middle = (low + high) / 2
        chord = polygon.intersection(shapely.LineString([(middle, -9), (middle, 9)])).length
        low, high = (middle, high) if chord > width else (low, middle)
    left = affinity.translate(polygon.intersection(shapely.box(-9, -9, low, 9)), -low)
    return left.union(affinity.scale(left, -1, 1, origin=(0, 0)))


def notches(width):
    above = shapely.Polygon([(-2, 5.1), (2, 5.1), (0, width / 2)])
    below = affinity.scale(above, 1, -1, origin=(0, 0))
    return shapely.box(-10, -5, 10, 5) - above - below


def crescent(width):
    return shapely.Point(0, 0).buffer(12, quad_segs=64) - shapely.Point(8 - width, 0).buffer(
        4, quad_segs=64
    )


def hole_near_edge(width):
    return shapely.box(0, 0, 20, 20) - shapely.box(width, 8, width + 4, 11)


SHAPES = [channel, short_channel, two_discs, notches, crescent, hole_near_edge]


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
@pytest.mark.parametrize("share", [0.047, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95, 0.98])
def test_planted_necks_are_found_alone_and_with_their_width(shape, share):
    """Truth: from 0.15 mm to 0.98 of the bit, turned at will."""
    width = share * BIT
    turned = affinity.rotate(shape(width), 360 * share * 7, origin=(1, 2))
    found = thin_places(several(turned), BIT)
    assert [place.kind for place in found] == ["neck"]
    assert found[0].width_mm == pytest.approx(width, abs=0.02)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.__name__)
@pytest.mark.parametrize("factor", [1.0, 1.02, 1.5])
def test_places_as_wide_as_the_bit_are_no_necks(shape, factor):
    turned = affinity.rotate(shape(factor * BIT), 33 * factor, origin=(1, 2))
    assert thin_places(several(turned), BIT) == ()


def test_the_place_and_direction_of_a_neck():
    found = thin_places(several(notches(1.0)), BIT)[0]
    assert found.at_mm == pytest.approx((0.0, 0.0), abs=0.05)
    assert min(found.direction_deg, 180 - found.direction_deg) < 1.0


def test_a_stroke_end_is_an_end_and_blunt_corners_are_not():
    stub = shapely.union_all([shapely.box(0, 0, 10, 10), shapely.box(9, 4, 20, 6)])
    found = thin_places(several(stub), BIT)
    assert [place.kind for place in found] == ["end"]
    assert found[0].width_mm == pytest.approx(2.0, abs=0.05)
    for corners in (3, 4, 5, 6):
        turns = 2 * math.pi * np.arange(corners) / corners
        polygon = shapely.Polygon(np.stack([9 * np.cos(turns), 9 * np.sin(turns)], axis=1))
        assert thin_places(several(polygon), BIT) == ()


@pytest.mark.parametrize("angle_deg", [4, 10, 20, 28, 40])
def test_a_sharp_tip_is_a_corner_however_long(angle_deg):
    spread = math.tan(math.radians(angle_deg / 2))
    length = 6 / spread
    kite = shapely.Polygon([(0, 0), (length, -6), (length + 5, 0), (length, 6)])
    assert thin_places(several(affinity.rotate(kite, 3 * angle_deg)), BIT) == ()


def test_a_stroke_that_ends_in_a_point_is_an_end():
    point = shapely.Polygon([(9, -1), (20, -1), (25, 0), (20, 1), (9, 1)])
    found = thin_places(several(shapely.union(shapely.box(0, -5, 10, 5), point)), BIT)
    assert [place.kind for place in found] == ["end"]
    assert found[0].width_mm == pytest.approx(2.0, abs=0.05)


def test_regions_are_told_apart():
    shapes = [affinity.translate(channel(width), 40 * i) for i, width in enumerate([9.0, 1.0, 2.0])]
    found = thin_places(several(*shapes), BIT)
    assert [place.polygon for place in found] == [1, 2]


def test_no_regions_have_no_places():
    assert thin_places(several(), BIT) == ()


def test_widths_on_the_axis_are_distances_to_the_outline():
    axis = medial_axis(several(channel(1.7)), BIT)
    within = np.abs(axis.points[:, 0]) < 2.5
    assert within.sum() > 10
    assert axis.clearance_mm[within] == pytest.approx(0.85, abs=0.005)


def test_corners_beside_a_neck_do_not_count_as_its_width():
    """A channel 2 mm wide that turns, forks and turns again."""
    path = shapely.LineString([(0, 0), (14, 0), (14, 14), (28, 14)])
    fork = shapely.LineString([(14, 7), (20, 7)])
    bends = shapely.union(path.buffer(1, join_style="mitre"), fork.buffer(1, cap_style="square"))
    polygon = shapely.union_all([bends, shapely.box(-10, -5, 0, 5), shapely.box(28, 9, 38, 19)])
    found = thin_places(several(polygon), BIT)
    assert [place.kind for place in found] == ["neck"]
    assert found[0].width_mm == pytest.approx(2.0, abs=0.02)


def reach(polygon, needs=FLAT):
    return colour_reach(several(polygon), 3, needs)


def test_the_corners_of_a_square_lose_their_closed_form():
    found = reach(shapely.box(0, 0, 20, 20))
    assert found.findings == ()
    assert found.lost_mm2 == 0.0
    assert found.corners_mm2 == pytest.approx((4 - math.pi) * RADIUS**2, rel=0.01)
    assert found.kept_share == pytest.approx(1 - found.corners_mm2 / 400)


def test_a_vee_loses_no_corners():
    found = reach(shapely.box(0, 0, 20, 20), needs_of([vee(30)]))
    assert (found.lost_mm2, found.corners_mm2, found.kept_share) == (0.0, 0.0, 1.0)


def test_a_tipped_vee_loses_the_corners_of_its_tip():
    found = reach(shapely.box(0, 0, 20, 20), needs_of([vee(60, 0.6)]))
    assert found.corners_mm2 == pytest.approx((4 - math.pi) * 0.3**2, rel=0.02)


def test_a_lost_island_is_lost_whole():
    stroke = shapely.box(0, 0, 20, 2)
    found = reach(stroke)
    assert [(f.kind, f.area_mm2, f.shallow) for f in found.findings] == [("island", 40.0, False)]
    assert stroke.buffer(-0.9).contains(shapely.Point(found.findings[0].at_mm))
    assert found.kept_share == 0.0


def test_a_round_dot_is_a_lost_island():
    found = reach(shapely.Point(5, 5).buffer(1.2))
    assert [f.kind for f in found.findings] == ["island"]
    assert found.findings[0].width_mm == pytest.approx(2.4, abs=0.03)


def test_a_channel_loses_its_area_and_a_short_neck_none():
    """A 6 mm channel, less what the bit sees of it past the mouths: 2 (w r - lens), by hand."""
    width = 2.0
    long = reach(channel(width))
    half = width / 2
    segment = RADIUS**2 * math.asin(half / RADIUS) - half * math.sqrt(RADIUS**2 - half**2)
    assert long.lost_mm2 == pytest.approx(6 * width - 2 * segment, rel=0.01)
    assert long.count("neck") == 1
    waist = reach(two_discs(2.5))
    assert waist.count("neck") == 1
    assert waist.lost_mm2 < 0.01


def test_a_vee_cuts_narrow_strokes_shallow():
    """A 30 degree vee is 0.851 mm wide at 1/16 in."""
    needs = needs_of([vee(30)])
    assert needs.width_mm == pytest.approx(0.8507, abs=1e-4)
    found = reach(shapely.box(0, 0, 20, 0.8), needs)
    assert [(f.kind, f.shallow) for f in found.findings] == [("island", True)]
    assert reach(shapely.box(0, 0, 20, 0.9), needs).findings == ()


def test_the_thinnest_stroke_is_told_even_if_it_is_wide_enough():
    assert reach(channel(5.0)).thinnest_mm == pytest.approx(5.0, abs=0.05)
    assert reach(channel(1.0)).thinnest_mm == pytest.approx(1.0, abs=0.02)
    assert reach(shapely.box(0, 0, 60, 60)).thinnest_mm is None


def test_a_colour_without_regions_is_kept():
    empty = colour_reach(several(), 0, FLAT)
    assert (empty.regions, empty.kept_share) == (0, 1.0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(stars(2.0, 9.0), st.floats(0.8, 4.0), st.floats(1.05, 2.0))
def test_a_larger_bit_never_keeps_more(polygon, diameter, factor):
    small = needs_of([Profile(diameter / 2, 0.0, 0.0, diameter / 2)])
    large = needs_of([Profile(factor * diameter / 2, 0.0, 0.0, factor * diameter / 2)])
    allowance = 0.003 * math.pi * (factor * diameter / 2) ** 2 / polygon.area
    assert reach(polygon, large).kept_share <= reach(polygon, small).kept_share + allowance


@settings(max_examples=40, deadline=None, derandomize=True)
@given(stars(2.0, 9.0), st.floats(0.8, 4.0))
def test_islands_are_those_that_an_erosion_empties(polygon, diameter):
    needs = needs_of([Profile(diameter / 2, 0.0, 0.0, diameter / 2)])
    is_lost = reach(polygon, needs).count("island") == 1
    if polygon.buffer(-0.97 * diameter / 2).is_empty:
        assert is_lost
    if not polygon.buffer(-1.005 * diameter / 2).is_empty:
        assert not is_lost
