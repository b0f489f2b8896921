"""One colour becomes the two that its pixels hold."""

from __future__ import annotations

import numpy as np
import pytest

from img2pour.colours.parting import parted, two_means
from img2pour.errors import SettingsError
from img2pour.labels import label_picture
from img2pour.palette import find_palette
from img2pour.picture import picture_from_array


def three_tones() -> np.ndarray:
    rgb = np.full((120, 160, 3), (240, 235, 220), np.uint8)
    rgb[20:100, 20:70] = (20, 40, 90)
    rgb[20:100, 90:140] = (60, 80, 130)
    return rgb


def test_both_shades_come_back_exactly() -> None:
    picture = picture_from_array(three_tones())
    palette = find_palette(picture, (("#f0ebdc", "paper"), ("#283c6e", "blue")))
    labels = label_picture(picture, palette)
    assert parted(picture, labels, palette, "blue") == [
        ("#f0ebdc", "paper"),
        ("#3c5082", "darkslateblue"),
        ("#14285a", "midnightblue"),
    ]


def test_pixels_of_two_kinds_are_told_apart_whatever_their_shares() -> None:
    rng = np.random.default_rng(5)
    for share in (0.02, 0.3, 0.5, 0.98):
        count = int(5000 * share)
        pixels = np.vstack(
            [np.tile([[200, 40, 40]], (count, 1)), np.tile([[120, 20, 30]], (5000 - count, 1))]
        )
        noisy = np.clip(pixels + rng.integers(-2, 3, pixels.shape), 0, 255).astype(np.uint8)
        assert two_means(noisy) == pytest.approx(np.array([[200, 40, 40], [120, 20, 30]]), abs=1.5)


def test_a_flat_colour_cannot_be_split() -> None:
    picture = picture_from_array(three_tones())
    palette = find_palette(picture, 3)
    labels = label_picture(picture, palette)
    with pytest.raises(SettingsError, match="one colour all over"):
        parted(picture, labels, palette, palette.colours[0].name)
    with pytest.raises(SettingsError, match="there is no colour 'pink'"):
        parted(picture, labels, palette, "pink")
