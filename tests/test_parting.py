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
        ("#3c5082", "blue"),
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


def test_the_larger_keeps_the_name() -> None:
    rgb = three_tones()
    rgb[20:60, 20:70] = (240, 235, 220)
    picture = picture_from_array(rgb)
    palette = find_palette(picture, (("#f0ebdc", "paper"), ("#283c6e", "harbour")))
    labels = label_picture(picture, palette)
    assert parted(picture, labels, palette, "harbour")[1:] == [
        ("#3c5082", "harbour"),
        ("#14285a", "midnightblue"),
    ]


def test_blends_along_edges_are_no_second_colour() -> None:
    yy, xx = np.mgrid[:240, :240]
    outside = np.clip(np.hypot(xx - 120, yy - 120) - 80, -1, 1)[..., None] / 2 + 0.5
    rgb = np.rint(outside * (240, 235, 220) + (1 - outside) * (20, 40, 90)).astype(np.uint8)
    picture = picture_from_array(rgb)
    palette = find_palette(picture, (("#f0ebdc", "paper"), ("#14285a", "blue")))
    labels = label_picture(picture, palette)
    for name in ("paper", "blue"):
        with pytest.raises(SettingsError, match="one colour all over"):
            parted(picture, labels, palette, name)


def test_a_flat_colour_cannot_be_split() -> None:
    picture = picture_from_array(three_tones())
    palette = find_palette(picture, 3)
    labels = label_picture(picture, palette)
    with pytest.raises(SettingsError, match="one colour all over"):
        parted(picture, labels, palette, palette.colours[0].name)
    with pytest.raises(SettingsError, match="there is no colour 'pink'"):
        parted(picture, labels, palette, "pink")
