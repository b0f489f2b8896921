"""`check` as a user types it: the word, the table, the advice, the exit status, bad input."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from img2pour.cli import main

SAND, NAVY, RED = (236, 214, 169), (21, 60, 120), (190, 40, 50)
PALETTE = "#ecd6a9=sand,#153c78=navy,#be2832=red"
MM_PER_PX = 0.5


def field(**more: tuple[int, int, int, int]) -> np.ndarray:
    """Return a picture of 200 x 160 px with a navy field, and red boxes (x0, y0, x1, y1)."""
    pixels = np.full((160, 200, 3), SAND, np.uint8)
    pixels[20:140, 20:80] = NAVY
    for x0, y0, x1, y1 in more.values():
        pixels[y0:y1, x0:x1] = RED
    return pixels


WIDE = (100, 70, 180, 140)
SPECK = (120, 20, 122, 60)
"""1 x 20 mm on the board: too narrow for a bit of 2 mm."""


def art(folder: Path, pixels: np.ndarray) -> Path:
    path = folder / "art.png"
    Image.fromarray(pixels).save(path)
    return path


def typed(source: Path, *more: str) -> Result:
    fixed = ("--width", "100mm", "--colours", PALETTE, "--wood", "sand")
    words = ["check", str(source), *(fixed if source.suffix == ".png" else ()), *more]
    return CliRunner().invoke(main, words, catch_exceptions=False)


def data(source: Path, *more: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(typed(source, *more, "--json").stdout)
    return found


def row(report: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(r for r in report["verdict"]["colours"] if r["name"] == name)
    return found


def test_one_word_first_and_status_0_when_carvable(tmp_path: Path) -> None:
    done = typed(art(tmp_path, field(wide=WIDE)))
    assert done.stdout.splitlines()[0] == "Verdict: carvable"
    assert done.exit_code == 0


def test_status_1_and_the_place_when_something_is_lost(tmp_path: Path) -> None:
    source = art(tmp_path, field(wide=WIDE, speck=SPECK))
    done = typed(source, "--bit", "flat 2mm")
    assert done.stdout.splitlines()[0] == "Verdict: carvable with losses"
    assert done.exit_code == 1
    (place,) = data(source, "--bit", "flat 2mm")["verdict"]["places"]
    assert (place["kind"], place["colour"]) == ("island", "red")
    assert place["width_mm"] == pytest.approx(1.0, abs=0.05)
    assert place["lost_mm2"] == pytest.approx(20.0, rel=0.02)
    x, y = place["at_mm"]
    assert x == pytest.approx(60.5, abs=0.1)
    assert y == pytest.approx(60, abs=1.0)


def test_too_much_lost_is_not_at_this_size(tmp_path: Path) -> None:
    """A bit of 30 mm enters neither field; only its colour's word changes nothing."""
    done = typed(art(tmp_path, field(wide=WIDE)), "--bit", "flat 31mm", "--depth", "3mm")
    assert done.stdout.splitlines()[0] == "Verdict: not at this size"
    assert done.exit_code == 1


@pytest.mark.parametrize(("accepted", "status"), [("0.1%", 1), ("1%", 0)])
def test_accepted_loss_moves_the_line(tmp_path: Path, accepted: str, status: int) -> None:
    """20 mm2 of 3220 mm2 are lost: 0.62 %."""
    source = art(tmp_path, field(wide=WIDE, speck=SPECK))
    done = typed(source, "--bit", "flat 2mm", "--accept-loss", accepted)
    assert done.exit_code == status
    report = data(source, "--bit", "flat 2mm", "--accept-loss", accepted)
    assert report["verdict"]["lost_percent"] == pytest.approx(100 * 20 / 3220, rel=0.02)
    assert report["verdict"]["accepted"] is (status == 0)


def test_smallest_board_is_what_the_stroke_asks_for(tmp_path: Path) -> None:
    """1 mm at a width of 100 mm: a bit of 2 mm enters from a width of 200 mm on."""
    done = typed(art(tmp_path, field(wide=WIDE, speck=SPECK)), "--bit", "flat 2mm")
    (line,) = [one for one in done.stdout.splitlines() if "every stroke is kept" in one]
    assert float(line.split()[-2]) == pytest.approx(200, rel=0.03)


def test_bit_to_add_is_named_with_its_fragility(tmp_path: Path) -> None:
    done = typed(art(tmp_path, field(wide=WIDE, speck=SPECK)), "--bit", "flat 2mm")
    (line,) = [one for one in done.stdout.splitlines() if one.startswith("- adding")]
    assert "% more of the pours" in line
    assert "times as deep as it is wide" in line


