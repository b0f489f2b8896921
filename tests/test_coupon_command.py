"""The coupon as a user asks for it: sizes of the job, read back from the drawing."""

from __future__ import annotations

from pathlib import Path

import cv2
import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from img2pour.cli import main

SAND, NAVY = (236, 214, 169), (21, 60, 120)
PALETTE = "#ecd6a9=sand,#153c78=navy"


def draw(path: Path) -> None:
    """Two fields of navy with a wall of 4 px, and a stroke of 3 px: 1 px is 0.5 mm."""
    pixels = np.full((160, 200, 3), SAND, np.uint8)
    pixels[20:60, 20:98] = pixels[20:60, 102:180] = NAVY
    pixels[100:103, 30:170] = NAVY
    Image.fromarray(pixels).save(path)


def make(folder: Path, *more: str) -> Result:
    draw(folder / "art.png")
    command = ["coupon", str(folder / "art.png"), "--width", "100mm", "-o", str(folder / "out")]
    fixed = ["--colours", PALETTE, "--wood", "sand"]
    return CliRunner().invoke(main, [*command, *fixed, *more], catch_exceptions=False)


def boxes(folder: Path, start: str) -> list[tuple[float, float]]:
    """Return the sizes of the outlines on the layers that begin so, by width and height."""
    found = []
    for outline in ezdxf.readfile(folder / "out" / "coupon.dxf").modelspace().query("LWPOLYLINE"):
        if outline.dxf.layer.startswith(start):
            points = np.array(outline.get_points("xy"))
            found.append(tuple(np.ptp(points, axis=0).tolist()))
    return sorted(found)


def test_coupon_holds_the_sizes_of_the_job(tmp_path: Path) -> None:
    """The stroke is 1.5 mm, tried at 0.8, 1 and 1.25 of it; a bit of 1 mm cuts it."""
    result = make(tmp_path, "--bit", "flat 1mm", "--border", "0.8mm", "--depth", "4mm")
    assert result.exit_code == 0
    strokes = sorted(height for _, height in boxes(tmp_path, "STROKE_4-00MM"))
    assert strokes == pytest.approx([1.2, 1.5, 1.875], abs=0.05)
    assert [line.split(":")[0].strip() for line in result.output.splitlines()[1:5]] == [
        "stroke",
        "wall",
        "border",
        "depth",
    ]


def test_depths_stand_in_the_layers(tmp_path: Path) -> None:
    make(tmp_path, "--bit", "flat 1mm", "--depth", "4mm")
    layers = {layer.dxf.name for layer in ezdxf.readfile(tmp_path / "out/coupon.dxf").layers}
    assert {f"DEPTH_{depth}MM" for depth in ("1-00", "2-00", "3-00", "4-00")} <= layers


def test_border_is_carved_in_two_goes(tmp_path: Path) -> None:
    """The colour's pocket lies the border's width inside that of the clear."""
    make(tmp_path, "--bit", "flat 1mm", "--border", "1mm")
    outer, inner = boxes(tmp_path, "BORDER_1_CLEAR"), boxes(tmp_path, "BORDER_2_COLOUR")
    borders = sorted((o[1] - i[1]) / 2 for o, i in zip(outer, inner, strict=True))
    assert borders == pytest.approx([0.8, 1.0, 1.25], abs=1e-3)


def test_without_a_seal_there_is_no_border(tmp_path: Path) -> None:
    result = make(tmp_path, "--bit", "flat 1mm", "--seal", "none")
    assert "border" not in result.output
    assert boxes(tmp_path, "BORDER") == []


def test_picture_shows_the_offcut(tmp_path: Path) -> None:
    make(tmp_path, "--bit", "flat 1mm")
    picture = cv2.imread(str(tmp_path / "out" / "coupon.png"))
    assert max(picture.shape[:2]) == 1400
    assert (picture == (147, 90, 21)).all(axis=2).sum() > 200  # strokes, blue first


def test_folder_of_somebody_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine")
    result = make(tmp_path, "--bit", "flat 1mm")
    assert result.exit_code == 2
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["mine.txt"]
