"""Many pictures with one job."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from img2pour.batch import COLUMNS, find_pictures, folder_names, run_batch
from img2pour.errors import CancelledError, ImageError, OutputError, SettingsError
from img2pour.job import Job, make_job
from img2pour.progress import Progress

COLOURS = [
    {"role": "pour", "area_mm2": 100.25, "volume_ml": 1.5, "regions": 3},
    {"role": "pour", "area_mm2": 50.0, "volume_ml": 0.25, "regions": 1},
    {"role": "wood", "area_mm2": 900.0, "volume_ml": None, "regions": 2},
]


@dataclass
class Made:
    """What the stand-in for the whole job returns."""

    report: dict[str, Any]


class Shop:
    """A stand-in for the whole job: it notes what it was asked, and fails for some names."""

    def __init__(self) -> None:
        self.asked: list[tuple[Path, Path]] = []

    def __call__(self, job: Job, out: Path, *, base: Path, progress: Progress) -> Made:
        picture = job.artwork_path(base)
        progress.at("read", 0.5)
        if "bad" in picture.name:
            raise ImageError("the picture is cut off;\nsave it again")
        self.asked.append((picture, out))
        return Made({"colours": COLOURS, "removed": [{}], "warnings": ["=a", "b"]})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "art"
    place.mkdir()
    for name in ("b.png", "a.JPG", "bad.tif", "notes.txt", ".hidden.png", "=c.png"):
        (place / name).write_bytes(b"x")
    (place / "inner.png").mkdir()
    return place


def run(folder: Path, out: Path, **changes: Any) -> tuple[list[dict[str, str]], Shop]:
    shop = Shop()
    wanted: dict[str, Any] = {"progress": Progress(), "base": Path(), **changes}
    return run_batch(folder, make_job(), out, run_one=shop, **wanted), shop


def test_each_picture_gets_a_folder_and_a_row(folder: Path, tmp_path: Path) -> None:
    rows, shop = run(folder, tmp_path / "out" / "deep")
    assert [row["picture"] for row in rows] == ["=c.png", "a.JPG", "b.png", "bad.tif"]
    assert [out.name for _, out in shop.asked] == ["=c", "a", "b"]
    assert [picture.resolve() for picture, _ in shop.asked] == [
        folder / name for name in ("=c.png", "a.JPG", "b.png")
    ]
    assert rows[1] == {
        "picture": "a.JPG",
        "result": "done",
        "folder": "a",
        "colours": "3",
        "regions": "6",
        "removed": "1",
        "pour_area_mm2": "150.2",
        "volume_ml": "1.75",
        "warnings": "2",
        "said": "=a; b",
    }


def test_a_bad_picture_does_not_stop_the_rest(folder: Path, tmp_path: Path) -> None:
    rows, shop = run(folder, tmp_path / "out")
    assert len(shop.asked) == 3
    assert rows[3]["result"] == "failed"
    assert rows[3]["said"] == "the picture is cut off; save it again"
    assert rows[3]["folder"] == ""


def test_the_summary_is_safe_to_open(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run(folder, out)
    with (out / "batch.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == COLUMNS
    assert rows[0]["picture"] == "'=c.png"
    assert rows[0]["said"] == "'=a; b"
    assert [path.name for path in out.iterdir()] == ["batch.csv"]
    first = (out / "batch.csv").read_bytes()
    run(folder, out)
    assert (out / "batch.csv").read_bytes() == first


def test_a_summary_of_somebody_else_is_kept(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "batch.csv").write_text("my,own,table\n")
    with pytest.raises(OutputError, match="is not a summary of ours and stays as it is"):
        run(folder, tmp_path)
    assert (tmp_path / "batch.csv").read_text() == "my,own,table\n"


def test_an_output_folder_that_cannot_be_made_is_one_line(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match=r"batch\.csv' cannot be written: not a directory"):
        run(folder, tmp_path / "file" / "out")


def test_a_folder_without_pictures_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="holds no picture"):
        find_pictures(tmp_path)
    with pytest.raises(SettingsError, match="is no folder"):
        find_pictures(tmp_path / "none")


def test_folders_are_named_after_pictures_and_never_shared() -> None:
    names = ["a.jpg", "A.png", "b.c.png", "a-jpg.tif", "batch.csv.png"]
    assert folder_names([Path(name) for name in names]) == [
        "a-jpg",
        "A-png",
        "b.c",
        "a-jpg-2",
        "batch.csv-2",
    ]


def test_progress_runs_over_all_pictures(folder: Path, tmp_path: Path) -> None:
    said: list[tuple[str, float]] = []
    run(folder, tmp_path / "out", progress=Progress(lambda step, share: said.append((step, share))))
    assert said == [
        ("=c.png: read", 0.125),
        ("a.JPG: read", 0.375),
        ("b.png: read", 0.625),
        ("bad.tif: read", 0.875),
    ]


def test_a_cancelled_batch_stops(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(CancelledError):
        run(folder, tmp_path / "out", progress=Progress(is_cancelled=lambda: True))
    assert not (tmp_path / "out").exists()


def test_paths_of_the_job_count_from_its_own_folder(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    _, shop = run(folder, tmp_path / "out", base=tmp_path / "jobs")
    assert shop.asked[0][0] == tmp_path / "jobs" / ".." / "art" / "=c.png"
