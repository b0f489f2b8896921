"""Pockets at the board's edge: dams and overruns."""

import math

import numpy as np
import pytest
import shapely

from img2pour.carve.edges import open_edges, overrun

BOARD = shapely.box(0, 0, 100, 60)
BLANK = shapely.box(-10, -10, 110, 70)
RADIUS = 3.175


def several(*polygons):
    return np.array(polygons, dtype=object)


def test_a_pocket_inside_the_board_is_closed():
    inside = several(shapely.box(10, 10, 30, 30))
    assert open_edges(inside, BOARD) == ()
    assert overrun(inside, BOARD, RADIUS, BLANK)[0].equals(inside[0])


def test_the_dam_is_as_long_as_the_open_edge():
    found = open_edges(several(shapely.box(40, 40, 60, 60), shapely.box(70, 0, 80, 60)), BOARD)
    assert [(edge.region, round(edge.length_mm, 4)) for edge in found] == [
        (0, 20.0),
        (1, 10.0),
        (1, 10.0),
    ]
    assert found[0].at_mm == pytest.approx((50.0, 60.0), abs=1e-3)


def test_an_edge_round_a_corner_is_one():
    for corner in (shapely.box(0, 0, 20, 10), shapely.box(80, 50, 100, 60)):
        found = open_edges(several(corner), BOARD)
        assert [edge.length_mm for edge in found] == [pytest.approx(30.0, abs=1e-4)]


def test_a_pocket_that_touches_the_edge_at_a_point_is_closed():
    touching = several(shapely.Polygon([(10, 10), (30, 10), (20, 0)]))
    assert open_edges(touching, BOARD) == ()


def test_the_overrun_saves_the_corners_at_the_edge():
    """A square at the edge keeps its two outer corners, and loses its two inner ones."""
    pocket = shapely.box(40, 40, 60, 60)
    carried = overrun(several(pocket), BOARD, RADIUS, BLANK)[0]
    assert carried.bounds[3] == pytest.approx(60 + RADIUS + 1)
    changed = carried.intersection(BOARD).symmetric_difference(pocket)
    assert changed.area == pytest.approx(0.0, abs=1e-9)
    cut = carried.buffer(-RADIUS, quad_segs=32).buffer(RADIUS, quad_segs=32).intersection(BOARD)
    inner_corners = (2 - math.pi / 2) * RADIUS**2
    assert pocket.area - cut.area == pytest.approx(inner_corners, rel=0.01)


def test_a_slanting_wall_loses_nothing_at_the_edge():
    slanting = shapely.Polygon([(40, 60), (70, 60), (60, 40), (20, 40)])
    carried = overrun(several(slanting), BOARD, RADIUS, BLANK)[0]
    cut = carried.buffer(-RADIUS, quad_segs=32).buffer(RADIUS, quad_segs=32)
    at_edge = shapely.box(0, 55, 100, 60)
    assert cut.intersection(at_edge).area == pytest.approx(
        slanting.intersection(at_edge).area, rel=1e-3
    )


def test_nothing_is_cut_beyond_the_blank():
    pocket = several(shapely.box(40, 40, 60, 60))
    tight = shapely.box(-1, -1, 101, 61)
    assert overrun(pocket, BOARD, RADIUS, tight)[0].bounds[3] == pytest.approx(61.0)
    assert overrun(pocket, BOARD, RADIUS)[0].equals(pocket[0])
