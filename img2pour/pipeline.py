"""The front door: from a picture and a job to a result, and to a folder of files.

``convert`` reads like the work itself: read, find the colours, label, trace, place, limit, measure.
The order stands in :mod:`img2pour.table`; nothing here knows how a step does its work.
"""

from __future__ import annotations

import hashlib
from collections.abc import MutableMapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from img2pour.bare_board import artwork_of
from img2pour.job.model import Job
from img2pour.job.writing import point_at, write_job
from img2pour.picture import Picture
from img2pour.progress import Progress
from img2pour.steps import Workbench
from img2pour.table import STEPS
from img2pour.write.folder import check_folder, write_folder

if TYPE_CHECKING:
    from img2pour.compare import Tryout
    from img2pour.palette import Palette
    from img2pour.results import Extent, Result

JOB_FILE = "job.toml"
NEEDED_LATER = (
    "img2pour.artwork",
    "img2pour.framing",
    "scipy.sparse.csgraph",
    "scipy.sparse.linalg",
    "img2pour.plane.trace",
    "img2pour.results",
    "img2pour.outputs",
    "img2pour.carve.limit",
    "img2pour.standing",
    "img2pour.touching_up",
)
"""Modules that are loaded beside the work on the picture, in the order in which it wants them."""


def convert(
    picture: Path | str | bytes | Picture,
    job: Job,
    *,
    base: Path | None = None,
    progress: Progress = Progress(),
    kept: MutableMapping[str, Any] | None = None,
    extent: Extent = "design",
) -> Result:
    """Turn a picture into regions on a board, with what the bits leave of them.

    Parameters
    ----------
    picture : Path, str, bytes or Picture
        A file, its content, or a picture that was read already.
    job : Job
        What is wanted; its own picture is not looked at.
    base : Path, optional
        Folder from which the job's table of bits is seen; the working folder by default.
    progress : Progress
        Told of each step; may cancel between steps.
    kept : mapping, optional
        Results of earlier calls; what the change of a setting does not touch is taken from there.
    extent : {"design", "judged", "planned", "all"}
        How far to go: the regions; with the verdict; with the plan of the pours; with both.

    Raises
    ------
    ImageError
        When the picture cannot be read.
    SettingsError
        When the job cannot be done with this picture.
    """
    bench = _bench(picture, job, base or Path(), progress, {} if kept is None else kept)
    return _result(bench, extent)


def run(job: Job, out: Path, *, base: Path, progress: Progress = Progress()) -> Result:
    """Do the whole job and write the folder `out`, whole or not at all.

    Parameters
    ----------
    job : Job
        Names its picture.
    out : Path
    base : Path
        Folder from which the job's paths are seen.
    progress : Progress

    Raises
    ------
    Img2PourError
        When something is wrong; `out` is then as it was.
    """
    job.need_size()
    own = {JOB_FILE}
    check_folder(out, may_change=own)
    extent: Extent = "design" if job.output.files == "design" else "all"
    picture, job = artwork_of(job, base)
    result = convert(picture, job, base=base, progress=progress, extent=extent)
    progress.at("write", 0.9)
    used = result.job_to_keep
    files = result.files() | {JOB_FILE: write_job(point_at(used, out, base=base)).encode()}
    write_folder(out, files, may_change=own)
    return result


def check(job: Job, *, base: Path, progress: Progress = Progress()) -> Result:
    """Judge a job's picture without writing anything.

    Returns
    -------
    Result
        Its report holds ``verdict``: the word, a table by colour, the places, the advice.
    """
    job.need_size()
    picture, job = artwork_of(job, base)
    bench = _bench(picture, job, base, progress, {})
    return _result(bench, "judged")


def compare(
    tryouts: Sequence[Tryout], out: Path, *, progress: Progress = Progress()
) -> list[dict[str, object]]:
    """Do try-outs side by side and write the folder `out`: ``compare.html``, ``compare.csv``.

    Returns
    -------
    list of dict
        The rows of ``compare.csv``.

    Raises
    ------
    Img2PourError
        When one cannot be done; `out` is then as it was.
    """
    from img2pour import compare as side_by_side
    from img2pour.write.compare_page import compare_files

    check_folder(out)
    done = side_by_side.compare(tryouts, convert, progress)
    write_folder(out, compare_files(done))
    return side_by_side.rows_of(done)


def see_palette(job: Job, *, base: Path, progress: Progress = Progress()) -> Palette:
    """Return the colours that a job's picture is reduced to."""
    picture, job = artwork_of(job, base)
    bench = _bench(picture, job, base, progress, {})
    palette: Palette = bench.get("colours")
    return palette


def _result(bench: Workbench, extent: Extent) -> Result:
    """Return the result of a workbench; what later steps need is loaded while it reads."""
    bench.get("letters")  # a font that will not do is told before anything else is done
    with ThreadPoolExecutor(max_workers=1) as pool:
        labels = pool.submit(bench.get, "labels")
        for name in NEEDED_LATER:
            import_module(name)
        labels.result()
    bench.get_beside(("trace", "quality"))
    from img2pour.results import make_result

    return make_result(bench, extent)


def _bench(
    picture: Path | str | bytes | Picture,
    job: Job,
    base: Path,
    progress: Progress,
    kept: MutableMapping[str, Any],
) -> Workbench:
    """Return the workbench for a picture; a file is known by its content."""
    source = Path(picture) if isinstance(picture, str) else picture
    if isinstance(source, Picture):
        key = source.sha256
    elif isinstance(source, bytes):
        key = hashlib.sha256(source).hexdigest()
    else:
        key = f"{source.resolve()} {source.stat().st_mtime_ns if source.is_file() else 0}"
    return Workbench(STEPS, source, key, job, base, progress, kept)
