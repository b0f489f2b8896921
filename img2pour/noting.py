"""Notes of what was really mixed and left over, put into a job for the next plans to follow."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from img2pour.errors import OutputError, SettingsError
from img2pour.job.pour_sections import LogNote
from img2pour.job.reading import load_job, load_text, read_job
from img2pour.job.writing import plain_section
from img2pour.log_notes import all_mixes
from img2pour.progress import Progress
from img2pour.units import ML_PER_FL_OZ, quoted

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.planning import Planned
    from img2pour.pours.mixes import Mix

_AMOUNT = re.compile(r"([0-9]+\.?[0-9]*|\.[0-9]+) ?(ml|l|fl ?oz|g|kg)")
_ML = {"ml": 1.0, "l": 1000.0, "floz": ML_PER_FL_OZ}
_GRAMS = {"g": 1.0, "kg": 1000.0}


def amount_ml(text: str, grams_per_ml: float) -> float:
    """Return an amount of mixed resin, weighed or measured, in ml.

    Parameters
    ----------
    text : str
        Like ``120 ml``, ``4 fl oz`` or ``130 g``.
    grams_per_ml : float
        Density of the mixed resin.

    Raises
    ------
    SettingsError
    """
    found = _AMOUNT.fullmatch(" ".join(text.lower().split()))
    if found is None:
        raise SettingsError(f"{quoted(text)} is no amount; write it like 120 ml, 4 fl oz or 130 g")
    value, unit = float(found[1]), found[2].replace(" ", "")
    return value * _GRAMS[unit] / grams_per_ml if unit in _GRAMS else value * _ML[unit]


def note_of(pour: str, mixed: str, left: str, mixes: Sequence[Mix]) -> LogNote:
    """Return a note of one pour; weights become volumes by the density of its resin.

    Raises
    ------
    SettingsError
        When there is no such pour, an amount cannot be read, or more is left than was mixed.
    """
    mix = next((mix for mix in mixes if mix.pour == pour), None)
    if mix is None:
        listed = ", ".join(" ".join(mix.pour.split()) for mix in mixes) or "none"
        raise SettingsError(f"there is no pour {quoted(pour)}; there are: {listed}", name="pour")
    density = mix.resin.mixed_density_g_per_ml
    mixed_ml, left_ml = (round(amount_ml(text, density), 2) for text in (mixed, left))
    if not 0 <= left_ml <= mixed_ml or mixed_ml <= 0:
        raise SettingsError(
            f"{quoted(left)} cannot be left of {quoted(mixed)}; give what was mixed, then what was "
            "left over of it",
            name="left",
        )
    return LogNote(pour=pour, mixed_ml=mixed_ml, left_ml=left_ml)


def note_pour(
    job: Job, pour: str, mixed: str, left: str, *, base: Path, progress: Progress = Progress()
) -> Planned:
    """Return the plan of a job with one more note: the last of its log, beside what was planned.

    Raises
    ------
    Img2PourError
        When the job cannot be done, nothing is poured, or the note is wrong.
    """
    from img2pour.bare_board import artwork_of
    from img2pour.pipeline import convert

    kept: dict[str, Any] = {}

    def planned(wanted: Job) -> Planned:
        picture, wanted = artwork_of(wanted, base)
        result = convert(picture, wanted, base=base, progress=progress, kept=kept, extent="planned")
        if result.planned is None:
            raise SettingsError("nothing is poured in this job: there is nothing to note")
        return result.planned

    note = note_of(pour, mixed, left, all_mixes(planned(job).plan))
    return planned(job.model_copy(update={"log": (*job.log, note)}))


def add_to_file(path: Path, note: LogNote) -> None:
    """Put a note at the end of a job file, which is otherwise left as it is.

    Raises
    ------
    OutputError
        When the file would not be a job any more, or cannot be written.
    """
    text = load_text(path, "job file")
    longer = f"{text.rstrip()}\n\n{plain_section('[[log]]', note)}"
    try:
        read_job(longer, path.name)
    except SettingsError:
        raise OutputError(
            f"{quoted(path, 120)} has its log in a form that nothing can be added to; write each "
            "note as a [[log]] of its own"
        ) from None
    beside = path.with_name(f".{path.name}.new")
    try:
        beside.write_text(longer, encoding="utf-8", newline="\n")
        os.replace(beside, path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"{quoted(path, 120)} cannot be written: {reason}") from error


def with_logs(job: Job, paths: Iterable[Path]) -> Job:
    """Return a job that also follows the logs of earlier jobs.

    Raises
    ------
    SettingsError
        When a file is no job, or a note in it lacks what was planned.
    """
    notes = [*job.log]
    for path in paths:
        for number, note in enumerate(load_job(path).log, 1):
            if not note.is_complete:
                raise SettingsError(
                    f"log {number} of {quoted(path, 120)} does not say what was planned; run that "
                    "job once more, or note it with img2pour note",
                    name="log",
                )
            if note not in notes:
                notes.append(note)
    return job.model_copy(update={"log": tuple(notes)})
