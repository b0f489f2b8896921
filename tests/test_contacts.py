"""Contacts of shapes, against lengths known by hand and against overlays of shapely."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from img2pour.pours.contacts import find_contacts, touching_line
from img2pour.pours.geometry import polygons_of

LEFT, RIGHT, TOP = box(0, 0, 50, 40), box(50, 0, 100, 40), box(0, 40, 100, 80)


def test_neighbours_that_share_vertices_and_those_that_do_not() -> None:
    contacts = find_contacts([LEFT, RIGHT, TOP])
    lengths = {
        (i, j): contacts.length_mm[contacts.between(i, j)].sum() for i in range(3) for j in range(3)
    }
    # The line between left and right is the same segment; the top's 100 mm edge is not.
    assert lengths[0, 1] == lengths[1, 0] == 40
    assert lengths[0, 2] == pytest.approx(50)
    assert lengths[2, 0] == pytest.approx(50)
    assert lengths[0, 0] == 0


def test_corners_are_no_contact() -> None:
    assert len(find_contacts([box(0, 0, 1, 1), box(1, 1, 2, 2)]).shape) == 0
    assert len(find_contacts([box(0, 0, 1, 1), box(1.01, 0, 2, 1)]).shape) == 0
    assert len(find_contacts([]).shape) == 0
    assert len(find_contacts([shapely.MultiPolygon(), box(0, 0, 1, 1)]).shape) == 0


def test_an_island_is_touched_all_round() -> None:
    island = Point(50, 40).buffer(10, quad_segs=64)
    field = box(0, 0, 100, 80).difference(island)
    assert touching_line(field, [island]).length == pytest.approx(2 * math.pi * 10, rel=1e-3)
    contacts = find_contacts([field, island])
    assert [contacts.owner[part] for part in (0, 1)] == [0, 1]
    assert touching_line(field, [island]).is_ring


def test_a_slanted_edge_with_a_vertex_on_one_side_only() -> None:
    whole = shapely.Polygon([(0, 0), (30, 17), (0, 40)])
    halves = [
        shapely.Polygon([(0, 0), (20, -10), (15, 8.5)]),
        shapely.Polygon([(15, 8.5), (40, 0), (30, 17)]),
    ]
    assert touching_line(whole, halves).length == pytest.approx(math.hypot(30, 17), rel=1e-9)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 30))
def test_lengths_agree_with_overlays(seed: int, count: int) -> None:
    random = np.random.default_rng(seed)
    points = shapely.MultiPoint(random.uniform(0, 100, (count, 2)))
    cells = shapely.get_parts(shapely.voronoi_polygons(points, extend_to=box(0, 0, 100, 100)))
    colours = random.integers(0, 3, len(cells))
    shapes = [shapely.multipolygons(cells[colours == k]) for k in range(3)]
    shapes = [shapely.MultiPolygon(polygons_of(shapely.union_all([s]))) for s in shapes]
    contacts = find_contacts(shapes)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        overlay = shapes[i].boundary.intersection(shapes[j].boundary.buffer(1e-6)).length
        found = contacts.length_mm[contacts.between(i, j)].sum()
        assert found == pytest.approx(overlay, abs=1e-3)
        assert contacts.line(contacts.between(i, j)).length == pytest.approx(found)
