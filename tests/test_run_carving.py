"""What `run` writes for the carver: overruns in the stage drawings, the cut, the list of edges."""

from __future__ import annotations

import json
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner
from click.testing import Result as Done
from PIL import Image

from img2pour.cli import main

SAND, NAVY = (236, 214, 169), (21, 60, 120)


def run(folder: Path, *more: str) -> Done:
    """Run for a navy field that runs off the upper edge of a board of 100 x 80 mm."""
    pixels = np.full((160, 200, 3), SAND, np.uint8)
    pixels[:100, 40:120] = NAVY
    Image.fromarray(pixels).save(folder / "art.png")
    words = ["run", str(folder / "art.png"), "-o", str(folder / "out"), "--width", "100mm"]
    fixed = ["--colours", "#ecd6a9=sand,#153c78=navy", "--wood", "sand", "-q"]
    return CliRunner().invoke(main, [*words, *fixed, *more], catch_exceptions=False)


def box_of(file: Path, ending: str) -> np.ndarray:
    """Return x0, y0, x1, y1 of the layer whose name ends so."""
    points = [
        point
        for outline in ezdxf.readfile(file).modelspace().query("LWPOLYLINE")
        if outline.dxf.layer.endswith(ending)
        for point in outline.get_points("xy")
    ]
    return np.concatenate([np.min(points, axis=0), np.max(points, axis=0)])


def test_stage_drawing_overruns_the_edge_and_the_design_does_not(tmp_path: Path) -> None:
    """By the radius of the bit that cuts the wall, 1/16 in, and 1 mm."""
    assert run(tmp_path, "--seal", "none").exit_code == 0
    reach = 25.4 / 16 + 1.0
    cut = box_of(tmp_path / "out" / "carve" / "all-stages.dxf", "NAVY")
    assert cut == pytest.approx([20 - reach, 30, 60 + reach, 80 + reach], abs=0.02)
    drawn = box_of(tmp_path / "out" / "design" / "regions.dxf", "NAVY")
    assert drawn == pytest.approx([20, 30, 60, 80], abs=0.02)
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert [edge["colour"] for edge in report["edges"]] == ["navy"]
    assert any("set a dam" in line for line in report["warnings"])


def test_without_wood_around_the_board_nothing_is_cut_beyond_it(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        '[artwork]\nfile = "art.png"\n[size]\nwidth = "100 mm"\n[blank]\nmargin = "0 mm"\n'
        '[colours]\npalette = ["#ecd6a9=sand", "#153c78=navy"]\nwood = "sand"\n'
        '[seal]\nkind = "none"\n'
    )
    run(tmp_path)
    out = ["run", str(job), "-o", str(tmp_path / "bare"), "-q"]
    assert CliRunner().invoke(main, out, catch_exceptions=False).exit_code == 0
    cut = box_of(tmp_path / "bare" / "carve" / "all-stages.dxf", "NAVY")
    assert cut == pytest.approx([20, 30, 60, 80], abs=0.02)


def test_rim_is_wood_in_the_design(tmp_path: Path) -> None:
    assert run(tmp_path, "--rim", "5mm", "--seal", "none").exit_code == 0
    drawn = box_of(tmp_path / "out" / "design" / "regions.dxf", "NAVY")
    assert drawn == pytest.approx([20, 30, 60, 75], abs=0.02)
    assert 'rim = "5 mm"' in (tmp_path / "out" / "job.toml").read_text()


def test_rim_brings_its_own_wood_where_the_picture_has_none(tmp_path: Path) -> None:
    assert run(tmp_path, "--rim", "5mm", "--wood", "none", "--seal", "none").exit_code == 0
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    (rim,) = [row for row in report["colours"] if row["role"] == "wood"]
    assert rim["area_mm2"] == pytest.approx(100 * 80 - 90 * 70, rel=1e-6)
    assert report["edges"] == []


def test_report_shows_the_cut_where_it_is_asked_for(tmp_path: Path) -> None:
    assert run(tmp_path, "--section", "40mm").exit_code == 0
    page = (tmp_path / "out" / "report.html").read_text()
    assert "Cut across the board, 40 mm above its lower edge" in page


def test_cut_beside_the_board_is_one_clear_line(tmp_path: Path) -> None:
    done = run(tmp_path, "--section", "90mm")
    assert done.exit_code == 2
    assert done.stderr.splitlines() == [
        "error: the section at 90 mm lies above the board, which is 80 mm high; "
        "give a smaller height"
    ]
    assert not (tmp_path / "out").exists()
