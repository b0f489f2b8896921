"""Truth: art drawn from formulas, measured by tests.checks; symmetries of the square."""

import hashlib
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from img2pour.labels import label_picture
from img2pour.palette import find_palette
from img2pour.picture import read_picture
from img2pour.plane.placement import Placement, place
from img2pour.plane.pose import find_pose
from img2pour.plane.regionmap import RegionMap, colour_areas, face_areas
from img2pour.plane.shapes import face_polygons
from img2pour.plane.trace import trace
from tests import checks
from tests.art import bench, shapes
from tests.art.known import KnownArt, compose
from tests.tracing import (
    all_lines,
    assert_sound,
    components,
    exact_labels,
    label_images,
    palette_of,
    picture_of,
    saddle_free,
    traced_faces,
)

QUICK = settings(derandomize=True, max_examples=40, deadline=None)
BLUR_PX = {"clean": 0.0, "scan": 0.7, "noisy": 1.0}
# Half as much again as at 1 megapixel: a third of it has more corners per length of edge.
MOST_MEAN_PX = {"clean": 0.03, "scan": 0.12, "noisy": 0.09}
MOST_P95_PX = {"clean": 0.08, "scan": 0.38, "noisy": 0.30}

SAMPLE = Path(__file__).parents[1] / "sample_images" / "kingfisher.png"
PALETTE = np.array([[240, 236, 224], [28, 52, 88], [190, 60, 44], [90, 150, 90]], dtype=float)


@pytest.fixture(scope="module")
def piece() -> KnownArt:
    return bench.assorted(690, 520, 2)


def assert_tiles(region_map: RegionMap, labels: np.ndarray) -> None:
    """Check the graph, the tiling, valid faces, and that no region is lost or invented."""
    assert_sound(region_map)
    assert np.isfinite(region_map.vertices).all()
    assert np.abs(region_map.bulges).max(initial=0) <= 1
    assert face_areas(region_map).sum() == pytest.approx(labels.size, rel=1e-12)
    assert (face_areas(region_map) > 0).all()
    assert region_map.face_count == len(components(labels))
    assert shapely.is_valid(np.array(face_polygons(region_map, 0.02), dtype=object)).all()


@pytest.mark.parametrize("state", BLUR_PX)
def test_known_art(piece: KnownArt, state: str):
    labels = exact_labels(piece)
    rgb = picture_of(piece, state)
    found = trace(rgb, labels, palette_of(piece), blur_px=BLUR_PX[state])
    assert_tiles(found.region_map, labels)
    faces = traced_faces(found.region_map)
    errors = checks.boundary_errors(faces, piece)
    assert errors.mean < MOST_MEAN_PX[state]
    assert errors.p95 < MOST_P95_PX[state]
    tiling = checks.tiling(faces, piece.frame)
    assert max(tiling.area_off, tiling.gap, tiling.overlap) < 1e-9
    assert tiling.unshared_edges == 0
    assert tiling.invalid_faces == 0
    islands = checks.islands(faces, piece)
    assert islands.missed + islands.invented == 0
    assert not found.linear_light


def simple(kind: str) -> KnownArt:
    shape = {
        "disc": shapes.disc((60.3, 55.8), 38.6),
        "square": shapes.rectangle((60.2, 55.1), 61, 61, 17),
        "upright square": shapes.rectangle((60.4, 55.7), 61, 61),
        "star": shapes.star((60.7, 55.4), 46, 11),
    }[kind]
    return compose(kind, (120, 110), ((240, 236, 224), (28, 52, 88)), [[(1, shape)]], [])


@pytest.mark.parametrize(
    ("kind", "pieces"), [("disc", 2), ("square", 4), ("upright square", 4), ("star", 10)]
)
def test_simple_shapes_have_the_fewest_pieces(kind: str, pieces: int):
    art = simple(kind)
    found = trace(picture_of(art, "clean"), exact_labels(art), palette_of(art)).region_map
    (arc,) = np.flatnonzero((found.arc_faces >= 0).all(axis=1))
    assert len(found.arc(arc)[0]) - 1 == pieces
    area = next(shape.area for colour, shape in art.regions if colour == 1)
    assert colour_areas(found, 2)[1] == pytest.approx(area, rel=2e-3)
    if kind != "disc":
        assert checks.corner_errors(traced_faces(found), art).max() < 0.15


def test_small_squares_stay_squares():
    small = [shapes.rectangle((20.3 + 30 * k, 19.6), 6 + k, 6 + k, 9 * k) for k in range(8)]
    bar = shapes.rectangle((120.2, 50.1), 200, 20)
    layers = [[(1, shape)] for shape in (*small, bar)]
    art = compose("squares", (240, 70), ((240, 236, 224), (28, 52, 88)), layers, [])
    found = trace(picture_of(art, "clean"), exact_labels(art), palette_of(art)).region_map
    areas = sorted(np.abs(face_areas(found)))[:8]
    assert areas == pytest.approx([float((6 + k) ** 2) for k in range(8)], rel=0.03)
    assert np.quantile(checks.corner_errors(traced_faces(found), art), 0.9) < 0.3


