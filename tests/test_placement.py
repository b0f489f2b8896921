"""Truth: a similarity turns areas by its scale squared and keeps left on the left."""

import numpy as np
import pytest

from img2pour.plane.placement import Placement, picture_placement, place
from img2pour.plane.regionmap import face_areas, ring_areas, rings
from img2pour.plane.walk import walk
from tests.maps import disc_map, patchwork
from tests.tracing import assert_sound

TURN = np.radians(30)
MATRICES = {
    "picture": picture_placement(24, 0.4, left_mm=3, bottom_mm=-2).matrix,
    "turned": np.array(
        [[np.cos(TURN), -np.sin(TURN), 5], [np.sin(TURN), np.cos(TURN), 1], [0, 0, 1]]
    ),
    "mirrored": np.array([[-2.0, 0, 7], [0, 2, 0], [0, 0, 1]]),
}


@pytest.mark.parametrize("name", MATRICES)
def test_faces_keep_their_areas_and_sides(name: str):
    placement = Placement(MATRICES[name])
    region_map = walk(patchwork(3, outside=True)).region_map
    placed = place(region_map, placement)
    assert_sound(placed)
    expected = face_areas(region_map) * placement.scale**2
    assert face_areas(placed) == pytest.approx(expected)
    assert (placed.face_colours == region_map.face_colours).all()
    found = rings(placed)
    assert (ring_areas(placed, found) > 0).sum() == region_map.face_count


@pytest.mark.parametrize("name", MATRICES)
def test_arcs_stay_arcs(name: str):
    disc = disc_map(8, 2.5)
    placement = Placement(MATRICES[name])
    placed = place(disc, placement)
    disc_face = int(np.flatnonzero(disc.face_colours == 1)[0])
    expected = np.pi * 2.5**2 * placement.scale**2
    assert face_areas(placed)[disc_face] == pytest.approx(expected, rel=1e-12)


def test_an_upright_picture_stands_on_its_lower_left_corner():
    placement = picture_placement(100, 0.5, left_mm=10, bottom_mm=20)
    points = np.array([[0, 100], [0, 0], [200, 100.0]])
    assert placement.apply(points).tolist() == [[10, 20], [10, 70], [110, 20]]
    assert placement.mirrors
    assert placement.scale == pytest.approx(0.5)
    back = placement.inverse().apply(placement.apply(points))
    assert back == pytest.approx(points)


def test_bounds_follow():
    region_map = walk(np.zeros((4, 6), np.uint8)).region_map
    placed = place(region_map, picture_placement(4, 2.0, left_mm=1, bottom_mm=1))
    assert placed.bounds == (1, 1, 13, 9)
