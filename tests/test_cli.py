"""The command line: what it hands to the pipeline, what it prints, how it ends."""

from __future__ import annotations

import errno
import json
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import img2pour
from img2pour.cli import main
from img2pour.errors import ImageError, OutputError
from img2pour.job import Job, read_job
from img2pour.palette import Palette, PaletteColour
from img2pour.progress import Progress

CHECKS = ("check", "palette", "coupon", "compare", "note")
COMMANDS = ("run", "job", "batch", "bits", "resins", "serve", *CHECKS)
HEAVY = ("numpy", "cv2", "shapely", "scipy", "ezdxf", "PIL", "pydantic", "rich", "jinja2")
REPORT: dict[str, Any] = {
    "board": {"width_mm": 304.8, "height_mm": 203.2, "thickness_mm": 19.05},
    "scale_mm_per_px": 0.1,
    "colours": [
        {
            "name": "navy",
            "hex": "#0b1f3a",
            "role": "pour",
            "layer": "NAVY",
            "area_mm2": 6451.6,
            "area_percent": 25.0,
            "regions": 3,
            "volume_ml": 20.0,
        }
    ],
    "removed": [],
    "warnings": ["two colours are alike"],
}
VERDICT = {"word": "carvable", "accepted": True, "colours": [], "advice": [], "ladder": []}


@dataclass
class Made:
    report: dict[str, Any]
    warnings: tuple[str, ...] = ("two colours are alike",)


@dataclass
class Pipeline:
    """A stand-in for the pipeline, which notes what it was asked."""

    asked: list[tuple[str, Job, dict[str, Any]]] = field(default_factory=list)
    fails: Exception | None = None
    verdict: dict[str, Any] = field(default_factory=lambda: dict(VERDICT))

    def run(self, job: Job, out: Path, *, base: Path, progress: Progress) -> Made:
        return self._made("run", job, out=out, base=base)

    def check(self, job: Job, *, base: Path, progress: Progress) -> Made:
        return self._made("check", job, base=base)

    def see_palette(self, job: Job, *, base: Path, progress: Progress) -> Palette:
        self._made("see_palette", job, base=base)
        colours = (
            PaletteColour("navy", (11.0, 31.0, 58.0), "#0b1f3a", 0.75),
            PaletteColour('=sand"\n', (233.0, 216.0, 166.0), "#e9d8a6", 0.25),
        )
        return Palette(colours, 1.0, 0.5, 1.0, ("few colours",))

    def _made(self, name: str, job: Job, **more: Any) -> Made:
        self.asked.append((name, job, more))
        if self.fails is not None:
            raise self.fails
        return Made(REPORT | {"verdict": self.verdict})


