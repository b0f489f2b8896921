"""Truth: pictures with strokes and burnt patches of known size."""

import math
from pathlib import Path

import cv2
import numpy as np
import pytest

from img2pour.job import make_job
from img2pour.picture import Picture
from img2pour.quality import finest_stroke_px, judge_quality
from img2pour.steps import Workbench
from img2pour.table import STEPS
from tests.photos.scenes import as_picture, flat_photo


def _picture(rgb: np.ndarray) -> Picture:
    return Picture(np.ascontiguousarray(rgb), None, None, "0" * 64)


def _strokes(width_px: float, blur: float = 0.6) -> np.ndarray:
    """Slanted dark strokes of a known width on light paper, by 16 samples a pixel, blurred."""
    y, x = (np.mgrid[:1600, :1600] + 0.5) / 4
    dark = np.zeros(x.shape, bool)
    for place in (75, 175, 275):
        across = ((x - place) * 350 - (y - 25) * 60) / np.hypot(350, 60)
        dark |= (np.abs(across) <= width_px / 2) & (y > 25) & (y < 375)
    cover = dark.reshape(400, 4, 400, 4).mean((1, 3))
    grey = cv2.GaussianBlur(245 - 215 * cover, (0, 0), blur)
    return np.repeat(np.round(grey).astype(np.uint8)[..., None], 3, 2)


@pytest.mark.parametrize("width_px", [1.5, 2.0, 3.0])
def test_stroke_widths_are_measured(width_px: float) -> None:
    """A stroke of width w under a blur of sigma s reads w / erf(w / (2 sqrt(2) s)) wide."""
    sigma = math.sqrt(0.6**2 + 1 / 12)
    seen = width_px / math.erf(width_px / (2 * math.sqrt(2) * sigma))
    assert finest_stroke_px(_strokes(width_px)) == pytest.approx(seen, rel=0.08)


def test_fine_strokes_are_reported_with_their_size_on_the_board() -> None:
    notes = judge_quality(_picture(_strokes(1.5)), mm_per_px=0.2)
    (note,) = [n for n in notes if n.kind == "strokes"]
    assert note.value < 2.2
    assert "mm on the board" in note.message


def test_broad_strokes_are_no_finding() -> None:
    notes = judge_quality(_picture(_strokes(5.0)), mm_per_px=0.1, smallest_mm=1.0)
    assert notes == ()


def test_coarse_pixels_say_what_is_guesswork() -> None:
    flat = _picture(np.full((100, 100, 3), 200, np.uint8))
    (note,) = judge_quality(flat, mm_per_px=0.4)
    assert note.kind == "resolution"
    assert "one pixel is 0.4 mm on the board: finer than 0.8 mm is guesswork" in note.message
    assert "one pixel is 152 mm on" in judge_quality(flat, mm_per_px=152.4)[0].message
    assert judge_quality(flat, mm_per_px=0.1, smallest_mm=0.5) == ()
    assert judge_quality(flat, mm_per_px=0.2, smallest_mm=0.3)[0].kind == "resolution"


def test_blur_is_passed_on() -> None:
    flat = _picture(np.full((100, 100, 3), 200, np.uint8))
    (note,) = judge_quality(flat, blur_px=2.5)
    assert (note.kind, note.value) == ("blur", 2.5)
    assert judge_quality(flat, blur_px=1.0) == ()


def _with_glow(radius: float, sharp: bool) -> np.ndarray:
    y, x = np.mgrid[:600, :800]
    distance = np.hypot(x - 400, y - 300)
    if sharp:
        glow = np.where(distance < radius, 200.0, 0.0)
    else:
        glow = 200 * np.exp(-np.maximum(distance - radius, 0) / 60)
    return np.repeat(np.clip(120 + glow, 0, 255).astype(np.uint8)[..., None], 3, 2)


def test_glare_is_told_from_drawn_white() -> None:
    (note,) = judge_quality(_picture(_with_glow(40, sharp=False)))
    assert note.kind == "glare"
    assert 0.002 < note.value < 0.05
    assert judge_quality(_picture(_with_glow(40, sharp=True))) == ()


@pytest.mark.parametrize("quality", [95, 80, 60])
def test_white_paper_of_resampled_line_art_is_no_glare(quality: int) -> None:
    """White that rings a little under its lines, as resampling and JPEG leave it."""
    page = np.full((900, 1200, 3), 255, np.uint8)
    for x, y, radius in ((400, 450, 300), (800, 450, 300), (600, 300, 180)):
        cv2.circle(page, (x, y), radius, (20, 20, 20), 14, cv2.LINE_AA)
    small = cv2.resize(page, (777, 583), interpolation=cv2.INTER_CUBIC)
    large = cv2.resize(small, (1600, 1200), interpolation=cv2.INTER_LANCZOS4)
    data = cv2.imencode(".jpg", large, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    assert judge_quality(_picture(cv2.imdecode(data, cv2.IMREAD_COLOR))) == ()


def test_a_large_burnt_part_is_called_so() -> None:
    (note,) = judge_quality(_picture(_with_glow(150, sharp=False)))
    assert note.kind == "burnt"


def test_cut_corners_are_named() -> None:
    photo = _picture(np.full((300, 400, 3), 128, np.uint8))
    (note,) = judge_quality(photo, cut=("upper right", "lower right"))
    assert (note.kind, note.value) == ("corners", 2)
    assert "upper right" in note.message
    assert judge_quality(photo) == ()


@pytest.mark.parametrize(
    ("first_column", "corners", "words"),
    [
        (170, "auto", "on the left"),
        (0, [(60, 30), (1430, 30), (1380, 1000), (50, 990)], "upper right"),
    ],
)
def test_a_photo_that_cuts_the_sheet_is_told_so_in_the_end(
    first_column: int, corners: object, words: str
) -> None:
    picture = as_picture(flat_photo(1).rgb[:, first_column:])
    job = make_job(size={"width": "300 mm"}, photo={"straighten": corners})
    notes = Workbench(STEPS, picture, "photo", job, Path()).get("quality")
    (cut,) = [note for note in notes if note.kind == "corners"]
    assert words in cut.message
