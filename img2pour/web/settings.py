"""Where the page keeps its jobs, and what it allows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

MB = 1_000_000


@dataclass(frozen=True)
class PageSettings:
    """Limits of the page.

    Attributes
    ----------
    data : Path
        Folder of the jobs and the log.
    cap_bytes : int
        All jobs together; a new picture that would go beyond it is refused.
    max_mb, max_megapixels : float
        Of one picture.
    memory_mb : int
        Address space of a worker.
    kept_mb : int
        Results of steps that a worker keeps between requests.
    seconds : float
        One request to a worker may take this long.
    grace_s : float
        A worker that was asked to stop is given this long.
    body_s, chunk_s : float
        A request's body must arrive within this time, and its next part within that.
    """

    data: Path
    cap_bytes: int = 4_000 * MB
    max_mb: float = 100.0
    max_megapixels: float = 100.0
    memory_mb: int = 4_000
    kept_mb: int = 400
    seconds: float = 180.0
    grace_s: float = 1.0
    body_s: float = 120.0
    chunk_s: float = 10.0

    @property
    def jobs(self) -> Path:
        """Folder that holds one folder for each job."""
        return self.data / "jobs"

    @property
    def max_bytes(self) -> int:
        """Size of one picture."""
        return int(self.max_mb * MB)


def usual_data_folder() -> Path:
    """Return the folder for the user's data on this system."""
    return user_data_path("img2pour", appauthor=False)
