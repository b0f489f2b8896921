"""Try-outs side by side: what is changed, what is shared, and what stands on the page."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from img2pour.cli import main
from img2pour.compare import compare, figures_of, read_change, rows_of, tryouts_of
from img2pour.errors import OutputError, SettingsError
from img2pour.job import make_job
from img2pour.pipeline import convert
from img2pour.progress import Progress
from img2pour.table import STEPS
from img2pour.write.compare_page import compare_files
from tests.pond import pond_job, write_pond


@pytest.mark.parametrize(
    ("text", "options"),
    [
        ("depth=4mm,seal=flood", {"depth": "4mm", "seal": "flood"}),
        ("depth = 4 mm , seal = flood board", {"depth": "4 mm", "seal": "flood board"}),
        ("order=navy,red,gold,depth=4mm", {"order": "navy,red,gold", "depth": "4mm"}),
        ("role=navy=wood,role=red=pour", {"role": ("navy=wood", "red=pour")}),
        ("bit=flat 1/8in,bit=vee 30deg", {"bit": ("flat 1/8in", "vee 30deg")}),
        ("thin-walls=merge,done=2", {"thin_walls": "merge", "done": 2}),
        ("board=21x14.25in", {"board": "21x14.25in"}),
    ],
)
def test_changes_are_read_by_the_names_of_options(text: str, options: dict[str, Any]) -> None:
    assert read_change(text) == options


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("depth", "'depth' changes nothing; write it like depth=4mm"),
        ("depth=", "'depth=' changes nothing"),
        ("", "'' changes nothing"),
        ("deep=4mm", "'deep' is no option; there are: max-megapixels, "),
        ("picture=x.png", "'picture' is no option"),
        ("depth=4mm,seal", "--depth: '4mm,seal' has a comma"),
        ("seal=foam", "--seal: 'foam' is not allowed; use band, flood"),
    ],
)
def test_a_wrong_change_is_named(text: str, said: str) -> None:
    with pytest.raises(SettingsError) as caught:
        tryouts_of([("pond", make_job(size={"width": "120 mm"}), Path())], [text])
    assert str(caught.value).startswith(f"--try '{text}': ")
    assert said in str(caught.value)


def test_one_job_alone_and_too_many_are_refused() -> None:
    jobs = [("pond", pond_job(), Path())]
    with pytest.raises(SettingsError, match="only one job to compare"):
        tryouts_of(jobs, [])
    with pytest.raises(SettingsError, match="26 try-outs are too many for one page; at most 24"):
        tryouts_of(jobs, ["depth=4mm"] * 25)


def test_every_job_gets_every_change() -> None:
    jobs = [("one", pond_job(), Path()), ("two", pond_job(), Path())]
    found = tryouts_of(jobs, ["depth=4mm"])
    assert [(one.job_name, one.change) for one in found] == [
        ("one", "as it is"),
        ("one", "depth=4mm"),
        ("two", "as it is"),
        ("two", "depth=4mm"),
    ]
    assert [one.job.carving.depth.mm for one in found] == [3.175, 4.0, 3.175, 4.0]


def test_figures_follow_the_changes_and_nothing_is_traced_twice(tmp_path: Path) -> None:
    write_pond(tmp_path / "pond.png")
    ran: list[str] = []
    tryouts = tryouts_of(
        [("pond", pond_job(), tmp_path)], ["seal=none", "depth=4.175mm,seal=none", "order=sun,sea"]
    )
    done = compare(tryouts, convert, Progress(lambda words, _: ran.append(words.split(": ")[-1])))
    for once in ("read", "colours", "labels", "trace", "place"):
        assert ran.count(once) == 1, once
    assert "check" not in ran
    assert set(ran) <= set(STEPS)
    plain, bare, deep, turned = (one.figures for one in done)
    assert plain is not None
    assert bare is not None
    assert deep is not None
    assert turned is not None
    assert (plain.stages, bare.stages) == (3, 2)  # without a seal one stage less
    assert plain.resin_ml > bare.resin_ml
    assert plain.days > bare.days
    # One mm deeper takes 1 mm times the area of the pockets more, and a tenth of waste on top.
    pockets = done[1].result.planned
    assert pockets is not None
    area = sum(stage.outline.area for stage in pockets.plan.stages)
    assert deep.resin_ml - bare.resin_ml == pytest.approx(1.1 * area / 1000, abs=4.0)
    assert turned.order == "sun, then sea"
    assert turned.lost_percent == pytest.approx(0.0, abs=0.2)


def test_nothing_poured_is_a_row_without_figures(tmp_path: Path) -> None:
    write_pond(tmp_path / "pond.png")
    tryouts = tryouts_of(
        [("pond", pond_job(), tmp_path)], ["role=sea=wood,role=sun=wood", "depth=3mm"]
    )
    done = compare(tryouts, convert)
    assert figures_of(done[1].result) is None
    assert rows_of(done)[1]["cost"] is None
    page = compare_files(done)["compare.html"].decode()
    assert "nothing is poured" in page
    assert "pond: role=sea=wood,role=sun=wood" in page


def test_what_cannot_be_done_names_its_tryout(tmp_path: Path) -> None:
    write_pond(tmp_path / "pond.png")
    tryouts = tryouts_of([("pond", pond_job(), tmp_path)], ["order=sun"])
    with pytest.raises(SettingsError, match=r"pond, order=sun: pours\.order: sea missing"):
        compare(tryouts, convert)


def test_the_page_and_the_table_from_the_command_line(tmp_path: Path) -> None:
    write_pond(tmp_path / "pond.png")
    out = tmp_path / "out"
    arguments = [
        "compare", str(tmp_path / "pond.png"), "--width", "120mm", "--wood", "sand",
        "--colours", "#ecd6a9=sand,#153c78=sea,#f0c030=sun",
        "--try", "seal=flood", "--try", "seal=none", "-o", str(out), "--json",
    ]  # fmt: skip
    ran = CliRunner().invoke(main, arguments)
    assert ran.exit_code == 0, ran.output
    rows = json.loads(ran.stdout)["tryouts"]
    assert [row["change"] for row in rows] == ["as it is", "seal=flood", "seal=none"]
    assert sorted(path.name for path in out.iterdir()) == [
        "compare.csv",
        "compare.html",
        "manifest.json",
    ]
    table = list(csv.DictReader(io.StringIO((out / "compare.csv").read_text("utf-8"))))
    assert [float(row["resin_ml"]) for row in table] == [
        pytest.approx(row["resin_ml"], abs=0.05) for row in rows
    ]
    page = (out / "compare.html").read_text("utf-8")
    assert page.count("data:image/png;base64,") == 3
    assert "http" not in page.replace("http-equiv", "")
    # A file of somebody else's stays.
    (out / "mine.txt").write_text("mine")
    again = CliRunner().invoke(main, arguments)
    assert again.exit_code == 2
    assert "mine.txt" in again.output


def test_the_table_in_the_terminal(tmp_path: Path) -> None:
    write_pond(tmp_path / "pond.png")
    arguments = ["compare", str(tmp_path / "pond.png"), "--width", "120mm", "-o"]
    ran = CliRunner().invoke(main, [*arguments, str(tmp_path / "o"), "--try", "seal=none"])
    assert ran.exit_code == 0, ran.output
    assert ran.output.splitlines()[0].split()[:2] == ["Try-out", "Lost"]
    assert "pond: seal=none" in ran.output


def test_the_table_of_resins(tmp_path: Path) -> None:
    plain = CliRunner().invoke(main, ["resins"])
    assert plain.exit_code == 0
    assert "table-top 1:1" in plain.output
    assert "data sheet governs" in plain.output
    own = tmp_path / "resins.toml"
    own.write_text('[[resin]]\nname = "table-top 1:1"\nprice_per_litre = 40\n')
    found = json.loads(
        CliRunner().invoke(main, ["resins", "--json", "--resin-table", str(own)]).stdout
    )
    by_name = {resin["name"]: resin for resin in found["resins"]}
    assert by_name["table-top 1:1"]["price_per_litre"] == 40
    assert "data sheet governs" in found["notice"]
    missing = CliRunner().invoke(main, ["resins", "--resin-table", str(tmp_path / "none.toml")])
    assert missing.exit_code == 2
    assert "cannot be read" in missing.output
    wrong = tmp_path / "wrong.toml"
    wrong.write_text('[[resin]]\nname = "glue"\n')
    told = CliRunner().invoke(main, ["resins", "--resin-table", str(wrong)])
    assert told.exit_code == 2
    assert "wrong.toml, line 2: 'glue' is new" in told.output


def test_an_output_folder_of_somebody_else_is_refused_before_the_work(tmp_path: Path) -> None:
    from img2pour import pipeline

    (tmp_path / "mine.txt").write_text("mine")
    tryouts = tryouts_of([("pond", pond_job(), tmp_path)], ["seal=none"])
    with pytest.raises(OutputError, match=r"mine\.txt"):
        pipeline.compare(tryouts, tmp_path)
