"""Jobs on disk: each in a folder of its own under an id, with every step of its history.

A change writes the new step first and the state last, so that a cut leaves the job as it was.
"""

from __future__ import annotations

import re
import secrets
import shutil
import time
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path, PurePath
from typing import Any

from img2pour.job.build import try_job
from img2pour.job.model import Job
from img2pour.web.faults import RefusedError, refused_settings
from img2pour.web.files import read_json, replace_json, size_of_folder

_ID = re.compile(r"[0-9a-f]{16}")
STATE, STEPS, PICTURE = "state.json", "steps", "picture"
LONGEST_LABEL = 120
LISTED_OLD = 3


@dataclass(frozen=True)
class PictureFacts:
    """What is known of a job's picture: its name on the user's side, its size, its content."""

    name: str
    width_px: int
    height_px: int
    sha256: str


@dataclass(frozen=True)
class StoredState:
    """Where a job stands.

    Attributes
    ----------
    title : str
    created, changed : float
        Seconds since 1970.
    revision : int
        Grows with every change, undo and redo.
    at, top : int
        The step of the history that counts, and the last one that can be redone.
    picture : PictureFacts
    notes : tuple of str
        What was left out of an uploaded job.
    """

    title: str
    created: float
    changed: float
    revision: int
    at: int
    top: int
    picture: PictureFacts
    notes: tuple[str, ...] = ()


@dataclass
class StoredJob:
    """One job on disk; one thread at a time changes it."""

    id: str
    folder: Path
    state: StoredState
    job: Job
    labels: dict[int, str] = field(default_factory=dict)

    @property
    def picture(self) -> Path:
        """The picture as it came."""
        return self.folder / PICTURE

    @property
    def undo_label(self) -> str | None:
        """What undo would take back."""
        return self._label(self.state.at) if self.state.at else None

    @property
    def redo_label(self) -> str | None:
        """What redo would bring back."""
        return self._label(self.state.at + 1) if self.state.at < self.state.top else None

    def change(self, label: str, job: Job, notes: tuple[str, ...] = ()) -> None:
        """Make `job` the newest step; what could be redone is gone."""
        at = self.state.at + 1
        label = label[:LONGEST_LABEL]
        replace_json(_step_path(self.folder, at), {"label": label, "job": job.model_dump()})
        self._move(at, at, notes)
        self.job, self.labels[at] = job, label

    def undo(self) -> str:
        """Go one step back; return what was taken back.

        Raises
        ------
        RefusedError
            At the first step.
        """
        if not self.state.at:
            raise RefusedError(409, "there is nothing to undo")
        label = self._label(self.state.at)
        job = _read_step(self.folder, self.state.at - 1)
        self._move(self.state.at - 1, self.state.top)
        self.job = job
        return label

    def redo(self) -> str:
        """Go one step forward again; return what was brought back.

        Raises
        ------
        RefusedError
            At the last step.
        """
        if self.state.at >= self.state.top:
            raise RefusedError(409, "there is nothing to redo")
        job = _read_step(self.folder, self.state.at + 1)
        self._move(self.state.at + 1, self.state.top)
        self.job = job
        return self._label(self.state.at)

    def _move(self, at: int, top: int, notes: tuple[str, ...] = ()) -> None:
        state = replace(
            self.state,
            at=at,
            top=top,
            revision=self.state.revision + 1,
            changed=time.time(),
            notes=notes,
        )
        _write_state(self.folder, state)
        self.state = state

    def _label(self, step: int) -> str:
        if step not in self.labels:
            self.labels[step] = str(read_json(_step_path(self.folder, step))["label"])
        return self.labels[step]


