"""The job: what is wanted, as a value, and its TOML file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from img2pour.job.bits import Bit
    from img2pour.job.build import make_job
    from img2pour.job.faults import JobError
    from img2pour.job.model import Job
    from img2pour.job.options import merge_options
    from img2pour.job.reading import load_job, read_job
    from img2pour.job.shelf import Shelf, gather_bits, settle_walls
    from img2pour.job.writing import write_job

_HOMES = {
    "Bit": "bits",
    "Job": "model",
    "JobError": "faults",
    "Shelf": "shelf",
    "gather_bits": "shelf",
    "load_job": "reading",
    "make_job": "build",
    "merge_options": "options",
    "read_job": "reading",
    "settle_walls": "shelf",
    "write_job": "writing",
}

__all__ = [
    "Bit",
    "Job",
    "JobError",
    "Shelf",
    "gather_bits",
    "load_job",
    "make_job",
    "merge_options",
    "read_job",
    "settle_walls",
    "write_job",
]


def __getattr__(name: str) -> Any:
    """Load a part of the job when it is first used, so that importing the package stays cheap."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