def test_ladder_has_three_common_widths(tmp_path: Path) -> None:
    source = art(tmp_path, field(wide=WIDE))
    ladder = data(source)["verdict"]["ladder"]
    assert [step["width_mm"] for step in ladder] == pytest.approx([152.4, 203.2, 254.0])
    volumes = [step["volume_ml"] for step in ladder]
    assert volumes[1] / volumes[0] == pytest.approx((203.2 / 152.4) ** 2, rel=0.02)
    assert all(step["minutes"] > 0 for step in ladder)


def test_vee_marks_a_stroke_shallower_than_the_least_depth(tmp_path: Path) -> None:
    """A stroke of 1 mm under a vee of 60 degrees: 0.5 / tan 30 = 0.87 mm, less than 1.5875."""
    source = art(tmp_path, field(wide=WIDE, speck=SPECK))
    places = data(source, "--bit", "vee 60deg")["verdict"]["places"]
    assert [place["shallow"] for place in places] == [True]
    assert 0.5 / math.tan(math.radians(30)) < 1.5875
    assert data(source, "--bit", "vee 30deg")["verdict"]["places"] == []


def test_one_colour_has_its_own_bit(tmp_path: Path) -> None:
    """The speck is cut by red's own bit of 0.9 mm; navy keeps the corners of the other bit."""
    source = art(tmp_path, field(wide=WIDE, speck=SPECK))
    report = data(source, "--bit", "flat 6mm", "--bit-for", "red=flat 0.9mm", "--depth", "3mm")
    assert row(report, "red")["islands_lost"] == 0
    corners = row(report, "navy")["rounded_corners_mm2"]
    assert corners == pytest.approx((4 - math.pi) * 3**2, rel=0.02)
    bits = {(one["colour"], one["bit"]) for one in report["work"]}
    assert bits == {("navy", "flat 6 mm"), ("red", "flat 0.9 mm")}


def test_one_colour_is_widened_or_kept_in_the_whole(tmp_path: Path) -> None:
    source = art(tmp_path, field(wide=WIDE, speck=SPECK))

    def regions(*more: str) -> int:
        report = data(source, "--bit", "flat 2mm", *more)
        return int(next(r["regions"] for r in report["colours"] if r["name"] == "red"))

    assert regions() == 1
    assert regions("--small-for", "red=keep") == 2
    assert regions("--small-for", "red=widen") == 2
    assert regions("--small", "keep", "--small-for", "red=drop") == 1
    widened = data(source, "--bit", "flat 2mm", "--small-for", "red=widen")
    assert row(widened, "red")["islands_lost"] == 0
    assert {change["kind"] for change in widened["changes"]} == {"widened"}


def test_the_same_from_a_job_file_with_its_own_bits(tmp_path: Path) -> None:
    """A table of one's own, seen from the job's folder."""
    art(tmp_path, field(wide=WIDE, speck=SPECK))
    (tmp_path / "bits.toml").write_text(
        '[[bit]]\nname = "needle"\nkind = "flat"\ndiameter = "0.9 mm"\nshank = "3 mm"\n'
        'cutting_length = "5 mm"\nfeed = "600 mm/min"\nplunge = "200 mm/min"\n'
        'stepover = "30 %"\ndepth_per_pass = "0.5 mm"\n'
    )
    job = tmp_path / "job.toml"
    job.write_text(
        '[artwork]\nfile = "art.png"\n[size]\nwidth = "100 mm"\n'
        f"[colours]\npalette = {json.dumps(PALETTE.split(','))}\nwood = 'sand'\n"
        '[bits]\nuse = ["flat 2 mm"]\ntable = "bits.toml"\n'
        '[[override]]\ncolour = "red"\nbits = ["needle"]\n'
    )
    report = data(job)
    assert row(report, "red")["islands_lost"] == 0
    (work,) = [one for one in report["work"] if one["bit"] == "needle"]
    assert (work["feed_mm_min"], work["passes"]) == (600, math.ceil(3.175 / 0.5))


def test_work_adds_up_to_the_pockets(tmp_path: Path) -> None:
    report = data(art(tmp_path, field(wide=WIDE)))
    for colour in ("navy", "red"):
        own = [one for one in report["work"] if one["colour"] == colour]
        volume = next(r["volume_ml"] for r in report["colours"] if r["name"] == colour)
        assert [one["bit"] for one in own] == ["flat 1/4 in", "flat 1/8 in", "vee 30 deg"]
        assert sum(one["removed_ml"] for one in own) == pytest.approx(volume, rel=1e-9)
        assert sum(one["removed_percent"] for one in own) == pytest.approx(100)
        assert own[-1]["left_ml"] == 0
    plain = typed(tmp_path / "art.png").stdout
    assert "Minutes (estimate)" in plain


def test_bit_without_diameter_says_what_it_took(tmp_path: Path) -> None:
    done = typed(art(tmp_path, field(wide=WIDE)), "--bit", "vee 60deg tip 0.2mm")
    assert "vee 60 deg tip 0.2 mm: diameter 6.35 mm (1/4 in) from 'vee 60 deg'" in done.stderr


