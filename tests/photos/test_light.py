"""Truth: each drawing's own colours, as they look when its paper is white."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from img2pour.colour import srgb_difference
from img2pour.errors import SettingsError
from img2pour.light import PAPER_LIGHT, even_light
from img2pour.light.other_inks import depth_along
from img2pour.light.patches import without_strokes
from img2pour.palette import find_palette
from tests.photos.scenes import (
    as_picture,
    away_from_edges,
    flat_even,
    flat_photo,
    flat_straight,
    paper_white_colours,
    true_labels,
)

TWELVE = range(12)


def _evened(number: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the evened picture, its true labels and the true colours under white paper."""
    photo = flat_photo(number)
    truth = true_labels(photo, flat_straight(number))
    return flat_even(number).rgb, truth, paper_white_colours(photo.drawing, PAPER_LIGHT)


@pytest.mark.parametrize("number", TWELVE)
def test_each_drawn_colour_is_one_colour_again(number: int) -> None:
    rgb, truth, colours = _evened(number)
    core = away_from_edges(truth)
    smooth = cv2.GaussianBlur(rgb, (0, 0), 1.0)
    for name in np.unique(truth[core]):
        pixels = smooth[core & (truth == name)]
        if len(pixels) < 300:
            continue
        assert float(srgb_difference(np.median(pixels, axis=0), colours[name])) < 3.0
        sample = pixels[:: max(1, len(pixels) // 2000)]
        off = srgb_difference(sample, np.tile(colours[name], (len(sample), 1)))
        assert np.mean(off > 8.0) < 0.01


@pytest.mark.parametrize("number", TWELVE)
def test_hardly_a_pixel_takes_another_colour(number: int) -> None:
    rgb, truth, colours = _evened(number)
    core = away_from_edges(truth)
    smooth = cv2.GaussianBlur(rgb, (0, 0), 0.7).astype(np.float64)
    gaps = np.stack([np.sum((smooth - colour) ** 2, axis=2) for colour in colours], axis=2)
    wrong = (np.argmin(gaps, axis=2) != truth) & core
    assert wrong.sum() / core.sum() < 0.001


def test_the_number_of_colours_is_right() -> None:
    right = 0
    for number in TWELVE:
        photo = flat_photo(number)
        used = 1 + len({colour for colour, shape in photo.drawing.shapes if shape.area > 3})
        right += len(find_palette(flat_even(number), "auto").colours) == used
    assert right >= 11


def test_a_photo_left_alone_would_have_split_its_paper() -> None:
    """The checks above can fail: without the step a hard shadow leaves two whites."""
    photo = flat_photo(7)
    done = flat_straight(7)
    truth = true_labels(photo, done)
    paper = done.picture.rgb[away_from_edges(truth) & (truth == 0)].astype(float)
    low, high = np.percentile(paper.mean(axis=1), [5, 95])
    assert high - low > 40


def test_digital_artwork_is_the_very_same_object() -> None:
    rgb = np.full((400, 600, 3), (250, 244, 220), np.uint8)
    cv2.circle(rgb, (200, 200), 120, (206, 216, 224), -1, cv2.LINE_AA)
    cv2.rectangle(rgb, (330, 60), (560, 340), (30, 60, 110), -1)
    picture = as_picture(rgb)
    assert even_light(picture)[0] is picture


def test_evenly_lit_noise_is_left_alone() -> None:
    """A noisy picture of even light keeps its tinted ground and its pale grey at the rim."""
    rgb = np.full((500, 700, 3), (246, 232, 200), np.float64)
    rgb[:, :230] = (206, 204, 200)
    rgb[150:350, 350:550] = (40, 90, 60)
    rgb += np.random.default_rng(5).normal(0, 4, rgb.shape)
    picture = as_picture(np.clip(rgb, 0, 255).astype(np.uint8))
    even, notes = even_light(picture)
    assert even is picture
    assert notes


def test_pale_colours_are_not_washed_out() -> None:
    """Ramp of light over pale drawn squares: their ratio to the paper stays as drawn."""
    pale = np.array([[250, 232, 178], [246, 204, 204], [206, 216, 224], [226, 240, 222]])
    drawn = np.full((600, 900, 3), 255.0)
    for place, colour in enumerate(pale):
        drawn[150:450, 60 + 210 * place : 210 + 210 * place] = colour
    light = np.linspace(0.35, 0.9, 900)[None, :, None] * np.array([1.0, 0.95, 0.85])
    linear = ((drawn / 255 + 0.055) / 1.055) ** 2.4 * light
    photo = 255 * (1.055 * linear ** (1 / 2.4) - 0.055)
    photo += np.random.default_rng(1).normal(0, 2, photo.shape)
    even, _ = even_light(as_picture(np.clip(photo, 0, 255).astype(np.uint8)))
    for place, colour in enumerate(pale):
        patch = even.rgb[180:420, 90 + 210 * place : 180 + 210 * place].reshape(-1, 3)
        assert float(srgb_difference(np.median(patch, axis=0), colour)) < 2.5


def test_a_photograph_of_no_flat_drawing_is_left_alone() -> None:
    rng = np.random.default_rng(8)
    small = rng.uniform(0, 255, (40, 60, 3)).astype(np.float32)
    busy = cv2.resize(small, (900, 600), interpolation=cv2.INTER_CUBIC)
    picture = as_picture(np.clip(busy, 0, 255).astype(np.uint8))
    assert even_light(picture)[0] is picture


def test_a_blurred_thing_on_a_grey_wall_is_not_washed_out() -> None:
    """One colour and no edge: a smooth light would explain whatever is there."""
    grey = np.full((300, 400), 110.0)
    cv2.ellipse(grey, (200, 150), (60, 50), 0, 0, 360, 225, -1)
    grey = cv2.GaussianBlur(grey, (0, 0), 16) + np.random.default_rng(3).normal(0, 1, grey.shape)
    picture = as_picture(np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2))
    even, notes = even_light(picture)
    assert even is picture
    assert "nothing is drawn" in notes[0]


def test_shade_in_a_corner_is_no_stroke_but_a_line_is() -> None:
    page = np.full((90, 120, 3), 200, np.uint8)
    page[:6, :40] = 90
    page[50:53, 20:100] = 90
    bare = without_strokes(page, 7)
    assert (bare[:6, :30] == 90).all()
    assert (bare[50:53] == 200).all()


def test_depth_of_shade_by_the_channels_that_are_believed() -> None:
    step = np.array([-0.8, -0.7, -0.6], np.float32)
    below = (0.5 * step + np.array([0.4, 0, 0], np.float32))[None]
    trust = np.array([[0.0, 1.0, 1.0]], np.float32)
    depth, left = depth_along(below, step, trust)
    assert depth[0] == pytest.approx(0.5)
    assert left[0] == pytest.approx(0.0, abs=1e-6)


def test_an_all_black_photo_goes_on_as_it_is() -> None:
    rng = np.random.default_rng(4)
    picture = as_picture(rng.integers(0, 6, (300, 400, 3), np.uint8))
    assert even_light(picture)[0] is picture


def test_wishes() -> None:
    picture = as_picture(flat_photo(5).rgb)
    assert even_light(picture, "off") == (picture, ())
    with pytest.raises(SettingsError, match="auto or off"):
        even_light(picture, "on")
