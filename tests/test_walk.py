"""Truth: the pixels themselves, counted and connected by OpenCV."""

import numpy as np
import shapely
from hypothesis import given, settings

from img2pour.plane.regionmap import face_areas
from img2pour.plane.shapes import face_polygons
from img2pour.plane.walk import STEP_X, STEP_Y, walk
from tests.tracing import OUTSIDE, assert_sound, components, label_images

QUICK = settings(derandomize=True, max_examples=60, deadline=None)


@QUICK
@given(label_images())
def test_faces_are_the_connected_regions(labels: np.ndarray):
    region_map = walk(labels).region_map
    assert_sound(region_map)
    colours = np.where(region_map.face_colours < 0, OUTSIDE, region_map.face_colours)
    found = sorted(zip(colours.tolist(), face_areas(region_map).tolist(), strict=True))
    assert found == sorted((label, float(mask.sum())) for label, mask in components(labels))


@QUICK
@given(label_images())
def test_a_face_covers_its_own_pixels(labels: np.ndarray):
    region_map = walk(labels).region_map
    polygons = face_polygons(region_map, 0.01)
    y, x = np.mgrid[: labels.shape[0], : labels.shape[1]]
    for polygon, colour in zip(polygons, region_map.face_colours, strict=True):
        assert polygon.is_valid
        covered = shapely.contains_xy(polygon, x + 0.5, y + 0.5)
        assert covered.sum() == polygon.area
        assert (labels[covered] == (OUTSIDE if colour < 0 else colour)).all()


@QUICK
@given(label_images())
def test_an_arc_follows_its_cracks_between_its_two_labels(labels: np.ndarray):
    walked = walk(labels)
    region_map = walked.region_map
    beyond = np.pad(labels.astype(int), 1, constant_values=-2)
    colours = np.append(np.where(region_map.face_colours < 0, OUTSIDE, region_map.face_colours), -2)
    ends = walked.starts + np.stack([STEP_X[walked.directions], STEP_Y[walked.directions]], axis=1)
    for arc in range(region_map.arc_count):
        own = slice(walked.crack_offsets[arc], walked.crack_offsets[arc + 1])
        assert (ends[own][:-1] == walked.starts[own][1:]).all()
        vertices, _ = region_map.arc(arc)
        assert (walked.starts[own][0] == vertices[0]).all()
        assert (ends[own][-1] == vertices[-1]).all()
        middles = (walked.starts[own] + ends[own]) / 2
        left = np.stack([-STEP_Y[walked.directions[own]], STEP_X[walked.directions[own]]], axis=1)
        for side, face in zip((0.5, -0.5), region_map.arc_faces[arc], strict=True):
            x, y = np.floor(middles + side * left).astype(int).T + 1
            assert (beyond[y, x] == colours[face]).all()


def test_a_ring_has_a_hole_and_an_island():
    labels = np.zeros((9, 9), np.uint8)
    labels[2:7, 2:7] = 1
    labels[4, 4] = 2
    region_map = walk(labels).region_map
    assert sorted(face_areas(region_map)) == [1, 24, 56]
    assert region_map.arc_count == 3
    assert_sound(region_map)
