"""Truth: the sample pictures are what their drawing programs draw, small, and tagged as told."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.art import kingfisher, koi, lighthouse
from tests.art.known import Rgb
from tests.art.photo import SIZE, corners_px
from tests.art.scene import Scene, rgb

FOLDER = Path(__file__).parents[1] / "sample_images"


def pixels(name: str) -> np.ndarray:
    with Image.open(FOLDER / name) as picture:
        return np.asarray(picture.convert("RGB"), float)


def test_files_are_small_and_all_told_of():
    told = (FOLDER / "README.md").read_text(encoding="utf-8")
    pictures = [path for path in FOLDER.iterdir() if path.is_file() and path.suffix != ".md"]
    assert len(pictures) == 3
    for path in pictures:
        assert f"`{path.name}`" in told
        assert path.stat().st_size < 600_000


def test_kingfisher_is_the_drawing():
    drawn = kingfisher.kingfisher().render()
    assert np.abs(pixels("kingfisher.png") - drawn).mean() < 0.3


def test_lighthouse_is_the_drawing_at_300_dpi():
    drawn = lighthouse.lighthouse().render(linear=True)
    # Paper texture and noise are a few grey levels.
    assert np.abs(pixels("lighthouse-scan.jpg") - drawn).mean() < 5
    with Image.open(FOLDER / "lighthouse-scan.jpg") as picture:
        assert picture.info["dpi"] == (300, 300)


def test_the_sheet_of_the_photo_lies_where_its_camera_says():
    photo = pixels("koi-photo.jpg").mean(axis=2)
    assert photo.shape == SIZE[::-1]
    corners = corners_px()
    towards = np.sign(corners.mean(axis=0) - corners)
    for corner, inward in zip(corners, towards, strict=True):
        (x, y), (out_x, out_y) = (
            (corner + 8 * inward).astype(int),
            (corner - 8 * inward).astype(int),
        )
        assert photo[y, x] > photo[out_y, out_x] + 40


@pytest.mark.parametrize(
    "scene",
    [kingfisher.kingfisher(), lighthouse.lighthouse(), koi.koi_pond()],
    ids=lambda s: s.width,
)
def test_scenes_tile_their_frame_with_six_colours(scene: Scene):
    seen = scene.visible()
    assert len(seen) == 6
    assert all(shape.area > 0 for shape in seen.values())
    total = sum(shape.area for shape in seen.values())
    assert total == pytest.approx(scene.width * scene.height, rel=1e-9)


def test_hex_colours():
    assert rgb("#ecd6a9") == (236, 214, 169)
    palette: list[Rgb] = [rgb(value) for value in kingfisher.PALETTE.values()]
    assert len(set(palette)) == 6
