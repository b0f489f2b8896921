"""The measuring tools measure: memory and CPU of a process tree, and the plain script works."""

import csv
import sys
from pathlib import Path

import cv2
import ezdxf
import numpy as np
import pytest

from tests.art.bench import assorted
from tests.benchmarks import plain_script
from tests.benchmarks.colour_number import LEAST_DIFFERENCE, random_palette
from tests.benchmarks.processes import run
from tests.benchmarks.tables import table
from tests.colours import ciede2000, lab

HOLD_150_MB = "import time; held = bytearray(b'x') * 150_000_000; time.sleep(0.3)"
IN_A_CHILD = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {HOLD_150_MB!r}])"


@pytest.mark.parametrize("code", [HOLD_150_MB, IN_A_CHILD], ids=["itself", "a child"])
def test_peak_memory_counts_the_whole_tree(code):
    found = run([sys.executable, "-c", code], watch_memory=True)
    assert 143 < found.peak_mb < 190


def test_peak_memory_is_not_the_parents():
    held = bytearray(b"x") * 300_000_000
    found = run([sys.executable, "-c", "import time; time.sleep(0.1)"], watch_memory=True)
    assert len(held) > 0
    assert 2 < found.peak_mb < 60


def test_cpu_seconds_count_children():
    work = "sum(i * i for i in range(2_000_000))"
    here = run([sys.executable, "-c", work])
    child = run([sys.executable, "-c", f"import os; os.system('{sys.executable} -c \"{work}\"')"])
    idle = run([sys.executable, "-c", "import time; time.sleep(0.2)"])
    assert child.cpu_s > 0.8 * here.cpu_s > 0
    assert idle.wall_s > 0.2 > idle.cpu_s


def test_a_failing_command_ends_the_measurement():
    with pytest.raises(SystemExit, match="ended with 3"):
        run([sys.executable, "-c", "raise SystemExit(3)"])


def test_the_plain_script_does_the_job(tmp_path: Path):
    art = assorted(900, 600, 1)
    picture = tmp_path / "art.png"
    cv2.imwrite(str(picture), art.picture()[:, :, ::-1])
    plain_script.convert(picture, tmp_path / "out", 6, 90.0)
    with open(tmp_path / "out" / "areas.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    # Its contours run through pixel centres, so each region is half a pixel too small all round.
    assert 0.96 * 90 * 60 < sum(float(row["area_mm2"]) for row in rows) < 90 * 60
    found = [tuple(int(row["hex"][i : i + 2], 16) for i in (1, 3, 5)) for row in rows]
    for colour in art.palette:
        assert min(np.abs(np.subtract(colour, other)).max() for other in found) < 20
    drawing = ezdxf.readfile(tmp_path / "out" / "regions.dxf")
    assert {line.dxf.layer for line in drawing.modelspace()} == {row["layer"] for row in rows}


def test_random_palettes_keep_their_colours_apart():
    colours = lab(np.array(random_palette(9, 4), float))
    apart = ciede2000(colours[:, None], colours[None]) + 1000 * np.eye(9)
    assert apart.min() >= LEAST_DIFFERENCE


def test_tables_are_markdown():
    assert table(["a", "b"], [[1, "x"]]) == "| a | b |\n| --- | --- |\n| 1 | x |"
