"""Truth: pictures of known tones and widths."""

import cv2
import numpy as np
import pytest

from img2pour.errors import SettingsError
from img2pour.picture import Picture
from img2pour.tones import best_levels, posterise


def _picture(rgb: np.ndarray) -> Picture:
    return Picture(np.ascontiguousarray(rgb), None, None, "0" * 64)


def test_steps_come_back_as_they_are() -> None:
    steps = np.repeat(np.array([20, 90, 160, 235], np.uint8), 100)
    found = posterise(_picture(np.repeat(steps[None, :, None], 3, 2).repeat(200, 0)), 4, 6)
    assert [round(colour.rgb[0]) for colour in found.palette.colours] == pytest.approx(
        [20, 90, 160, 235], abs=3
    )
    borders = np.flatnonzero(np.diff(found.labels[100].astype(int)))
    assert np.abs(borders - [99, 199, 299]).max() <= 1


def test_levels_are_the_least_squares_ones() -> None:
    """Two narrow heaps and a wide one: the exact optimum, by trying all pairs of cuts."""
    rng = np.random.default_rng(1)
    values = np.concatenate(
        [rng.normal(20, 3, 900), rng.normal(50, 4, 500), rng.uniform(70, 95, 700)]
    ).astype(np.float32)
    counts, edges = np.histogram(values, bins=200, range=(0, 100))
    middle = (edges[:-1] + edges[1:]) / 2

    def left_over(cuts: list[float]) -> float:
        part = np.digitize(middle, cuts)
        total = 0.0
        for name in range(3):
            mine = part == name
            if counts[mine].sum():
                mean = np.average(middle[mine], weights=counts[mine])
                total += float((counts[mine] * (middle[mine] - mean) ** 2).sum())
        return total

    grid = np.arange(8, 92, 1.0)
    best = min(left_over([a, b]) for a in grid for b in grid if a < b)
    assert left_over(best_levels(values, 3)) <= best * (1 + 1e-9)


@pytest.mark.parametrize("width", [8, 26])
def test_no_feature_is_narrower_than_asked(width: int) -> None:
    rng = np.random.default_rng(7)
    field = cv2.resize(rng.uniform(0, 255, (30, 40)).astype(np.float32), (640, 480))
    grey = np.clip(field + rng.normal(0, 10, field.shape), 0, 255).astype(np.uint8)
    found = posterise(_picture(np.repeat(grey[..., None], 3, 2)), 4, width)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (width - 3, width - 3))
    lost = 0
    for tone in range(int(found.labels.max()) + 1):
        mask = cv2.copyMakeBorder(
            (found.labels == tone).astype(np.uint8), *[width] * 4, cv2.BORDER_REPLICATE
        )
        lost += int((mask - cv2.morphologyEx(mask, cv2.MORPH_OPEN, kernel)).sum())
    assert lost / found.labels.size < 0.03


def test_a_steep_edge_leaves_no_band_between() -> None:
    """A mid grey square teaches the middle tone; the black and white edge shall not show it."""
    grey = np.full((300, 400), 240, np.uint8)
    grey[:, :150] = 15
    grey[100:200, 280:380] = 125
    found = posterise(_picture(np.repeat(grey[..., None], 3, 2)), 3, 14)
    assert set(np.unique(found.labels[20:80, 100:250])) == {0, 2}


def test_shares_add_up_and_outside_is_left_out() -> None:
    grey = np.tile(np.linspace(0, 255, 300).astype(np.uint8), (100, 1))
    outside = np.zeros(grey.shape, bool)
    outside[:, :100] = True
    picture = Picture(np.repeat(grey[..., None], 3, 2), outside, None, "0" * 64)
    found = posterise(picture, 3, 5)
    assert sum(colour.share for colour in found.palette.colours) == pytest.approx(1)
    assert found.palette.colours[0].share < 0.2


def test_an_even_picture_has_one_tone() -> None:
    found = posterise(_picture(np.full((80, 90, 3), 120, np.uint8)), 5, 4)
    assert len(found.palette.colours) == 1
    assert found.levels == ()


@pytest.mark.parametrize(("tones", "width"), [(1, 5), (13, 5), (4, 0), (4, -2)])
def test_numbers_out_of_range_are_refused(tones: int, width: float) -> None:
    with pytest.raises(SettingsError, match="not possible"):
        posterise(_picture(np.zeros((20, 20, 3), np.uint8)), tones, width)
