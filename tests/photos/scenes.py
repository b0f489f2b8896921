"""The photos of the tests and of the benchmark: flat drawings and line drawings by number."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from img2pour.light import even_light
from img2pour.picture import Picture
from img2pour.straighten import Straightened, straighten
from tests.photos.camera import project
from tests.photos.drawings import Drawing, flat_drawing
from tests.photos.linework import LineArt, line_drawing, smallest_cell_is_wide
from tests.photos.maker import SHADOWS, TABLES, Photo, Scene, linear, take_photo

CASTS = ((1.0, 0.93, 0.8), (1.0, 1.0, 1.0), (0.9, 0.97, 1.0), (1.0, 0.85, 0.62))
BULGES = (0.0, 0.0, 0.02, -0.015, 0.03)
PEN_NAMES = ("pencil", "pen", "marker")
SUITE_PX = (1416, 1062)


def scene(number: int) -> Scene:
    """Tables, shadows, casts and bulges turn at different paces, so that all meet."""
    rng = np.random.default_rng(1000 + number)
    return Scene(
        table=TABLES[number % 3],
        shadow=SHADOWS[(number // 3) % 3],
        tilt_deg=float(rng.uniform(0, 30)),
        bulge=BULGES[number % 5],
        vignette=float(rng.uniform(0, 0.5)),
        cast=CASTS[number % 4],
        noise=float(rng.uniform(0.003, 0.012)),
        jpeg=int(rng.integers(80, 95)),
    )


@cache
def flat_photo(number: int, size_px: tuple[int, int] = SUITE_PX) -> Photo:
    sheet = ("a4", "letter", "a5")[number % 3]
    drawing = flat_drawing(100 + number, sheet, 2 + number % 4)
    return take_photo(drawing, scene(number), number, size_px)


@cache
def line_photo(number: int, size_px: tuple[int, int] = SUITE_PX) -> tuple[LineArt, Photo]:
    art = next(
        art
        for attempt in range(1000)
        if smallest_cell_is_wide(
            art := line_drawing(1000 * number + attempt, PEN_NAMES[number % 3])
        )
    )
    return art, take_photo(art.drawing, scene(number), number, size_px)


def as_picture(rgb: np.ndarray) -> Picture:
    return Picture(np.ascontiguousarray(rgb), None, None, "0" * 64)


@cache
def flat_straight(number: int) -> Straightened:
    return straighten(as_picture(flat_photo(number).rgb))


@cache
def flat_even(number: int) -> Picture:
    return even_light(flat_straight(number).picture)[0]


@cache
def line_straight(number: int) -> Straightened:
    return straighten(as_picture(line_photo(number)[1].rgb), sheet="a4")


@cache
def line_even(number: int) -> Picture:
    return even_light(line_straight(number).picture)[0]


def corner_error_px(found: np.ndarray, photo: Photo) -> float:
    """Return the largest distance of a corner; which corner is called first does not matter."""
    turns = [np.roll(photo.corners_px, turn, axis=0) for turn in range(4)]
    return min(float(np.linalg.norm(found - turned, axis=1).max()) for turned in turns)


def output_points(photo: Photo, done: Straightened, sheet_mm: np.ndarray) -> np.ndarray:
    """Return where points of the sheet (mm) lie in the straightened picture, by its own matrix."""
    seen = photo.photo_points(sheet_mm)
    return project(done.matrix, done.lens.straight(seen) if done.lens else seen)


def true_labels(photo: Photo, done: Straightened, px_per_mm: float = 10.0) -> np.ndarray:
    """Return the true colour of each pixel of the straightened picture (H, W)."""
    height, width = done.picture.rgb.shape[:2]
    spots = np.stack(np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5), axis=-1)
    flat = project(np.linalg.inv(done.matrix), spots)
    sheet = photo.view.sheet_points(done.lens.seen(flat) if done.lens else flat)
    truth = photo.drawing.label_image(px_per_mm)
    places = (np.clip(sheet, 0, None) * px_per_mm).astype(int)
    return truth[
        np.minimum(places[..., 1], truth.shape[0] - 1),
        np.minimum(places[..., 0], truth.shape[1] - 1),
    ]


def away_from_edges(labels: np.ndarray, reach: int = 5) -> np.ndarray:
    kernel = np.ones((reach, reach), np.uint8)
    return cv2.erode(labels, kernel) == cv2.dilate(labels, kernel)


def paper_white_colours(drawing: Drawing, paper_light: float) -> np.ndarray:
    """Return the drawing's colours (K, 3) sRGB as the paper of this light shows them."""
    value = linear(np.array(drawing.colours)) * paper_light
    return 255 * np.where(
        value <= 0.0031308, 12.92 * value, 1.055 * np.maximum(value, 1e-9) ** (1 / 2.4) - 0.055
    )
