"""The label image, against art whose truth is a formula."""

import io
from collections.abc import Callable, Sequence

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from img2pour.colour import hex_from_rgb, linear_from_srgb, srgb_from_linear
from img2pour.colours.pieces import dissolve_specks, find_pieces, find_runs
from img2pour.colours.saddles import remove_saddles
from img2pour.labels import OUTSIDE_LABEL, label_picture
from img2pour.palette import find_palette
from img2pour.picture import picture_from_array

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Colours = Sequence[tuple[int, int, int]]

BLACK, WHITE, GREY = (20, 20, 24), (246, 244, 238), (128, 127, 126)
NAVY, SAND, RUST, MOSS = (11, 31, 58), (233, 216, 166), (174, 62, 36), (74, 96, 46)


def grid(size: int) -> tuple[Floats, Floats]:
    y, x = np.mgrid[0:size, 0:size] + 0.5
    return x, y


def disc(size: int, cx: float, cy: float, r: float) -> Floats:
    x, y = grid(size)
    return np.clip(r - np.hypot(x - cx, y - cy) + 0.5, 0, 1)


def stroke(size: int, width: float, angle: float, offset: float = 0.3) -> Floats:
    x, y = grid(size)
    off = (x - size / 2) * np.cos(angle) + (y - size / 2) * np.sin(angle) + offset
    return np.clip(width / 2 - np.abs(off) + 0.5, 0, 1)


def paint(colours: Colours, covers: Sequence[Floats], *, linear: bool = False) -> Floats:
    """Lay colours over the first one, each where its cover says, in levels or in light."""
    layers = [np.array(colour, dtype=float) for colour in colours]
    layers = [linear_from_srgb(layer) for layer in layers] if linear else layers
    picture = np.broadcast_to(layers[0], (*covers[0].shape, 3)).copy()
    for layer, cover in zip(layers[1:], covers, strict=True):
        picture += cover[..., None] * (layer - picture)
    return srgb_from_linear(picture) if linear else picture


def truth(covers: Sequence[Floats]) -> Bytes:
    """Return the topmost colour that covers half of each pixel or more."""
    labels = np.zeros(covers[0].shape, dtype=np.uint8)
    for at, cover in enumerate(covers, start=1):
        labels[cover >= 0.5] = at
    return labels


def spoil(picture: Floats, blur: float = 0, noise: float = 0, quality: int | None = None) -> Bytes:
    if blur:
        picture = cv2.GaussianBlur(picture, (0, 0), blur)
    picture = picture + noise * np.random.default_rng(5).standard_normal(picture.shape)
    rgb = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
    if quality is None:
        return rgb
    target = io.BytesIO()
    Image.fromarray(rgb).save(target, "JPEG", quality=quality)
    return np.asarray(Image.open(io.BytesIO(target.getvalue())))


def labels_of(rgb: Bytes, colours: Colours) -> Bytes:
    """Label with a fixed list, so that the indices are those of the list."""
    picture = picture_from_array(np.ascontiguousarray(rgb))
    return label_picture(picture, find_palette(picture, [(hex_from_rgb(c), None) for c in colours]))


def saddles(labels: Bytes) -> int:
    a, b, c, d = labels[:-1, :-1], labels[:-1, 1:], labels[1:, :-1], labels[1:, 1:]
    return int(((a == d) & (a != b) & (a != c)).sum() + ((b == c) & (a != b) & (d != b)).sum())


def pieces(labels: Bytes) -> int:
    """Count 4-connected pieces with scipy, independently of img2pour."""
    return sum(ndimage.label(labels == label)[1] for label in np.unique(labels))


WAYS: dict[str, dict[str, float]] = {
    "clean": {},
    "blur 1": {"blur": 1},
    "blur 1.5": {"blur": 1.5},
    "blur 2": {"blur": 2},
    "jpeg 75": {"quality": 75},
    "noisy": {"blur": 1, "noise": 4, "quality": 85},
    "scan": {"blur": 0.7, "noise": 3, "quality": 85},
    "blur 2, noisy": {"blur": 2, "noise": 4, "quality": 85},
}


@pytest.mark.parametrize("linear", [False, True])
@pytest.mark.parametrize("way", WAYS)
def test_no_band_of_a_third_colour_along_an_edge(way: str, linear: bool) -> None:
    """Grey lies half way from black to white, and is in the palette for its own disc."""
    covers = [disc(300, 100, 110, 70), disc(300, 215, 215, 50)]
    colours = (BLACK, WHITE, GREY)
    labels = labels_of(spoil(paint(colours, covers, linear=linear), **WAYS[way]), colours)
    assert pieces(labels) == 3
    wrong = np.mean(labels != truth(covers))
    # Half of the light is 0.12 px from half of the levels: an edge of 754 px on 90,000.
    assert wrong < (0.004 if linear or WAYS[way] else 0.0005)


