"""img2pour: from a picture to carved pockets, poured resin and a sheet for the shop.

The front door is small::

    from img2pour import convert, make_job

    result = convert("sign.png", make_job(size={"width": "12 in"}))
    result.regions["navy"]      # shapely geometry, mm on the board
    result.report["colours"]    # areas, shares, volumes

Importing the package loads nothing heavy; what is named in ``__all__`` is loaded when it is used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from img2pour.errors import Img2PourError as Img2PourError
    from img2pour.job import Job as Job
    from img2pour.job import load_job as load_job
    from img2pour.job import make_job as make_job
    from img2pour.pipeline import check as check
    from img2pour.pipeline import convert as convert
    from img2pour.pipeline import run as run
    from img2pour.progress import Progress as Progress
    from img2pour.results import Result as Result

__version__ = "0.1.0"

_HOMES = {
    "Img2PourError": "img2pour.errors",
    "Job": "img2pour.job.model",
    "Progress": "img2pour.progress",
    "Result": "img2pour.results",
    "check": "img2pour.pipeline",
    "convert": "img2pour.pipeline",
    "load_job": "img2pour.job.reading",
    "make_job": "img2pour.job.build",
    "run": "img2pour.pipeline",
}

__all__ = [
    "Img2PourError",
    "Job",
    "Progress",
    "Result",
    "__version__",
    "check",
    "convert",
    "load_job",
    "make_job",
    "run",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first used."""
    if name not in _HOMES:
        raise AttributeError(f"module 'img2pour' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