@pytest.mark.parametrize("radius", [2.5, 6.3, 25.0])
@pytest.mark.parametrize("linear", [False])
def test_a_disc_has_the_area_of_its_formula(radius: float, linear: bool):
    shape = shapes.disc((40.2, 39.1), radius)
    art = compose("disc", (80, 80), ((240, 236, 224), (28, 52, 88)), [[(1, shape)]], [])
    found = trace(picture_of(art, "clean"), exact_labels(art), palette_of(art)).region_map
    assert colour_areas(found, 2)[1] == pytest.approx(np.pi * radius**2, rel=0.02 / radius)


TURNS = {
    "quarter turn": (lambda image: np.rot90(image), [[0, 1, 0], [-1, 0, 1], [0, 0, 1]], "w"),
    "half turn": (lambda image: np.rot90(image, 2), [[-1, 0, 1], [0, -1, 1], [0, 0, 1]], "wh"),
    "three quarters": (lambda image: np.rot90(image, 3), [[0, -1, 1], [1, 0, 0], [0, 0, 1]], "h"),
    "mirrored": (lambda image: image[:, ::-1], [[-1, 0, 1], [0, 1, 0], [0, 0, 1]], "w"),
    "upside down": (lambda image: image[::-1], [[1, 0, 0], [0, -1, 1], [0, 0, 1]], "h"),
    "x with y": (lambda image: image.swapaxes(0, 1), [[0, 1, 0], [1, 0, 0], [0, 0, 1]], ""),
}


def moved_exactly(name: str, region_map: RegionMap, width: int, height: int) -> RegionMap:
    matrix = np.array(TURNS[name][1], dtype=float)
    sizes = {"quarter turn": (0, width), "three quarters": (height, 0)}.get(name, (width, height))
    matrix[:2, 2] *= sizes
    return place(region_map, Placement(matrix))


def assert_same_map(found: RegionMap, expected: RegionMap, within_px: float) -> None:
    assert len(found.vertices) == len(expected.vertices)
    for one, other in ((found, expected), (expected, found)):
        lines = shapely.get_parts(all_lines(other))
        points = shapely.points(one.vertices)
        tree = shapely.STRtree(lines)
        _, distance = tree.query_nearest(points, return_distance=True, all_matches=False)
        assert distance.max() < within_px
    areas = [
        np.sort(face_areas(region_map)[region_map.face_colours == colour])
        for region_map in (found, expected)
        for colour in range(6)
    ]
    for own, other in zip(areas[:6], areas[6:], strict=True):
        assert own == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize("name", TURNS)
@pytest.mark.parametrize("state", ["clean", "noisy"])
def test_turning_or_mirroring_the_picture_moves_the_map_and_nothing_else(name: str, state: str):
    art = bench.assorted(340, 250, 1)
    rgb, labels, turn = picture_of(art, state), exact_labels(art), TURNS[name][0]
    first = trace(rgb, labels, palette_of(art), blur_px=BLUR_PX[state]).region_map
    turned = trace(
        np.ascontiguousarray(turn(rgb)),
        np.ascontiguousarray(turn(labels)),
        palette_of(art),
        blur_px=BLUR_PX[state],
    ).region_map
    assert_same_map(turned, moved_exactly(name, first, art.width, art.height), 1e-9)


def widened(images: tuple[np.ndarray, ...], top: int, left: int) -> list[np.ndarray]:
    """Return the images with more ground around them."""
    return [
        np.pad(image, ((top, 9), (left, 9), *[(0, 0)] * (image.ndim - 2)), mode="edge")
        for image in images
    ]


def test_shifting_the_picture_by_pixels_moves_the_map_and_nothing_else():
    art = bench.assorted(340, 250, 1)
    images = picture_of(art, "noisy"), exact_labels(art)
    first, second = (
        trace(rgb, labels, palette_of(art), blur_px=1.0).region_map
        for rgb, labels in (widened(images, 9, 9), widened(images, 16, 22))
    )
    inner = [(m.arc_faces >= 0).all(axis=1) for m in (first, second)]
    outlines = []
    for region_map, own, shift in zip((first, second), inner, ((13, 7), (0, 0)), strict=True):
        arcs = [region_map.arc(arc)[0] + shift for arc in np.flatnonzero(own)]
        outlines.append(np.concatenate(arcs))
    near = [shapely.multipoints(points) for points in outlines]
    assert len(outlines[0]) == len(outlines[1])
    assert shapely.hausdorff_distance(*near) < 1e-6


@pytest.mark.parametrize("seed", range(8))
def test_the_pose_is_the_same_for_all_turns(seed: int):
    labels = np.random.default_rng(seed).integers(0, 3, (9, 14)).astype(np.uint8)
    posed = find_pose(labels).view(labels)
    for turn, _, _ in TURNS.values():
        turned = np.ascontiguousarray(turn(labels))
        pose = find_pose(turned)
        assert (pose.view(turned) == posed).all()
        marks = np.array([[0.0, 0.0], [posed.shape[1], posed.shape[0]]])
        back = pose.placement(turned.shape[1], turned.shape[0]).apply(marks)
        assert back.min(axis=0).tolist() == [0, 0]
        assert back.max(axis=0).tolist() == [turned.shape[1], turned.shape[0]]