def test_pocket_off_the_board_needs_a_dam_or_a_rim(tmp_path: Path) -> None:
    """30 mm of navy lie along the upper edge; a rim of 4 mm takes 120 mm2 of it."""
    pixels = field(wide=WIDE)
    pixels[:20, 20:80] = NAVY
    source = art(tmp_path, pixels)
    report = data(source)
    (edge,) = report["edges"]
    assert edge["colour"] == "navy"
    assert edge["length_mm"] == pytest.approx(30, abs=0.05)
    assert edge["at_mm"] == pytest.approx([25, 80], abs=0.1)
    (warning,) = [line for line in report["warnings"] if "runs off" in line]
    assert "set a dam" in warning
    assert "30 mm" in warning
    rimmed = data(source, "--rim", "4mm")
    assert rimmed["edges"] == []
    areas = [next(r["area_mm2"] for r in one["colours"] if r["name"] == "navy")
             for one in (report, rimmed)]  # fmt: skip
    assert areas[0] - areas[1] == pytest.approx(30 * 4, rel=0.01)
    (change,) = rimmed["changes"]
    assert (change["kind"], change["into"]) == ("rim", "sand")
    assert (change["was_mm"], change["is_mm"]) == (pytest.approx(0.0, abs=1e-6), 4.0)


def test_nothing_is_lost_at_the_open_edge(tmp_path: Path) -> None:
    """A bit of 6 mm rounds the corners inside the board, not those at its edge."""
    pixels = field()
    pixels[:20, 20:80] = NAVY
    report = data(art(tmp_path, pixels), "--bit", "flat 6mm")
    corners = row(report, "navy")["rounded_corners_mm2"]
    assert corners == pytest.approx((4 - math.pi) / 2 * 3**2, rel=0.02)


def test_volume_keeps_the_corners_at_the_open_edge(tmp_path: Path) -> None:
    """30 x 70 mm, 3.175 deep: a bit of 6 mm leaves two rounded corners, not four."""
    pixels = field()
    pixels[:20, 20:80] = NAVY
    report = data(art(tmp_path, pixels), "--bit", "flat 6mm")
    volume = next(r["volume_ml"] for r in report["colours"] if r["name"] == "navy")
    expected = 3.175 * (30 * 70 - (4 - math.pi) / 2 * 3**2) / 1000
    assert volume == pytest.approx(expected, rel=1e-4)


def test_a_strip_along_the_edge_is_kept_since_the_bit_overruns(tmp_path: Path) -> None:
    """4 mm of navy along the upper edge take a bit of 6 mm: it runs 4 mm past the board."""
    pixels = field(wide=WIDE)
    pixels[:8, 100:180] = NAVY
    report = data(art(tmp_path, pixels), "--bit", "flat 6mm")
    assert report["removed"] == []
    assert row(report, "navy")["islands_lost"] == 0
    pixels[:20] = SAND
    pixels[5:13, 100:180] = NAVY
    assert len(data(art(tmp_path, pixels), "--bit", "flat 6mm")["removed"]) == 1


BAD = {
    "unknown kind": (("--bit", "drill 3mm"), "none of flat, vee, taper, ball"),
    "angle of 0": (("--bit", "vee 0deg"), "above 0 and below 180 deg"),
    "angle of 180": (("--bit", "vee 180deg"), "above 0 and below 180 deg"),
    "tip wider than the bit": (("--bit", "vee 60deg 3mm tip 4mm"), "as wide as itself"),
    "depth beyond the floor": (("--depth", "14mm"), "6 mm must stay under it"),
    "depth in a thin board": (("--depth", "7mm", "--thickness", "9mm"), "3 mm must stay"),
    "depth beyond the bit": (("--bit", "flat 1/16in", "--depth", "8mm"), "cuts 6.35 mm deep at"),
    "rim over all": (("--rim", "45mm"), "leaves nothing of a board"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_clear_line(tmp_path: Path, name: str) -> None:
    words, said = BAD[name]
    done = typed(art(tmp_path, field(wide=WIDE)), *words)
    assert done.exit_code == 2
    assert done.stdout == ""
    (line,) = done.stderr.splitlines()
    assert line.startswith("error: ")
    assert said in line


def test_no_bits_is_one_clear_line(tmp_path: Path) -> None:
    art(tmp_path, field(wide=WIDE))
    job = tmp_path / "job.toml"
    job.write_text('[artwork]\nfile = "art.png"\n[size]\nwidth = "100 mm"\n[bits]\nuse = []\n')
    done = typed(job)
    assert done.exit_code == 2
    (line,) = done.stderr.splitlines()
    assert "no bits are listed; name at least one" in line
