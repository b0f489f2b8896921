"""Truth: shapely's own judgement of every face, after faults planted in a good map."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from img2pour.plane.edges import Blended, edge_points
from img2pour.plane.regionmap import RegionMap, face_areas
from img2pour.plane.safety import mended
from img2pour.plane.shapes import face_polygons
from img2pour.plane.walk import Walk, walk
from tests.maps import with_arc
from tests.tracing import assert_sound

PALETTE = np.array([[240, 236, 224], [28, 52, 88], [190, 60, 44]], dtype=float)


@pytest.fixture
def labels() -> np.ndarray:
    drawn = np.zeros((40, 60), np.uint8)
    drawn[10:30, 8:25] = 1
    drawn[12:28, 32:52] = 2
    return drawn


def mend(walked: Walk, labels: np.ndarray, faulty: RegionMap) -> RegionMap:
    edges = edge_points(Blended(PALETTE.astype(np.uint8)[labels], labels, PALETTE), walked)
    whole = face_areas(walked.region_map)
    found = mended(faulty, walked.region_map, edges, whole)
    assert found is not None
    assert_sound(found)
    polygons = np.array(face_polygons(found, 0.01), dtype=object)
    assert shapely.is_valid(polygons).all()
    assert face_areas(found).sum() == pytest.approx(labels.size)
    assert face_areas(found) == pytest.approx(whole, rel=0.05)
    return found


def arc_of(region_map: RegionMap, colour: int) -> int:
    (face,) = np.flatnonzero(region_map.face_colours == colour)
    return int(np.flatnonzero((region_map.arc_faces == face).any(axis=1))[0])


def test_a_sound_map_is_left_alone(labels: np.ndarray):
    walked = walk(labels)
    assert mend(walked, labels, walked.region_map) is walked.region_map


def test_an_outline_that_runs_into_another_is_taken_back(labels: np.ndarray):
    walked = walk(labels)
    raw = walked.region_map
    arc = arc_of(raw, 1)
    stretched = raw.arc(arc)[0].copy()
    stretched[stretched[:, 0] > 20, 0] = 40
    found = mend(walked, labels, with_arc(raw, arc, stretched, np.zeros(len(stretched) - 1)))
    other = arc_of(raw, 2)
    assert found.arc(arc)[0][:, 0].max() < 26
    assert len(found.arc(other)[0]) >= 5


def test_an_outline_that_crosses_itself_is_taken_back(labels: np.ndarray):
    walked = walk(labels)
    raw = walked.region_map
    arc = arc_of(raw, 1)
    twisted = raw.arc(arc)[0][[0, 2, 1, 3, 0]]
    mend(walked, labels, with_arc(raw, arc, twisted, np.zeros(4)))


def test_a_face_that_collapsed_is_taken_back(labels: np.ndarray):
    walked = walk(labels)
    raw = walked.region_map
    arc = arc_of(raw, 2)
    shrunk = raw.arc(arc)[0]
    shrunk = shrunk[0] + (shrunk - shrunk[0]) * 0.2
    mend(walked, labels, with_arc(raw, arc, shrunk, np.zeros(len(shrunk) - 1)))


def test_corners_of_the_frame_stay_when_their_faces_are_mended():
    labels = np.kron([[0, 1], [1, 2]], np.ones((6, 6))).astype(np.uint8)
    labels[5, 5] = 1
    walked = walk(labels)
    raw = walked.region_map
    inner = int(np.flatnonzero((raw.arc_faces >= 0).all(axis=1))[0])
    points = raw.arc(inner)[0]
    ends = np.stack([points[0], [30.0, 30.0], points[-1]])
    mend(walked, labels, with_arc(raw, inner, ends, np.zeros(2)))


def test_an_outline_that_goes_back_to_the_pixels_has_no_stairs():
    y, x = np.mgrid[:60, :60] + 0.5
    labels = (np.hypot(x - 30, y - 30) < 20).astype(np.uint8)
    walked = walk(labels)
    raw = walked.region_map
    edges = edge_points(Blended(PALETTE.astype(np.uint8)[labels], labels, PALETTE), walked)
    tangled = replace(edges, points=np.random.default_rng(7).permutation(edges.points))
    arc = arc_of(raw, 1)
    twisted = raw.arc(arc)[0]
    twisted = twisted[[0, len(twisted) // 2, len(twisted) // 4, -2, 0]]
    whole = face_areas(raw)
    found = mended(with_arc(raw, arc, twisted, np.zeros(4)), raw, tangled, whole)
    assert found is not None
    assert face_areas(found) == pytest.approx(whole, rel=0.02)
    outline = shapely.LineString(found.arc(arc)[0])
    assert outline.hausdorff_distance(shapely.LineString(raw.arc(arc)[0])) < 1
    # Stairs are as long as the way along rows and columns, 160 px; the circle is 126 px long.
    assert outline.length == pytest.approx(2 * np.pi * 20, rel=0.04)