def flat_picture(labels: np.ndarray) -> np.ndarray:
    colours = np.vstack([PALETTE, np.zeros((252, 3))]).astype(np.uint8)
    return colours[labels]


@QUICK
@given(label_images(12))
def test_any_small_picture_is_traced_whole(labels: np.ndarray):
    found = trace(flat_picture(labels), labels, PALETTE)
    assert_tiles(found.region_map, labels)


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (3, 40), (40, 3), (1, 17), (64, 64)])
def test_one_flat_colour(shape: tuple[int, int]):
    labels = np.ones(shape, np.uint8)
    found = trace(flat_picture(labels), labels, PALETTE).region_map
    assert_tiles(found, labels)
    assert face_areas(found).tolist() == [labels.size]


def striped(step: int) -> np.ndarray:
    return (np.indices((30, 41)).sum(axis=0) // step % 2).astype(np.uint8)


def squares(step: int, gap: int) -> np.ndarray:
    """Return single squares that do not touch each other, on a ground."""
    y, x = np.indices((36, 45))
    return ((y % (step + gap) < step) & (x % (step + gap) < step)).astype(np.uint8)


def rotated_strokes(width: int) -> np.ndarray:
    labels = np.zeros((80, 80), np.uint8)
    for k, turn in enumerate((0, 17, 45, 63, 90)):
        end = (round(40 + 38 * np.cos(np.radians(turn))), round(40 + 38 * np.sin(np.radians(turn))))
        cv2.line(labels, (40, 40), end, 1 + k % 3, width)
    return labels


HARD = {
    "single pixels": squares(1, 1),
    "two by two": squares(2, 1),
    "stripes of two": striped(2),
    "stripes of three": striped(3),
    "strokes of one": rotated_strokes(1),
    "strokes of two": rotated_strokes(2),
    "checkers": np.kron(striped(1)[:5, :7], np.ones((6, 6), np.uint8)),
}


@pytest.mark.parametrize("name", HARD)
def test_hard_edged_pictures(name: str):
    labels = saddle_free(HARD[name])
    found = trace(flat_picture(labels), labels, PALETTE).region_map
    assert_tiles(found, labels)


def test_hard_edges_of_a_disc_and_a_turned_square():
    y, x = np.indices((160, 200)) + 0.5
    disc = (x - 60) ** 2 + (y - 80) ** 2 < 45.2**2
    a, b = (x - 140) * 0.96 + (y - 80) * 0.28, (y - 80) * 0.96 - (x - 140) * 0.28
    square = (np.abs(a) < 33) & (np.abs(b) < 33)
    labels = np.where(disc, 1, np.where(square, 2, 0)).astype(np.uint8)
    found = trace(flat_picture(labels), labels, PALETTE).region_map
    assert_tiles(found, labels)
    assert colour_areas(found, 3)[1:] == pytest.approx([np.pi * 45.2**2, 66**2], rel=0.01)
    assert len(found.vertices) < 40


def test_outside_is_part_of_the_tiling():
    art = simple("disc")
    labels = exact_labels(art)
    cut = labels.copy()
    cut[:, 60:] = np.where(labels[:, 60:] == 0, 255, labels[:, 60:])
    cut[0, 59] = 255
    found = trace(picture_of(art, "clean"), cut, palette_of(art)).region_map
    assert_tiles(found, cut)
    assert (found.face_colours == -1).sum() == 1


def test_the_sample_artwork():
    picture = read_picture(SAMPLE)
    palette = find_palette(picture, "auto")
    labels = label_picture(picture, palette)[:, ::2][::2]
    labels = saddle_free(labels)
    rgb = np.ascontiguousarray(cv2.resize(picture.rgb, labels.shape[::-1], interpolation=3))
    found = trace(rgb, labels, np.array([colour.rgb for colour in palette.colours]))
    assert_tiles(found.region_map, labels)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noise_and_blur_that_nobody_told_of(seed: int):
    art = bench.assorted(600, 450, seed)
    labels = exact_labels(art)
    found = trace(picture_of(art, "noisy"), labels, palette_of(art)).region_map
    assert_tiles(found, labels)


def test_the_same_picture_gives_the_same_bytes():
    art = bench.assorted(340, 250, 4)
    rgb, labels = picture_of(art, "scan"), exact_labels(art)
    digests = set()
    for _ in range(2):
        found = trace(rgb, labels, palette_of(art), blur_px=0.7).region_map
        digests.add(hashlib.sha256(found.vertices.tobytes() + found.bulges.tobytes()).digest())
    assert len(digests) == 1


def test_a_cap_on_the_deviation_is_kept():
    art = bench.assorted(340, 250, 4)
    found = trace(picture_of(art, "clean"), exact_labels(art), palette_of(art), tolerance_px=0.5)
    assert found.tolerance_px == 0.5
    assert 0 < found.noise_px < 0.05
