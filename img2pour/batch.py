"""The same job for every picture of a folder, and a summary of all at the end."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, Protocol

from img2pour.errors import CancelledError, Img2PourError, OutputError, SettingsError
from img2pour.job.model import Job
from img2pour.job.options import merge_options
from img2pour.job.writing import relative_path
from img2pour.progress import Progress
from img2pour.units import quoted
from img2pour.write.text import cell_text

PICTURE_ENDINGS = frozenset(
    {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp", ".gif", ".heic", ".heif"}
)
SUMMARY_NAME = "batch.csv"
COLUMNS = (
    "picture", "result", "folder", "colours", "regions", "removed", "pour_area_mm2", "volume_ml",
    "warnings", "said",
)  # fmt: skip
_HEAD_LINE = ",".join(COLUMNS)


class HasReport(Protocol):
    """A result, as far as a summary needs it."""

    @property
    def report(self) -> Mapping[str, Any]:
        """The figures of a run, with the keys of ``report.json``."""


class RunOne(Protocol):
    """The whole job for one picture."""

    def __call__(self, job: Job, out: Path, *, base: Path, progress: Progress) -> HasReport:
        """Write the files of the job into `out`."""


def run_batch(
    folder: Path, job: Job, out: Path, *, base: Path, run_one: RunOne, progress: Progress
) -> list[dict[str, str]]:
    """Run the job for each picture of a folder; a bad picture does not stop the rest.

    Parameters
    ----------
    folder : Path
        Searched for pictures, not deeper.
    job : Job
        Its own picture is replaced by each one found.
    out : Path
        Gets one folder for each picture, and ``batch.csv``.
    base : Path
        Folder that the job's own paths count from.
    run_one : callable
        ``run_one(job, out, base=..., progress=...)``: the whole job for one picture.
    progress : Progress

    Returns
    -------
    list of dict
        The rows of ``batch.csv`` as text, keys as in `COLUMNS`.

    Raises
    ------
    SettingsError
        When the folder holds no picture.
    OutputError
        When ``batch.csv`` cannot be written, or is a file of somebody else's.
    CancelledError
        When the work was stopped.
    """
    pictures = find_pictures(folder)
    _check_summary(out / SUMMARY_NAME)
    rows = []
    for i, (picture, name) in enumerate(zip(pictures, folder_names(pictures), strict=True)):
        part = _part_of(progress, picture.name, i, len(pictures))
        row = dict.fromkeys(COLUMNS, "") | {"picture": picture.name, "folder": name}
        rows.append(row | _run_picture(picture, job, out / name, base, run_one, part))
    write_summary(rows, out)
    return rows


def find_pictures(folder: Path) -> list[Path]:
    """Return the pictures that lie in a folder, in the order of their names.

    Raises
    ------
    SettingsError
        When it is no folder, or holds no picture.
    """
    if not folder.is_dir():
        raise SettingsError(f"{quoted(folder, 120)} is no folder; name the one with the pictures")
    found = sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in PICTURE_ENDINGS and path.is_file() and path.name[0] != "."
    )
    if not found:
        kinds = ", ".join(sorted(PICTURE_ENDINGS))
        raise SettingsError(f"the folder {quoted(folder, 120)} holds no picture ({kinds})")
    return found


def folder_names(pictures: Sequence[Path]) -> list[str]:
    """Return a folder name for each picture: its name without the ending, unless two share it.

    Names that differ only in case count as shared, since some file systems hold them for one.
    """
    stems = [path.stem.lower() for path in pictures]
    names = [
        path.stem if stems.count(stem) == 1 else path.name.replace(".", "-")
        for path, stem in zip(pictures, stems, strict=True)
    ]
    taken: set[str] = set()
    for i, name in enumerate(names):
        free = next(x for x in _variants(name) if x.lower() not in taken | {SUMMARY_NAME})
        names[i] = free
        taken.add(free.lower())
    return names


def _variants(name: str) -> Iterator[str]:
    yield name
    number = 2
    while True:
        yield f"{name}-{number}"
        number += 1


def _part_of(progress: Progress, picture: str, i: int, count: int) -> Progress:
    return Progress(
        lambda step, share: progress.report(f"{picture}: {step}", (i + share) / count),
        progress.is_cancelled,
    )


def _run_picture(
    picture: Path, job: Job, out: Path, base: Path, run_one: RunOne, progress: Progress
) -> dict[str, str]:
    try:
        one = merge_options(job, {"picture": relative_path(picture, base)})
        report = run_one(one, out, base=base, progress=progress).report
    except CancelledError:
        raise
    except Img2PourError as error:
        return {"result": "failed", "folder": "", "said": " ".join(str(error).split())}
    return {"result": "done"} | _figures(report)


def _figures(report: Mapping[str, Any]) -> dict[str, str]:
    colours = report["colours"]
    pours = [row for row in colours if row["role"] == "pour"]
    return {
        "colours": str(len(colours)),
        "regions": str(sum(row["regions"] for row in colours)),
        "removed": str(len(report["removed"])),
        "pour_area_mm2": f"{sum(row['area_mm2'] for row in pours):.1f}",
        "volume_ml": f"{sum(row['volume_ml'] or 0.0 for row in pours):.2f}",
        "warnings": str(len(report["warnings"])),
        "said": "; ".join(report["warnings"]),
    }


def _check_summary(path: Path) -> None:
    """Refuse, before any work, to replace a file that is no summary of an earlier batch."""
    if not path.exists():
        return
    first = ""
    with suppress(OSError), path.open(encoding="utf-8", errors="replace") as file:
        first = file.readline(1000)
    if first.strip() != _HEAD_LINE:
        raise OutputError(
            f"{quoted(path, 120)} is not a summary of ours and stays as it is; choose another "
            "folder with -o"
        )


def write_summary(rows: Sequence[dict[str, str]], out: Path) -> None:
    """Write ``batch.csv`` into `out`, in one step.

    Raises
    ------
    OutputError
        When that fails; an older summary is then still whole.
    """
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, COLUMNS)
    table.writeheader()
    table.writerows({key: cell_text(value) for key, value in row.items()} for row in rows)
    new = out / f".{SUMMARY_NAME}.new"
    try:
        out.mkdir(parents=True, exist_ok=True)
        new.write_bytes(text.getvalue().encode("utf-8"))
        os.replace(new, out / SUMMARY_NAME)
    except OSError as error:
        with suppress(OSError):
            new.unlink()
        reason = (error.strerror or str(error)).lower()
        raise OutputError(
            f"{quoted(out / SUMMARY_NAME, 120)} cannot be written: {reason}"
        ) from error