@pytest.fixture
def pipeline(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Pipeline:
    stand_in = Pipeline()
    monkeypatch.setitem(sys.modules, "img2pour.pipeline", stand_in)  # type: ignore[arg-type]
    monkeypatch.setattr(img2pour, "pipeline", stand_in, raising=False)
    monkeypatch.chdir(tmp_path)
    return stand_in


def call(*words: str) -> Result:
    return CliRunner().invoke(main, list(words), prog_name="img2pour")


def test_help_loads_nothing_heavy() -> None:
    """Neither numpy nor cv2, nor anything else that takes time, for any command's help."""
    code = (
        "import sys, img2pour\n"
        "from img2pour.cli import main\n"
        f"for words in [[]] + [[name] for name in {COMMANDS}]:\n"
        "    main([*words, '--help'], standalone_mode=False)\n"
        f"print('HEAVY', [name for name in {HEAVY} if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "HEAVY []"


def test_python_m_shows_the_commands() -> None:
    words = [sys.executable, "-m", "img2pour", "--help"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("Usage: img2pour ")
    assert all(f"\n  {name} " in done.stdout for name in COMMANDS)


def test_the_version_is_shown() -> None:
    assert call("--version").output == f"img2pour, version {img2pour.__version__}\n"


def test_run_hands_over_the_job_and_shows_one_table(pipeline: Pipeline) -> None:
    done = call("run", "art/sign.png", "--width", "12in", "--bit", "flat 1/8in", "-o", "out")
    assert (done.exit_code, done.stderr) == (0, "warning: two colours are alike\n")
    [(name, job, more)] = pipeline.asked
    assert name == "run"
    assert job.artwork_path(more["base"]) == Path("art/sign.png")
    assert more["out"] == Path("out")
    assert job.bits.use == ("flat 1/8in",)
    lines = done.stdout.splitlines()
    assert lines[0].startswith("Board 12 in x 8 in")
    assert len(lines) == 3


def test_json_prints_the_report_and_nothing_else(pipeline: Pipeline) -> None:
    done = call("run", "a.png", "--width", "12in", "-o", "out", "--json")
    assert json.loads(done.stdout) == REPORT | {"verdict": VERDICT}
    assert done.stderr == ""


def test_quiet_prints_nothing(pipeline: Pipeline) -> None:
    assert call("run", "a.png", "--width", "12in", "-o", "out", "-q").output == ""


def test_a_job_file_sets_the_folder_its_paths_count_from(pipeline: Pipeline) -> None:
    Path("jobs").mkdir()
    Path("jobs/j.toml").write_text('[artwork]\nfile = "a.png"\n[size]\nwidth = "3in"\n')
    Path("mine.toml").write_text("")
    call("run", "jobs/j.toml", "-o", "out", "--depth", "3mm", "--bit-table", "mine.toml")
    [(_, job, more)] = pipeline.asked
    assert more["base"] == Path("jobs")
    assert job.artwork_path(more["base"]) == Path("jobs/a.png")
    assert job.bits.table == "../mine.toml"
    assert job.carving.depth.mm == 3.0


@pytest.mark.parametrize(
    ("accepted", "status"), [(True, 0), (False, 1)], ids=["carvable", "with losses"]
)
def test_check_ends_with_its_verdict(pipeline: Pipeline, accepted: bool, status: int) -> None:
    pipeline.verdict["accepted"] = accepted
    done = call("check", "a.png", "--width", "12in", "--accept-loss", "1%")
    assert done.exit_code == status
    assert done.stdout.startswith("Verdict: carvable\n")
    assert pipeline.asked[0][1].limits.accept_loss == 0.01


def test_palette_shows_a_table_and_writes_a_strip(pipeline: Pipeline) -> None:
    done = call("palette", "art/sign.png", "--colours", "2")
    assert done.exit_code == 0
    *rows, strip = done.stdout.splitlines()[1:]
    assert [line.split()[-2] for line in rows] == ["75.0", "25.0"]
    assert strip.endswith("sign-palette.png")
    assert done.stderr == "warning: few colours\n"
    assert Path("sign-palette.png").read_bytes().startswith(b"\x89PNG")
    assert pipeline.asked[0][1].colours.palette == 2
    data = json.loads(call("palette", "a.png", "--json", "-o", "s.png").stdout)
    assert data["colours"][0]["hex"] == "#0b1f3a"
    assert Path("s.png").exists()


def test_job_writes_a_file_with_everything_filled_in(pipeline: Pipeline) -> None:
    Path("jobs").mkdir()
    done = call("job", "art/sign.png", "--board", "21x14.25in", "-o", "jobs/job.toml")
    assert (done.exit_code, done.output) == (0, "")
    job = read_job(Path("jobs/job.toml").read_text(encoding="utf-8"))
    assert job.artwork.file == "../art/sign.png"
    assert job.colours.palette == (("#0b1f3a", "navy"), ("#e9d8a6", '=sand"'))
    assert job.size.given == ("board",)
    shown = call("job", "jobs/job.toml")
    assert read_job(shown.stdout).artwork.file == "art/sign.png"


def test_job_never_replaces_a_file(pipeline: Pipeline) -> None:
    Path("job.toml").write_text("mine")
    done = call("job", "a.png", "-o", "job.toml")
    assert done.exit_code == 2
    assert done.stderr == "error: 'job.toml' exists; choose another name with -o\n"
    assert Path("job.toml").read_text() == "mine"
    done = call("job", "a.png", "-o", "none/job.toml")
    assert done.exit_code == 2
    assert "cannot be written: no such file or directory" in done.stderr


def test_bits_are_a_table_in_the_unit_asked_for() -> None:
    assert call("bits").stdout.splitlines()[1].split()[:3] == ["flat", "1/4", "in"]
    assert "6.35 mm" in call("bits", "--units", "mm").stdout
    assert json.loads(call("bits", "--json").stdout)["bits"][0]["diameter_mm"] == 6.35
    done = call("bits", "--bit-table", "none.toml")
    assert done.exit_code == 2
    assert "the table of bits 'none.toml' cannot be read: no such file" in done.stderr


def test_batch_tells_each_picture_and_fails_at_the_end(pipeline: Pipeline) -> None:
    Path("art").mkdir()
    for name in ("a.png", "b.png"):
        Path("art", name).write_bytes(b"x")
    done = call("batch", "art", "--width", "3in", "-o", "out")
    assert done.exit_code == 0
    assert [line.split()[0] for line in done.stdout.splitlines()[1:]] == ["a.png", "b.png"]
    pipeline.fails = ImageError("it is cut off")
    done = call("batch", "art", "--width", "3in", "-o", "out", "--json")
    assert done.exit_code == 2
    assert [row["result"] for row in json.loads(done.stdout)["pictures"]] == ["failed", "failed"]


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["run", "a.png", "-o", "x"], "error: how large shall the piece be? Give --width 12in"),
        (["check", "a.png"], "error: how large shall the piece be?"),
        (["batch", "art", "-o", "x"], "error: how large shall the piece be?"),
        (["run", "a.png", "-o", "x", "--width", "9"], "error: --width: '9' has no unit"),
        (["run", "a.png", "-o", "x", "--width", "nan mm"], "error: --width: 'nan mm' is not a le"),
        (["run", "a.png", "-o", "x", "--width", "-3in"], "error: --width: '-3in' must be above 0"),
        (["run", "none.toml", "-o", "x"], "error: the job file 'none.toml' cannot be read: no su"),
        (["batch", "art", "-o", "x", "--width", "3in"], "error: 'art' is no folder"),
    ],
)
def test_an_expected_error_is_one_line_and_status_2(
    pipeline: Pipeline, words: list[str], line: str
) -> None:
    done = call(*words)
    assert done.exit_code == 2
    assert done.stderr.startswith(line)
    assert len(done.stderr.splitlines()) == 1
    assert done.stdout == ""
    assert pipeline.asked == []