@pytest.mark.parametrize("way", WAYS)
def test_sectors_that_meet_in_a_point_stay_whole(way: str) -> None:
    x, y = grid(300)
    angle = np.degrees(np.arctan2(y - 150.3, x - 149.6)) % 360
    sector = (angle // 120).astype(np.uint8)
    colours = (NAVY, SAND, RUST)
    # Nine by nine samples a pixel.
    fine = (np.arange(2700) + 0.5) / 9
    fx, fy = np.meshgrid(fine, fine)
    fine_sector = (np.degrees(np.arctan2(fy - 150.3, fx - 149.6)) % 360 // 120).astype(int)
    picture = np.array(colours, dtype=float)[fine_sector].reshape(300, 9, 300, 9, 3)
    labels = labels_of(spoil(picture.mean(axis=(1, 3)), **WAYS[way]), colours)
    assert pieces(labels) == 3
    assert np.mean(labels != sector) < 0.006


STROKES: list[tuple[float, str]] = [
    (2, "clean"),
    (3, "clean"),
    (3, "jpeg 75"),
    (3, "scan"),
    (3.5, "noisy"),
    (4.5, "blur 1.5"),
    (6, "blur 2"),
    (6.5, "blur 2, noisy"),
]


@pytest.mark.parametrize("angle", [0.0, 0.3, np.pi / 4, 1.2])
@pytest.mark.parametrize(("width", "way"), STROKES)
def test_strokes_survive_whole(width: float, way: str, angle: float) -> None:
    """Strokes of max(3 px, 3 sigma): one piece, as wide as drawn, in a palette with more."""
    line = stroke(240, width, angle)
    covers = [disc(240, 40, 200, 34), disc(240, 205, 40, 30), line]
    colours = (SAND, RUST, MOSS, NAVY)
    labels = labels_of(spoil(paint(colours, covers), **WAYS[way]), colours)
    mine = labels == 3
    assert ndimage.label(mine)[1] == 1
    assert mine[line > 0.9].mean() > 0.99
    assert (mine & (stroke(240, width + 3, angle) == 0)).sum() <= 2


@pytest.mark.parametrize("way", ["clean", "jpeg 75", "scan", "noisy"])
def test_dots_are_kept_and_specks_are_not(way: str) -> None:
    centres = [(x + 0.3, y + 0.7) for x in range(30, 220, 30) for y in range(30, 220, 30)]
    dots = np.max([disc(240, cx, cy, 2.4) for cx, cy in centres], axis=0)
    x, y = grid(240)
    frame = ((x > 4) & (x < 14) & (y > 4) & (y < 236)).astype(float)
    picture = paint((SAND, NAVY), [np.maximum(dots, frame)])
    rgb = spoil(picture, **WAYS[way])
    labels = labels_of(rgb, (SAND, NAVY))
    assert ndimage.label(labels == 1)[1] == len(centres) + 1
    assert ndimage.label(labels == 0)[1] == 1
    if way == "clean":
        rgb[45:47, 45:47] = NAVY
        np.testing.assert_array_equal(labels_of(rgb, (SAND, NAVY)), labels)


def test_touching_stripes_have_straight_edges() -> None:
    stripes = np.repeat(np.arange(6), 20)
    colours = (NAVY, SAND, RUST, MOSS, WHITE, GREY)
    rgb = np.array(colours, dtype=np.uint8)[np.tile(stripes, (120, 1))]
    np.testing.assert_array_equal(labels_of(rgb, colours), np.tile(stripes, (120, 1)))
    noisy = spoil(rgb.astype(float), blur=1, noise=4, quality=85)
    assert np.mean(labels_of(noisy, colours) != np.tile(stripes, (120, 1))) < 0.01


def test_one_colour_and_one_pixel() -> None:
    assert (labels_of(np.full((7, 9, 3), 90, dtype=np.uint8), (GREY,)) == 0).all()
    assert labels_of(np.full((1, 1, 3), 90, dtype=np.uint8), (GREY, WHITE)).shape == (1, 1)
    assert labels_of(np.full((1, 9, 3), 90, dtype=np.uint8), (GREY, WHITE)).shape == (1, 9)


def test_sixty_four_colours_fit() -> None:
    steps = np.array([10, 90, 170, 250])
    colours = [(int(r), int(g), int(b)) for r in steps for g in steps for b in steps]
    cells = np.kron(np.arange(64).reshape(8, 8), np.ones((24, 24), dtype=int))
    rgb = np.array(colours, dtype=np.uint8)[cells]
    np.testing.assert_array_equal(labels_of(rgb, colours), cells)


def test_outside_stays_exactly_outside() -> None:
    covers = [disc(200, 100, 100, 60)]
    rgb = spoil(paint((SAND, NAVY), covers), quality=85)
    x, y = grid(200)
    outside = np.hypot(x - 120, y - 90) > 85
    picture = picture_from_array(rgb, outside)
    labels = label_picture(picture, find_palette(picture, 2))
    np.testing.assert_array_equal(labels == OUTSIDE_LABEL, outside)
    assert set(np.unique(labels)) == {0, 1, OUTSIDE_LABEL}


def random_art(seed: int) -> Bytes:
    random = np.random.default_rng(seed)
    covers = [disc(90, *random.uniform(5, 85, 2), random.uniform(1.5, 30)) for _ in range(6)]
    covers.append(stroke(90, random.uniform(2, 5), random.uniform(0, 3), random.uniform(-20, 20)))
    colours = (SAND, NAVY, RUST, MOSS, WHITE, BLACK, NAVY, RUST)
    return spoil(paint(colours, covers), blur=random.choice([0, 0.8]), noise=random.choice([0, 3]))


@given(st.integers(0, 10_000))
@settings(derandomize=True, max_examples=12, deadline=None)
def test_turning_and_mirroring_the_picture_turns_the_labels(seed: int) -> None:
    """Exact but for saddles with equal costs, which noise and slanted edges make rare."""
    rgb = random_art(seed)
    picture = picture_from_array(rgb)
    labels = label_picture(picture, find_palette(picture))
    assert saddles(labels) == 0
    moves: list[Callable[[NDArray[np.uint8]], NDArray[np.uint8]]] = [
        np.rot90,
        lambda image: image[::-1],
        lambda image: image[:, ::-1],
        lambda image: image.swapaxes(0, 1),
    ]
    for move in moves:
        moved = picture_from_array(np.ascontiguousarray(move(rgb)))
        again = label_picture(moved, find_palette(moved))
        np.testing.assert_array_equal(again, move(labels))


@given(st.integers(0, 10_000))
@settings(derandomize=True, max_examples=8, deadline=None)
def test_shifting_the_picture_shifts_the_labels(seed: int) -> None:
    rgb = random_art(seed)
    wide = np.pad(rgb, ((20, 20), (20, 20), (0, 0)), mode="edge")
    palette = find_palette(picture_from_array(wide))
    labels = label_picture(picture_from_array(wide), palette)
    shifted = np.roll(wide, (3, -5), axis=(0, 1))
    again = label_picture(picture_from_array(shifted), palette)
    inner = slice(12, -12)
    np.testing.assert_array_equal(
        np.roll(again, (-3, 5), axis=(0, 1))[inner, inner], labels[inner, inner]
    )


@given(st.integers(1, 20), st.integers(1, 20), st.integers(2, 5), st.integers(0, 10_000))
@settings(derandomize=True, max_examples=80, deadline=None)
def test_pieces_agree_with_scipy(height: int, width: int, number: int, seed: int) -> None:
    labels = np.random.default_rng(seed).integers(0, number, (height, width), dtype=np.uint8)
    runs = find_runs(labels)
    root = np.repeat(find_pieces(runs), runs.stop - runs.start).reshape(labels.shape)
    assert (runs.stop - runs.start).sum() == labels.size
    for label in range(number):
        wanted, count = ndimage.label(labels == label)
        pairs = np.unique(np.stack([wanted, root])[:, labels == label], axis=1)
        assert pairs.shape[1] == count == len(np.unique(pairs[1]))


@given(st.integers(0, 10_000), st.integers(2, 4), st.integers(2, 8))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_specks_are_dissolved_and_nothing_else(seed: int, number: int, least: int) -> None:
    labels = np.random.default_rng(seed).integers(0, number, (6, 7), dtype=np.uint8)
    labels = np.kron(labels, np.ones((2, 3), dtype=np.uint8))
    labels[:4, :4] = OUTSIDE_LABEL
    done = dissolve_specks(labels, least, OUTSIDE_LABEL)
    np.testing.assert_array_equal(done == OUTSIDE_LABEL, labels == OUTSIDE_LABEL)
    for label in range(number):
        wanted, count = ndimage.label(labels == label)
        areas = np.bincount(wanted.ravel(), minlength=count + 1)
        large = (areas >= least)[wanted] & (wanted > 0)
        assert (done[large] == label).all()
    for move in (np.rot90, np.flipud, np.fliplr):
        moved = dissolve_specks(np.ascontiguousarray(move(labels)), least, OUTSIDE_LABEL)
        np.testing.assert_array_equal(moved, move(done))


@given(st.integers(2, 14), st.integers(2, 14), st.integers(2, 4), st.integers(0, 10_000))
@settings(derandomize=True, max_examples=120, deadline=None)
def test_saddles_always_go(height: int, width: int, number: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    labels = random.integers(0, number, (height, width), dtype=np.uint8)
    labels[labels == 3] = OUTSIDE_LABEL
    rgb = random.integers(0, 256, (height, width, 3), dtype=np.uint8)
    done = remove_saddles(labels, rgb, rgb.reshape(-1, 3)[:number].astype(float), OUTSIDE_LABEL)
    assert saddles(done) == 0
    assert (done[labels == OUTSIDE_LABEL] == OUTSIDE_LABEL).all()
    assert set(np.unique(done)) <= set(np.unique(labels))


def test_a_saddle_goes_the_way_its_colours_say() -> None:
    colours = np.array([[0.0, 0, 0], [255.0, 255, 255]])
    labels = np.zeros((6, 6), dtype=np.uint8)
    labels[:3, 3:] = labels[3:, :3] = 1
    rgb = np.repeat(labels[..., None] * 255, 3, axis=2).astype(np.uint8)
    rgb[2, 2] = 120
    done = remove_saddles(labels, rgb, colours, OUTSIDE_LABEL)
    assert done[2, 2] == 1
    assert (done != labels).sum() == 1