class Store:
    """All jobs in a folder.

    Parameters
    ----------
    folder : Path
        Made when it is missing, for its owner alone.
    cap_bytes : int
        All jobs together.
    """

    def __init__(self, folder: Path, cap_bytes: int) -> None:
        self.folder = folder
        self.cap_bytes = cap_bytes
        self._open: dict[str, StoredJob] = {}
        folder.mkdir(parents=True, exist_ok=True)
        folder.chmod(0o700)
        for left in folder.glob(".*"):  # uploads and removals that were cut short
            shutil.rmtree(left) if left.is_dir() else left.unlink()

    def incoming(self) -> Path:
        """Return a file name for a picture on its way in."""
        return self.folder / f".in-{secrets.token_hex(8)}"

    def need_room(self, more_bytes: int) -> None:
        """Raise when so much more would go beyond the cap.

        Raises
        ------
        RefusedError
            It names the oldest jobs, for a person to delete.
        """
        used = self.used_bytes()
        if used + more_bytes <= self.cap_bytes:
            return
        oldest = [f"“{state.title}”" for _, state in self._states()[-LISTED_OLD:]]
        advice = (
            f"delete old ones, for instance {', '.join(oldest)}" if oldest else "make it smaller"
        )
        raise RefusedError(
            413,
            f"the jobs take {used / 1e6:.0f} MB of {self.cap_bytes / 1e6:.0f} MB, so there is no "
            f"room for {more_bytes / 1e6:.1f} MB more; {advice}",
        )

    def create(self, incoming: Path, label: str, width_px: int, height_px: int, sha256: str) -> str:
        """Make a job of a picture that has come in; return its id."""
        name = picture_label(label)
        job_id, now = secrets.token_hex(8), time.time()
        made = self.folder / f".new-{job_id}"
        made.mkdir(mode=0o700)
        incoming.replace(made / PICTURE)
        job = Job.model_validate({"artwork": {"file": name}})
        replace_json(_step_path(made, 0), {"label": "the picture", "job": job.model_dump()})
        facts = PictureFacts(name, width_px, height_px, sha256)
        _write_state(made, StoredState(PurePath(name).stem or name, now, now, 1, 0, 0, facts))
        made.rename(self.folder / job_id)
        return job_id

    def open(self, job_id: str) -> StoredJob:
        """Return a job.

        Raises
        ------
        RefusedError
            When there is none of this id, or it cannot be read.
        """
        folder = self._folder_of(job_id)
        if job_id not in self._open:
            state = _read_state(folder)
            self._open[job_id] = StoredJob(job_id, folder, state, _read_step(folder, state.at))
        return self._open[job_id]

    def delete(self, job_id: str) -> None:
        """Remove a job with all that belongs to it."""
        folder = self._folder_of(job_id)
        self._open.pop(job_id, None)
        gone = self.folder / f".gone-{secrets.token_hex(8)}"
        folder.rename(gone)
        shutil.rmtree(gone, ignore_errors=True)

    def listing(self) -> list[dict[str, Any]]:
        """Return what there is, the job that was changed last first."""
        return [
            {
                "id": job_id,
                "title": state.title,
                "created": _moment(state.created),
                "changed": _moment(state.changed),
                "bytes": size_of_folder(self.folder / job_id),
            }
            for job_id, state in self._states()
        ]

    def used_bytes(self) -> int:
        """Return the size of all jobs."""
        return size_of_folder(self.folder)

    def _states(self) -> list[tuple[str, StoredState]]:
        found = []
        for folder in self.folder.iterdir():
            if _ID.fullmatch(folder.name):
                try:
                    found.append((folder.name, _read_state(folder)))
                except RefusedError:
                    continue
        return sorted(found, key=lambda pair: -pair[1].changed)

    def _folder_of(self, job_id: str) -> Path:
        folder = self.folder / job_id
        if not _ID.fullmatch(job_id) or not folder.is_dir():
            raise RefusedError(404, "there is no such job; it may have been deleted")
        return folder


def _moment(seconds: float) -> str:
    """Return a moment as ISO 8601 writes it, in UTC."""
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="milliseconds")


def picture_label(label: str) -> str:
    """Return the name that a person knows a picture by, as a plain file name."""
    plain = "".join(c for c in label if c.isprintable() and c not in '<>:"|?*')
    name = PurePath(plain.replace("\\", "/")).name.strip().lstrip(".")
    stem, dot, ending = name.rpartition(".")
    if not dot:
        return name[:LONGEST_LABEL] or "picture"
    return f"{stem[:LONGEST_LABEL]}.{ending[:8]}" if stem else "picture"


def _step_path(folder: Path, step: int) -> Path:
    return folder / STEPS / f"{step:06d}.json"


def _read_step(folder: Path, step: int) -> Job:
    try:
        data = read_json(_step_path(folder, step))["job"]
    except (OSError, ValueError, KeyError):
        raise RefusedError(409, "this step of the job cannot be read from disk") from None
    job, faults = try_job(data)
    if job is None:
        raise refused_settings(faults)
    return job


def _write_state(folder: Path, state: StoredState) -> None:
    replace_json(folder / STATE, asdict(state))


def _read_state(folder: Path) -> StoredState:
    try:
        data = read_json(folder / STATE)
        facts = PictureFacts(**data.pop("picture"))
        return StoredState(**data | {"picture": facts, "notes": tuple(data["notes"])})
    except FileNotFoundError:
        raise RefusedError(404, "there is no such job; it may have been deleted") from None
    except (OSError, ValueError, KeyError, TypeError):
        raise RefusedError(409, "this job cannot be read from disk; delete it") from None