@pytest.mark.parametrize("error", [ImageError("it is cut off"), OutputError("the disk is full")])
def test_an_error_of_the_pipeline_is_one_line(pipeline: Pipeline, error: Exception) -> None:
    pipeline.fails = error
    done = call("run", "a.png", "--width", "3in", "-o", "x")
    assert (done.exit_code, done.stderr) == (2, f"error: {error}\n")


def test_several_wrong_options_are_told_at_once(pipeline: Pipeline) -> None:
    done = call("run", "a.png", "-o", "x", "--width", "9", "--depth", "x", "--bit", "drill")
    assert done.exit_code == 2
    places = [line.split(":")[1].strip() for line in done.stderr.splitlines()]
    assert places == ["--width", "--depth", "--bit"]


def test_a_fault_in_a_job_file_names_its_line(pipeline: Pipeline) -> None:
    Path("j.toml").write_text('[size]\nwidth = "12"\n[carving]\nsmal = "drop"\n')
    done = call("run", "j.toml", "-o", "x")
    assert [line.split(": ")[1] for line in done.stderr.splitlines()] == [
        "j.toml, line 2",
        "j.toml, line 4",
    ]


@pytest.mark.parametrize("words", [["run"], ["run", "a.png"], ["fly"], ["run", "a.png", "--x"]])
def test_wrong_usage_is_status_2(words: list[str]) -> None:
    done = call(*words)
    assert done.exit_code == 2
    assert "Traceback" not in done.output


def test_a_fault_of_the_program_is_not_hidden(pipeline: Pipeline) -> None:
    pipeline.fails = ZeroDivisionError("a slip of ours")
    assert isinstance(
        call("run", "a.png", "--width", "3in", "-o", "x").exception, ZeroDivisionError
    )


def test_stopping_by_hand_is_told(pipeline: Pipeline) -> None:
    pipeline.fails = KeyboardInterrupt()  # type: ignore[assignment]
    done = call("run", "a.png", "--width", "3in", "-o", "x")
    assert (done.exit_code, done.stderr) == (130, "stopped\n")


def test_a_full_disk_is_one_line(pipeline: Pipeline) -> None:
    pipeline.fails = OSError(errno.ENOSPC, "no space left")
    done = call("run", "a.png", "--width", "3in", "-o", "x")
    assert done.exit_code == 2
    assert done.stderr == "error: the disk is full; nothing more can be written\n"


def test_a_name_that_the_terminal_cannot_show_is_no_crash() -> None:
    code = "import img2pour.cli as c, click; c.main.callback(); print('\\u7ea2\\ud800')"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        check=True,
        env={"PYTHONIOENCODING": "ascii", "PATH": ""},
    )
    assert done.stdout == b"??\n"


def test_every_command_is_listed() -> None:
    assert sorted(main.commands) == sorted(COMMANDS)
    assert all(command.help for command in main.commands.values())
