"""Truth: closed forms of discs, rings and chords."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.plane.regionmap import colour_areas, face_areas, segment_areas
from img2pour.plane.shapes import chords, colour_shapes, face_polygons, points_on_arcs
from img2pour.plane.walk import walk
from tests.maps import disc_map

QUICK = settings(derandomize=True, max_examples=50, deadline=None)


@QUICK
@given(st.floats(-1, 1), st.floats(0.01, 1), st.floats(0.5, 40))
def test_chords_lie_within_the_sagitta(bulge: float, sagitta: float, length: float):
    ends = np.array([[0.0, 0.0], [length, 0.0]])
    points, origin = chords(ends, np.array([bulge, 0.0]), sagitta)
    assert (points[[0, -1]] == ends).all()
    assert origin.tolist() == [0, len(points) - 1]
    if abs(bulge) < 1e-6:
        return
    radius = length * (1 + bulge**2) / (4 * abs(bulge))
    # The arc of positive bulge turns left, so its centre lies to the left of the chord.
    centre = np.array([length / 2, length * (1 - bulge**2) / (4 * bulge)])
    assert np.hypot(*(points - centre).T) == pytest.approx(np.full(len(points), radius), rel=1e-9)
    middles = (points[1:] + points[:-1]) / 2
    assert (radius - np.hypot(*(middles - centre).T) <= sagitta * (1 + 1e-6) + 1e-9).all()


def test_the_middle_of_a_half_circle():
    start, end = np.array([[0.0, 0.0]]), np.array([[2.0, 0.0]])
    for bulge in (1.0, -1.0):
        point = points_on_arcs(start, end, np.array([bulge]), np.array([0.5]))
        assert point[0] == pytest.approx([1, -bulge])


@QUICK
@given(st.floats(-1, 1), st.floats(0.1, 50))
def test_segment_areas(bulge: float, chord: float):
    # Segment of radius r and angle t: r^2 (t - sin t) / 2; half the chord is r sin(t / 2).
    t = 4 * np.arctan(abs(bulge))
    expected = 0.0
    if abs(bulge) > 1e-4:
        radius = chord / 2 / np.sin(t / 2)
        expected = -np.sign(bulge) * radius**2 * (t - np.sin(t)) / 2
    found = segment_areas(np.array([chord]), np.array([bulge]))[0]
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-4 * chord**2)


def test_a_disc_has_its_area_and_a_hole_around_it():
    disc = disc_map(10, 3)
    areas = dict(zip(disc.face_colours.tolist(), face_areas(disc).tolist(), strict=True))
    assert areas == pytest.approx({1: 9 * np.pi, 0: 100 - 9 * np.pi}, rel=1e-12)
    assert colour_areas(disc, 2) == pytest.approx([areas[0], areas[1]])
    for polygon, colour in zip(face_polygons(disc, 1e-4), disc.face_colours, strict=True):
        assert polygon.is_valid
        assert len(polygon.interiors) == (1 if colour == 0 else 0)
        assert polygon.area == pytest.approx(areas[int(colour)], rel=1e-4)


def test_colour_shapes_leave_out_the_outside():
    labels = np.array([[0, 0, 255, 1], [0, 0, 255, 1], [1, 255, 255, 0]], np.uint8)
    shapes = colour_shapes(walk(labels).region_map, 3, 0.01)
    assert [shape.area for shape in shapes] == [5, 3, 0]
    assert [len(shape.geoms) for shape in shapes] == [2, 2, 0]
