"""Small pictures without blended edges. Truth: the very colours and blocks that were drawn."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from img2pour.colours.solid import solid_colours
from img2pour.labels import label_picture
from img2pour.palette import find_palette
from img2pour.picture import picture_from_array
from img2pour.plane.regionmap import face_areas
from img2pour.plane.trace import trace

COLOURS = np.array(
    [[250, 247, 240], [20, 60, 120], [200, 40, 40], [246, 200, 40], [46, 139, 87], [0, 0, 0]],
    np.uint8,
)
QUICK = settings(derandomize=True, max_examples=25, deadline=None)


def blocks(columns: int, rows: int, block_px: int, seed: int) -> NDArray[np.intp]:
    """Return which colour each pixel has: blocks of random colours, a frame of the first around."""
    numbers = np.random.default_rng(seed).integers(0, len(COLOURS), (rows, columns))
    numbers[:, 1::2] = numbers[1::2] = 0
    return np.pad(np.kron(numbers, np.ones((block_px, block_px), np.intp)), 2)


@QUICK
@given(st.integers(2, 9), st.integers(2, 9), st.integers(3, 6), st.integers(0, 10_000))
def test_every_block_keeps_its_colour(columns: int, rows: int, block_px: int, seed: int) -> None:
    truth = blocks(columns, rows, block_px, seed)
    picture = picture_from_array(COLOURS[truth])
    palette = find_palette(picture)
    assert {colour.rgb for colour in palette.colours} == {
        tuple(COLOURS[k].astype(float)) for k in np.unique(truth)
    }
    for colour in palette.colours:
        drawn = (COLOURS[truth] == np.array(colour.rgb)).all(axis=2).mean()
        assert colour.share == pytest.approx(drawn)
    labels = label_picture(picture, palette)
    assert (palette.rgb[labels] == COLOURS[truth]).all()


@pytest.mark.parametrize("block_px", [3, 4, 6, 10, 12])
def test_every_block_is_a_region(block_px: int) -> None:
    truth = blocks(5, 5, block_px, 3)
    picture = picture_from_array(COLOURS[truth])
    palette = find_palette(picture)
    made = trace(picture.rgb, label_picture(picture, palette), palette.rgb).region_map
    drawn = int((truth[2 : -2 : 2 * block_px, 2 : -2 : 2 * block_px] > 0).sum())
    assert made.face_count == 1 + drawn
    # Corners of the smallest ones are rounded off: they have no straight sides to meet.
    rounded = 0.3 if block_px < 10 else 1e-6
    assert np.sort(face_areas(made))[:-1] == pytest.approx(block_px**2, rel=rounded)


def test_outside_pixels_are_not_asked() -> None:
    truth = blocks(3, 3, 4, 1)
    rgb = COLOURS[truth]
    outside = np.zeros(truth.shape, bool)
    outside[:6] = True
    rgb[:6] = np.random.default_rng(0).integers(0, 256, rgb[:6].shape)
    colours = solid_colours(rgb, outside)
    assert colours is not None
    assert set(map(tuple, colours)) == {tuple(map(float, c)) for c in COLOURS[np.unique(truth[6:])]}


def test_blended_edges_are_left_to_the_search_for_flat_areas() -> None:
    """A disc with pixels weighted by their distance to its outline."""
    y, x = np.mgrid[:60, :60] + 0.5
    share = np.clip(20.5 - np.hypot(x - 30.2, y - 29.7), 0, 1)[..., None]
    rgb = np.rint(COLOURS[1] * share + COLOURS[0] * (1.0 - share)).astype(np.uint8)
    assert solid_colours(rgb, None) is None


@pytest.mark.parametrize(
    "rgb",
    [
        np.repeat(np.arange(0, 240, 4, np.uint8).repeat(2)[:, None, None], 40, 1).repeat(3, 2),
        255 * np.indices((40, 40)).sum(axis=0).astype(np.uint8)[..., None].repeat(3, 2) % 2,
        np.random.default_rng(0).integers(0, 256, (50, 50, 3), np.uint8),
        np.zeros((1, 30, 3), np.uint8),
        np.zeros((300, 300, 3), np.uint8),
    ],
    ids=["shading", "dots side by side", "noise", "one row", "large"],
)
def test_other_pictures_are_none_of_these(rgb: NDArray[np.uint8]) -> None:
    assert solid_colours(rgb, None) is None
