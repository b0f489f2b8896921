"""Pockets that run off the board: where, how long, and carried past the edge; the rim instead."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from img2pour.carve.edges import APART_MM, OVERRUN_MM, carry_over, edge_radius_mm, open_edges
from img2pour.carve.profile import profile_of
from img2pour.job.bits import Bit

BOARD = shapely.box(0, 0, 200, 120)
BLANK = shapely.box(-25, -25, 225, 145)
RADIUS = 2.0
REACH = RADIUS + OVERRUN_MM


def opened(shape: shapely.Geometry, radius: float) -> shapely.Geometry:
    """Return what a round bit cuts of a shape."""
    return shape.buffer(-radius, quad_segs=64).buffer(radius, quad_segs=64)


def test_edge_is_as_long_as_what_lies_along_it() -> None:
    pockets = np.array([shapely.box(50, 0, 90, 40), shapely.box(100, 50, 120, 60)], dtype=object)
    (edge,) = open_edges(pockets, BOARD)
    assert edge.region == 0
    assert edge.length_mm == pytest.approx(40, abs=1e-4)
    assert edge.at_mm == pytest.approx((70, 0), abs=1e-4)


def test_a_disc_that_touches_the_edge_needs_no_dam() -> None:
    disc = shapely.Point(60, 15).buffer(15, quad_segs=256)
    assert open_edges(np.array([disc], dtype=object), BOARD) == ()


def test_edge_around_a_corner_of_the_board_is_one() -> None:
    (edge,) = open_edges(np.array([shapely.box(170, 90, 200, 120)], dtype=object), BOARD)
    assert edge.length_mm == pytest.approx(60, abs=1e-4)
    assert edge.at_mm == pytest.approx((200, 120), abs=1e-3)


def test_pocket_overruns_by_the_radius_and_one_mm() -> None:
    (cut,) = carry_over([shapely.box(50, 0, 90, 40)], [RADIUS], BOARD, BLANK)
    assert cut.bounds == pytest.approx((50 - REACH, -REACH, 90 + REACH, 40), abs=1e-4)


@pytest.mark.parametrize("slant", [-60.0, -20.0, 0.0, 35.0, 70.0])
def test_no_corner_is_lost_at_the_edge(slant: float) -> None:
    """A stroke that leaves the board at a slant keeps its acute corner at the edge."""
    shift = 60 * math.tan(math.radians(slant))
    stroke = shapely.Polygon([(90, 0), (110, 0), (110 + shift, 60), (90 + shift, 60)])
    stroke = stroke.intersection(BOARD)
    (cut,) = carry_over([stroke], [RADIUS], BOARD, BLANK)
    near_edge = stroke.intersection(shapely.box(0, 0, 200, 15))
    # Offsets of long sides are off by up to a hundredth of the radius.
    assert near_edge.difference(opened(cut, RADIUS).buffer(0.02)).area < 1e-3
    assert near_edge.difference(opened(stroke, RADIUS).buffer(0.02)).area > 0.5


def test_nothing_is_cut_beyond_the_blank() -> None:
    narrow = shapely.box(-1, -1, 201, 121)
    (cut,) = carry_over([shapely.box(50, 0, 90, 40)], [RADIUS], BOARD, narrow)
    assert cut.bounds[1] == pytest.approx(-1, abs=1e-4)
    (same,) = carry_over([shapely.box(50, 0, 90, 40)], [RADIUS], BOARD)
    assert same.equals(shapely.box(50, 0, 90, 40))


def test_two_pockets_keep_wood_between_them_beyond_the_board() -> None:
    """3 mm apart, each may reach 3 mm to the side: there they go straight on."""
    pair = [shapely.box(50, 0, 90, 40), shapely.box(93, 0, 120, 40)]
    left, right = carry_over(pair, [RADIUS, RADIUS], BOARD, BLANK)
    assert left.distance(right) >= APART_MM
    assert left.bounds[0] == pytest.approx(50 - REACH, abs=1e-4)
    assert right.bounds[1] == pytest.approx(-REACH, abs=1e-4)


def test_pocket_inside_the_board_stays_as_it_is() -> None:
    inside = shapely.box(50, 10, 90, 40)
    (cut,) = carry_over([inside], [RADIUS], BOARD, BLANK)
    assert cut is inside


def test_finest_bit_that_cuts_the_wall_tells_the_radius() -> None:
    """Upright walls: the 1/8 in flat bit; sloped ones: 3 mm x tan 15 degrees of the vee."""
    flat, vee = Bit("flat", "flat", 3.175), Bit("vee", "vee", 6.35, 30.0)
    profiles = [profile_of(flat), profile_of(vee)]
    assert edge_radius_mm(profiles, 3.0, "upright") == pytest.approx(3.175 / 2)
    slope = 3.0 * math.tan(math.radians(15))
    assert edge_radius_mm(profiles, 3.0, "sloped") == pytest.approx(slope)
