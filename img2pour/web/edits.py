"""Typed changes to a job, from the page or from an uploaded job file; paths stay out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from img2pour.job.build import try_job
from img2pour.job.faults import Fault
from img2pour.job.model import Job
from img2pour.job.options import SIZES
from img2pour.units import quoted
from img2pour.web.faults import RefusedError, refused_settings

MOST_CHANGES = 200
PATH_FIELDS = {"artwork": ("file",), "bits": ("table",), "mixing": ("table",)}
"""Settings that name files of the machine; the page does not touch them."""

PATH_PIECES = {"art": "file", "text": "font"}
"""Pieces that name files of the machine."""


@dataclass(frozen=True)
class Change:
    """One setting, ``size.width`` or a whole list such as ``touch``; None is its default."""

    path: str
    value: Any


def changed(job: Job, changes: Sequence[Change], max_megapixels: float) -> Job:
    """Return the job with changes.

    Raises
    ------
    RefusedError
        Every setting that is wrong; nothing is changed then.
    """
    data = job.model_dump()
    faults = []
    for change in changes:
        faults += _put(data, change)
    _settle_size(data, {change.path for change in changes})
    built, wrong = try_job(data)
    faults += wrong
    if built is None or faults:
        raise refused_settings(faults)
    _refuse_paths(job, built, max_megapixels)
    return built


def _put(data: dict[str, Any], change: Change) -> list[Fault]:
    """Put one change into the plain data of a job."""
    section, _, name = change.path.partition(".")
    field = Job.model_fields.get(section)
    if field is None:
        return [Fault((change.path,), "there is no such setting", change.value)]
    if not name:
        if not isinstance(data[section], (list, tuple)):
            return [Fault((section,), "name one setting of it", change.value)]
        data[section] = [] if change.value is None else change.value
        return []
    if not isinstance(data[section], dict) or name not in data[section]:
        return [Fault((section, name), "there is no such setting", change.value)]
    if change.value is None:
        del data[section][name]
    else:
        data[section][name] = change.value
    return []


def _settle_size(data: dict[str, Any], paths: set[str]) -> None:
    """Let a new width, height, board or scale take the place of the old one."""
    size = data["size"]
    given = [name for name in SIZES if f"size.{name}" in paths and size.get(name) is not None]
    if len(given) != 1:
        return
    for name in SIZES:
        if name != given[0]:
            size.pop(name, None)
    if given[0] != "board" and "size.margin" not in paths:
        size.pop("margin", None)


def _refuse_paths(before: Job, after: Job, max_megapixels: float) -> None:
    """Refuse changes that name files of the machine.

    Raises
    ------
    RefusedError
    """
    faults = []
    for section, names in PATH_FIELDS.items():
        for name in names:
            value = getattr(getattr(after, section), name)
            if value != getattr(getattr(before, section), name):
                why = "the page does not read files of this machine by name"
                faults.append(Fault((section, name), why, value))
    for section, name in PATH_PIECES.items():
        known = {getattr(piece, name) for piece in getattr(before, section)}
        for index, piece in enumerate(getattr(after, section)):
            if getattr(piece, name) not in known:
                why = "the page does not read files of this machine by name"
                faults.append(Fault((section, index, name), why, getattr(piece, name)))
    if after.artwork.max_megapixels > max(max_megapixels, before.artwork.max_megapixels):
        why = f"the page takes pictures of up to {max_megapixels:g} megapixels"
        faults.append(Fault(("artwork", "max_megapixels"), why, after.artwork.max_megapixels))
    if faults:
        raise refused_settings(faults)


def without_paths(job: Job, file: str, max_megapixels: float) -> tuple[Job, tuple[str, ...]]:
    """Return an uploaded job as the page can do it, and what was left out.

    Parameters
    ----------
    job : Job
    file : str
        Name of the picture that is on the page.
    max_megapixels : float
    """
    notes = []
    moved: dict[str, Any] = {}
    for section, names in PATH_FIELDS.items():
        own = getattr(job, section)
        update: dict[str, Any] = dict.fromkeys(names)
        if section == "artwork":
            update = {"file": file, "max_megapixels": min(own.max_megapixels, max_megapixels)}
        elif any(getattr(own, name) is not None for name in names):
            notes.append(f"its own table of {section} was left out: the page reads no other files")
        moved[section] = own.model_copy(update=update)
    for section in PATH_PIECES:
        count = len(getattr(job, section))
        if count:
            what = "pieces of art" if section == "art" else "texts"
            notes.append(f"{count} {what} were left out: the page reads no other files")
        moved[section] = ()
    if job.artwork.file not in (None, file):
        notes.append(
            f"its picture {quoted(job.artwork.file)} was not looked for: the one on the page stays"
        )
    return job.model_copy(update=moved), tuple(notes)


def read_changes(data: Any) -> list[Change]:
    """Return the changes of a request.

    Raises
    ------
    RefusedError
        When they are not written as changes.
    """
    if not isinstance(data, list) or not 0 < len(data) <= MOST_CHANGES:
        raise RefusedError(400, f"give 1 to {MOST_CHANGES} changes")
    if not all(_is_change(item) for item in data):
        raise RefusedError(400, "each change has a path and a value")
    return [Change(item["path"], item["value"]) for item in data]


def _is_change(item: Any) -> bool:
    return (
        isinstance(item, Mapping)
        and isinstance(item.get("path"), str)
        and set(item) == {"path", "value"}
    )
