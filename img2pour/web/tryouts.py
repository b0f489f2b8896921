"""Try-outs of a job on disk."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from img2pour.job.model import Job
from img2pour.web.faults import RefusedError
from img2pour.web.files import read_json, replace_file, replace_json

MOST_TRYOUTS = 24


class Tryouts:
    """The try-outs in a job's folder, by number.

    Parameters
    ----------
    job_folder : Path
    """

    def __init__(self, job_folder: Path) -> None:
        self._folder = job_folder / "tryouts"

    def numbers(self) -> list[int]:
        """Return the numbers of all try-outs, the oldest first."""
        return sorted(int(path.stem) for path in self._folder.glob("*.json") if path.stem.isdigit())

    def add(self, name: str, job: Job) -> int:
        """Keep settings; return their number."""
        number = max(self.numbers(), default=0) + 1
        replace_json(self._path(number), {"name": name, "job": job.model_dump(), "ready": False})
        return number

    def get(self, number: int) -> dict[str, Any]:
        """Return a try-out.

        Raises
        ------
        RefusedError
            When there is none of this number.
        """
        try:
            return read_json(self._path(number))
        except (OSError, ValueError):
            raise RefusedError(404, "there is no such try-out") from None

    def finish(self, number: int, found: Mapping[str, Any], picture: bytes | None) -> None:
        """Add what a try-out comes to; one that was deleted meanwhile stays so."""
        if not self._path(number).is_file():
            return
        if picture is not None:
            replace_file(self._picture_path(number), picture)
        replace_json(self._path(number), {**self.get(number), **found, "ready": True})

    def picture(self, number: int) -> bytes:
        """Return the finished piece of a try-out as PNG.

        Raises
        ------
        RefusedError
            When there is none.
        """
        try:
            return self._picture_path(number).read_bytes()
        except OSError:
            raise RefusedError(404, "there is no picture of this try-out") from None

    def delete(self, number: int) -> None:
        """Delete a try-out."""
        self.get(number)
        self._path(number).unlink(missing_ok=True)
        self._picture_path(number).unlink(missing_ok=True)

    def listing(self) -> list[dict[str, Any]]:
        """Return all try-outs with what they come to, without their settings."""
        rows = []
        for number in self.numbers():
            data = self.get(number)
            data.pop("job")
            rows.append({"k": number, "rows": None, "hexes": [], "fault": None} | data)
        return rows

    def _path(self, number: int) -> Path:
        return self._folder / f"{number}.json"

    def _picture_path(self, number: int) -> Path:
        return self._folder / f"{number}.png"
