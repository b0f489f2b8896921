"""Pieces on a board with no artwork of its own."""

from __future__ import annotations

import numpy as np
import pytest

from img2pour.errors import SettingsError
from img2pour.job.reading import read_job
from img2pour.pipeline import check, run

DISC = '[[shape]]\nkind = "disc"\nwidth = "40 mm"\ncolour = "#cc0000=red"\nat = "60mm+50mm"\n'


def test_it_is_bare_wood_of_the_boards_size(tmp_path) -> None:
    job = read_job('[size]\nboard = "160x100mm"\nmargin = "10 mm"\n' + DISC)
    result = run(job, tmp_path / "out", base=tmp_path)
    areas = {row["name"]: row["area_mm2"] for row in result.report["colours"]}
    assert areas["red"] == pytest.approx(np.pi * 400, rel=1e-9)
    assert [(c.name, c.role) for c in result.design.colours] == [("wood", "wood"), ("red", "pour")]
    assert not [line for line in result.warnings if "pixel" in line or "taken as" in line]
    again = read_job((tmp_path / "out" / "job.toml").read_text())
    assert run(again, tmp_path / "again", base=tmp_path / "out").report == result.report
    first, second = ((tmp_path / name / "report.html").read_bytes() for name in ("out", "again"))
    assert first == second


def test_its_size_is_asked_for(tmp_path) -> None:
    with pytest.raises(SettingsError, match="how large is the bare board"):
        check(read_job('[size]\nwidth = "10 in"\n' + DISC), base=tmp_path)
    with pytest.raises(SettingsError, match="names no picture"):
        check(read_job('[size]\nboard = "160x100mm"'), base=tmp_path)
