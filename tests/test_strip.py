"""The strip of colours."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from img2pour.errors import OutputError
from img2pour.palette import Palette, PaletteColour
from img2pour.strip import bar_edges_px, strip_png, write_strip

PALETTE = Palette(
    (
        PaletteColour("navy", (11.0, 31.0, 58.0), "#0b1f3a", 0.75),
        PaletteColour("sa\nnd\x00é", (233.0, 216.0, 166.0), "#e9d8a6", 0.249),
        PaletteColour("red", (255.0, 0.0, 0.0), "#ff0000", 0.001),
    ),
    explained_share=1.0,
    blur_px=0.5,
    noise=1.0,
)


def test_the_bars_are_as_wide_as_the_shares_and_none_is_too_thin() -> None:
    assert bar_edges_px([0.75, 0.249, 0.001]) == [0, 900, 1199, 1259]


def test_the_bars_have_the_colours() -> None:
    with Image.open(BytesIO(strip_png(PALETTE))) as picture:
        assert picture.size == (1259, 305)
        assert [picture.getpixel((x, 100)) for x in (0, 899, 900, 1198, 1199, 1258)] == [
            (11, 31, 58),
            (11, 31, 58),
            (233, 216, 166),
            (233, 216, 166),
            (255, 0, 0),
            (255, 0, 0),
        ]


def test_the_same_palette_gives_the_same_bytes() -> None:
    assert strip_png(PALETTE) == strip_png(PALETTE)


def test_only_a_strip_of_ours_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a-palette.png"
    write_strip(PALETTE, path)
    write_strip(PALETTE, path)
    assert path.read_bytes() == strip_png(PALETTE)
    for content in (b"notes", _plain_png()):
        path.write_bytes(content)
        with pytest.raises(OutputError, match="is not a strip of ours"):
            write_strip(PALETTE, path)
        assert path.read_bytes() == content


def _plain_png() -> bytes:
    data = BytesIO()
    Image.new("RGB", (2, 2)).save(data, "PNG")
    return data.getvalue()


def test_a_strip_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written: no such file or directory"):
        write_strip(PALETTE, tmp_path / "none" / "a.png")
