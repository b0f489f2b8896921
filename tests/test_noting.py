"""What was mixed and left over is noted with a few words, and the next plans follow it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from img2pour.cli import main
from img2pour.errors import OutputError, SettingsError
from img2pour.job.pour_sections import LogNote
from img2pour.job.reading import load_job, read_job
from img2pour.noting import add_to_file, amount_ml, note_of, with_logs
from img2pour.pours.mixes import Fill, plan_mix
from img2pour.pours.resins import find_resin, standard_resins
from tests.pond import PALETTE, write_pond

RESIN = find_resin(standard_resins(), "medium casting 2:1")
MIX = plan_mix("sea", RESIN, [Fill("1", 360000.0, 60000.0, 6.0, bare_floor_mm2=60000.0)])
NOTE = LogNote(pour="sea", mixed_ml=100, left_ml=20, pocket_ml=70, allowed_ml=20)


@pytest.mark.parametrize(
    ("text", "ml"),
    [
        ("120 ml", 120.0),
        ("120ml", 120.0),
        ("0.5 l", 500.0),
        ("4 fl oz", 118.29411825),  # 4 x 29.5735295625, NIST Handbook 44, appendix C
        ("4FLOZ", 118.29411825),
        ("130 g", 100.0),  # at 1.3 g/ml
        (".13 kg", 100.0),
    ],
)
def test_an_amount_is_measured_or_weighed(text: str, ml: float) -> None:
    assert amount_ml(text, 1.3) == pytest.approx(ml, rel=1e-12)


@pytest.mark.parametrize("text", ["120", "120 pt", "-5 ml", "ml", "1,5 ml", "1e3 ml", "nan ml"])
def test_what_is_no_amount_is_told(text: str) -> None:
    with pytest.raises(SettingsError, match="is no amount; write it like 120 ml, 4 fl oz or 130 g"):
        amount_ml(text, 1.1)


def test_grams_become_ml_by_the_resins_own_density() -> None:
    density = RESIN.mixed_density_g_per_ml
    note = note_of("sea", f"{435 * density:.4f} g", f"{21 * density:.4f} g", [MIX])
    assert (note.mixed_ml, note.left_ml) == (435.0, 21.0)
    assert not note.is_complete


@pytest.mark.parametrize(
    ("pour", "mixed", "left", "said"),
    [
        ("see", "10 ml", "0 ml", "there is no pour 'see'; there are: sea"),
        ("sea", "10 ml", "11 ml", "'11 ml' cannot be left of '10 ml'"),
        ("sea", "0 ml", "0 ml", "'0 ml' cannot be left of '0 ml'"),
    ],
)
def test_a_note_that_cannot_be_is_told(pour: str, mixed: str, left: str, said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        note_of(pour, mixed, left, [MIX])


def test_a_pour_named_over_two_lines_is_listed_on_one() -> None:
    with pytest.raises(SettingsError, match=r"there is no pour 'see'; there are: deep sea$"):
        note_of("see", "10 ml", "0 ml", [replace(MIX, pour="deep\nsea")])


def test_the_rest_of_a_job_file_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    text = '# my own words\n[size]\nwidth = "120 mm"  # as wide as the shelf'
    path.write_text(text)
    add_to_file(path, NOTE)
    add_to_file(path, NOTE)
    assert path.read_text().startswith(text)
    assert load_job(path).log == (NOTE, NOTE)
    assert [one.name for one in tmp_path.iterdir()] == ["job.toml"]


def test_a_log_written_as_one_list_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text('log = [{pour = "sea", mixed_ml = 9, left_ml = 1}]\n')
    before = path.read_bytes()
    with pytest.raises(OutputError, match=r"write each note as a \[\[log\]\] of its own"):
        add_to_file(path, NOTE)
    assert path.read_bytes() == before


def test_logs_of_earlier_jobs_are_followed_once_each(tmp_path: Path) -> None:
    path = tmp_path / "first.toml"
    path.write_text('[size]\nwidth = "120 mm"\n')
    add_to_file(path, NOTE)
    job = with_logs(read_job('[size]\nwidth = "1 in"\n'), [path, path])
    assert job.log == (NOTE,)
    path.write_text('[[log]]\npour = "sea"\nmixed_ml = 9\nleft_ml = 1\n')
    with pytest.raises(SettingsError, match="does not say what was planned; run that job"):
        with_logs(job, [path])


def ran(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def run_words(folder: Path, out: str) -> list[str]:
    colours = ",".join(PALETTE)
    given = ["--width", "120mm", "--colours", colours, "--wood", "sand", "--bit", "flat 1/8in"]
    return ["run", str(write_pond(folder / "pond.png")), *given, "-o", str(folder / out), "-q"]


def test_a_note_is_made_and_followed_by_the_same_job_and_the_next(tmp_path: Path) -> None:
    """The sea: what was planned is worked out by the command; 30 ml more than planned went.

    One pour counts half, so waste grows by half of what was taken beyond what was allowed.
    """
    assert ran(*run_words(tmp_path, "one")).exit_code == 0
    kept = tmp_path / "one" / "job.toml"
    done = ran("note", str(tmp_path / "one"), "sea", "--mixed", "90 ml", "--left", "0ml")
    assert done.exit_code == 0, done.output
    (note,) = load_job(kept).log
    assert note.pocket_ml is not None
    assert note.allowed_ml is not None
    taken = 90 - note.pocket_ml
    factor = 1 + (taken / note.allowed_ml - 1) / 2
    said = f"waste 10.0% becomes {10 * min(factor, 2):.1f}%"
    assert said in done.output
    again = ran("run", str(kept), "-o", str(tmp_path / "two"))
    assert said in again.output.replace("\n", " ")
    following = ran(*run_words(tmp_path, "three"), "--log", str(kept))
    assert following.exit_code == 0, following.output
    assert load_job(tmp_path / "three" / "job.toml").log == (note,)


def test_what_was_planned_is_filled_in_by_the_run(tmp_path: Path) -> None:
    assert ran(*run_words(tmp_path, "one")).exit_code == 0
    kept = tmp_path / "one" / "job.toml"
    by_hand = '\n[[log]]\npour = "sea"\nmixed_ml = 90\nleft_ml = 0\n'
    kept.write_text(kept.read_text("utf-8") + by_hand, "utf-8")
    assert ran("run", str(kept), "-o", str(tmp_path / "two"), "-q").exit_code == 0
    (note,) = load_job(tmp_path / "two" / "job.toml").log
    assert note.is_complete
    wrong = kept.read_text("utf-8").replace('pour = "sea"\nmixed', 'pour = "see"\nmixed')
    kept.write_text(wrong, "utf-8")
    told = ran("run", str(kept), "-o", str(tmp_path / "three"))
    assert told.exit_code == 2
    assert "log.pour: log 1: there is no pour 'see'; there are: clear, sea, sun" in told.output
