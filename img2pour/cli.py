"""The command line: read what was typed, call the pipeline, show what came out.

Nothing heavy is loaded until a command runs. Exit status: 0 done, 1 `check` says no, 2 bad input
or usage, 130 stopped by hand.
"""

from __future__ import annotations

import errno
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from img2pour import __version__
from img2pour.cli_options import (
    ACCEPT_LOSS,
    ART_OR_JOB,
    AS_JSON,
    CARVING,
    COLOURS,
    FILES,
    OVER,
    PHOTO,
    POURS,
    QUIET,
    SIZE,
    out_option,
    shared_options,
)
from img2pour.errors import Img2PourError, OutputError, SettingsError

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.palette import Palette
    from img2pour.progress import Progress
    from img2pour.results import Result

BAD_INPUT = 2
NOT_CARVABLE = 1
STOPPED = 130  # what shells expect after Ctrl-C


class Commands(click.Group):
    """The commands; an expected error becomes one line for each fault, and exit status 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was asked for."""
        try:
            return super().invoke(ctx)
        except Img2PourError as error:
            for line in str(error).splitlines():
                click.echo(f"error: {line}", err=True)
            ctx.exit(BAD_INPUT)
        except KeyboardInterrupt:
            click.echo("stopped", err=True)
            ctx.exit(STOPPED)
        except OSError as error:
            if error.errno not in {errno.ENOSPC, errno.EDQUOT}:
                raise
            click.echo("error: the disk is full; nothing more can be written", err=True)
            ctx.exit(BAD_INPUT)


@click.group(
    cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="img2pour")
def main() -> None:
    """From a picture to carved pockets, poured resin and a sheet for the shop."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")  # a terminal that cannot show a name shows "?"


@main.command()
@ART_OR_JOB
@out_option(True, "Folder for the results.")
@shared_options(SIZE, PHOTO, COLOURS, OVER, CARVING, POURS, FILES, AS_JSON, QUIET)
def run(source: Path, out: Path, as_json: bool, quiet: bool, **options: Any) -> None:
    """Do the whole job: from a picture, or a job file, to a folder of files."""
    job, base = _load(source, options)
    job.need_size()
    from img2pour import pipeline

    with _progress(quiet) as progress:
        result = pipeline.run(job, out, base=base, progress=progress)
    _show(result, job, as_json, quiet)


@main.command()
@ART_OR_JOB
@shared_options(SIZE, PHOTO, COLOURS, OVER, CARVING, ACCEPT_LOSS, FILES[0], AS_JSON, QUIET)
def check(source: Path, as_json: bool, quiet: bool, **options: Any) -> None:
    """Tell whether it can be carved, what would be lost, and what to change.

    Exit status 0 when it can, 1 when something is lost.
    """
    job, base = _load(source, options)
    job.need_size()
    from img2pour import pipeline
    from img2pour.terminal import progress_shown

    with progress_shown(quiet) as progress:
        result = pipeline.check(job, base=base, progress=progress)
    _show(result, job, as_json, quiet)
    if not result.report["verdict"]["accepted"]:
        raise click.exceptions.Exit(NOT_CARVABLE)


@main.command()
@ART_OR_JOB
@out_option(True, "Folder for the coupon's drawing and picture.")
@shared_options(SIZE, PHOTO, COLOURS, CARVING, POURS, FILES, QUIET)
def coupon(source: Path, out: Path, quiet: bool, **options: Any) -> None:
    """Draw a small trial for an offcut: the job's narrowest stroke, wall and border, and depths."""
    job, base = _load(source, options)
    job.need_size()
    from img2pour import pipeline
    from img2pour.coupon_files import coupon_files, coupon_lines, coupon_of
    from img2pour.terminal import progress_shown
    from img2pour.write.folder import write_folder

    with progress_shown(quiet) as progress:
        result = pipeline.check(job, base=base, progress=progress)
    write_folder(out, coupon_files(result))
    if not quiet:
        for line in coupon_lines(coupon_of(result), job.shown_units):
            click.echo(line)


@main.command()
@ART_OR_JOB
@out_option(False, "Picture for the strip (NAME-palette.png in this folder).")
@shared_options(SIZE, PHOTO, COLOURS[0], COLOURS[2], AS_JSON, QUIET)
def palette(source: Path, out: Path | None, as_json: bool, quiet: bool, **options: Any) -> None:
    """Show the flat colours that it sees, as a table and as a strip."""
    job, base = _load(source, options)
    picture = job.artwork_path(base)
    found = _find_palette(job, base, quiet)
    from img2pour.strip import write_strip

    strip = out or Path(f"{picture.stem}-palette.png")
    write_strip(found, strip)
    if as_json:
        from dataclasses import asdict

        _print_json(asdict(found))
    elif not quiet:
        from img2pour.terminal import open_console, palette_table, show_warnings

        open_console().print(palette_table(found))
        click.echo(f"The strip of colours is {strip}")
        show_warnings(found.notes)


@main.command()
@ART_OR_JOB
@out_option(False, "The job file; a file of that name is never replaced.")
@shared_options(SIZE, PHOTO, COLOURS, OVER, CARVING, ACCEPT_LOSS, POURS, FILES)
def job(source: Path, out: Path | None, **options: Any) -> None:
    """Write a job file with everything filled in, to edit."""
    from img2pour.job.options import merge_options
    from img2pour.job.writing import point_at, write_job

    wanted, base = _load(source, options)
    if wanted.colours.palette == "auto":
        found = _find_palette(wanted, base, False)
        listed = [f"{colour.hex}={colour.name}" for colour in found.colours]
        wanted = merge_options(wanted, {"colours": listed})
    folder = out.parent if out else Path()
    text = write_job(point_at(wanted, folder, base=base))
    if out is None:
        click.echo(text, nl=False)
    else:
        _write_new(out, text)


@main.command()
@click.option("--bit-table", type=click.Path(path_type=Path), metavar="FILE", help="Your own too.")
@click.option("--units", type=click.Choice(["in", "mm"]), default="in", show_default=True)
@AS_JSON
def bits(bit_table: Path | None, units: Any, as_json: bool) -> None:
    """Show the table of bits."""
    from img2pour.job.bit_table import load_bit_table

    table = load_bit_table(bit_table)
    if as_json:
        from dataclasses import asdict

        _print_json({"bits": [asdict(bit) for bit in table]})
    else:
        from img2pour.terminal import bits_table, open_console

        open_console().print(bits_table(table, units))


@main.command()
@click.option("--resin-table", type=click.Path(path_type=Path), metavar="FILE", help="Yours too.")
@AS_JSON
def resins(resin_table: Path | None, as_json: bool) -> None:
    """Show the table of resins."""
    from img2pour.pours.resins import DATA_SHEET_NOTICE, load_resins

    table = load_resins(resin_table)
    if as_json:
        from dataclasses import asdict

        _print_json({"resins": [asdict(resin) for resin in table], "notice": DATA_SHEET_NOTICE})
    else:
        from img2pour.terminal import open_console, resins_table

        console = open_console()
        console.print(resins_table(table))
        console.print(DATA_SHEET_NOTICE)


@main.command()
@click.argument(
    "sources", nargs=-1, required=True, metavar="ART|JOB.toml ...", type=click.Path(path_type=Path)
)
@out_option(True, "Folder for compare.html and compare.csv.")
@click.option(
    "--try",
    "changes",
    multiple=True,
    metavar="CHANGES",
    help='What to try, by the names of options: "depth=4mm,seal=flood". May be given several '
    "times.",
)
@shared_options(SIZE, PHOTO, COLOURS, CARVING, POURS, FILES[0], AS_JSON, QUIET)
def compare(
    sources: tuple[Path, ...],
    out: Path,
    changes: tuple[str, ...],
    as_json: bool,
    quiet: bool,
    **options: Any,
) -> None:
    """Lay jobs, and changes to them, side by side: pictures, losses, resin, cost, days."""
    from img2pour.compare import tryouts_of

    tryouts = tryouts_of([(one.stem, *_load(one, options)) for one in sources], changes)
    for one in tryouts:
        one.job.need_size()
    from img2pour import pipeline
    from img2pour.terminal import compare_table, open_console, progress_shown

    with progress_shown(quiet) as progress:
        rows = pipeline.compare(tryouts, out, progress=progress)
    if as_json:
        _print_json({"tryouts": rows})
    elif not quiet:
        open_console().print(compare_table(rows))


@main.command()
@click.argument("source", metavar="JOB.toml|OUT", type=click.Path(path_type=Path))
@click.argument("pour")
@click.option("--mixed", required=True, metavar="AMOUNT", help="Really mixed: 120ml, 4floz, 130g.")
@click.option("--left", default="0 ml", metavar="AMOUNT", help="Left over of it (nothing).")
@QUIET
def note(source: Path, pour: str, mixed: str, left: str, quiet: bool) -> None:
    """Note what was really mixed and left over of a POUR: the next plans' waste and soak follow.

    The note goes to the end of the job file (of a run's folder: its job.toml).
    """
    file = source / "job.toml" if source.is_dir() else source
    wanted, base = _load(file, {})
    wanted.need_size()
    from img2pour.noting import add_to_file, note_pour
    from img2pour.terminal import note_lines, progress_shown

    with progress_shown(quiet) as progress:
        planned = note_pour(wanted, pour, mixed, left, base=base, progress=progress)
    add_to_file(file, planned.log[-1])
    if not quiet:
        for line in note_lines(planned.log[-1], planned.learned, wanted.shown_units):
            click.echo(line)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@out_option(True, "Folder that gets one folder for each picture, and batch.csv.")
@click.option(
    "--job", "job_file", type=click.Path(path_type=Path), metavar="JOB.toml", help="Its settings."
)
@shared_options(SIZE, PHOTO, COLOURS, CARVING, POURS, FILES, AS_JSON, QUIET)
def batch(
    folder: Path, out: Path, job_file: Path | None, as_json: bool, quiet: bool, **options: Any
) -> None:
    """Do the same job for every picture in a folder.

    Exit status 2 when a picture failed; the others are done all the same.
    """
    wanted, base = _load(job_file, options)
    wanted.need_size()
    from img2pour import pipeline
    from img2pour.batch import run_batch
    from img2pour.terminal import batch_table, open_console, progress_shown

    with progress_shown(quiet) as progress:
        rows = run_batch(folder, wanted, out, base=base, run_one=pipeline.run, progress=progress)
    if as_json:
        _print_json({"pictures": rows})
    elif not quiet:
        open_console().print(batch_table(rows))
    if any(row["result"] != "done" for row in rows):
        raise click.exceptions.Exit(BAD_INPUT)


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to serve at.")
@click.option("--port", default=8765, show_default=True, type=click.IntRange(0, 65535))
@click.option("--no-browser", is_flag=True, help="Do not open the browser.")
@click.option(
    "--data", type=click.Path(path_type=Path), metavar="FOLDER", help="Where the jobs are kept."
)
@click.option(
    "--room",
    "cap_mb",
    default=4000,
    show_default=True,
    type=click.IntRange(100),
    metavar="MB",
    help="Room for all jobs together.",
)
def serve(host: str, port: int, no_browser: bool, data: Path | None, cap_mb: int) -> None:
    """Open the page in a browser of this machine: see it, change it, take the files."""
    try:
        from img2pour.web.server import serve as serve_page
    except ModuleNotFoundError as missing:
        if missing.name not in {"fastapi", "starlette", "uvicorn", "platformdirs"}:
            raise
        raise SettingsError(
            f'the page needs {missing.name}; install it with: pip install "img2pour[web]"'
        ) from missing
    serve_page(host, port, data=data, cap_mb=cap_mb, opens_browser=not no_browser, say=click.echo)


def _load(source: Path | None, options: dict[str, Any]) -> tuple[Job, Path]:
    """Return the job with the options laid over it, and the folder its paths count from."""
    from img2pour.job.model import Job
    from img2pour.job.options import merge_options
    from img2pour.job.reading import load_job
    from img2pour.job.writing import relative_path

    base = Path()
    wanted = Job()
    if source is not None and source.suffix.lower() == ".toml":
        wanted, base = load_job(source), source.parent
    elif source is not None:
        options = options | {"picture": str(source)}
    for table in ("bit_table", "resin_table"):
        if options.get(table):
            options = options | {table: relative_path(Path(options[table]), base)}
    if options.get("over"):
        options = options | {"over": tuple(_seen_from(base, text) for text in options["over"])}
    merged = merge_options(wanted, options)
    if options.get("log"):
        from img2pour.noting import with_logs

        merged = with_logs(merged, options["log"])
    return merged, base


def _seen_from(base: Path, text: str) -> str:
    """Return ``FILE@PLACE,SIZE`` with the file as seen from the job's folder."""
    from img2pour.job.writing import relative_path

    file, at, rest = text.rpartition("@")
    return f"{relative_path(Path(file), base)}{at}{rest}" if file else text


def _find_palette(wanted: Job, base: Path, quiet: bool) -> Palette:
    from img2pour import pipeline
    from img2pour.terminal import progress_shown

    with progress_shown(quiet) as progress:
        return pipeline.see_palette(wanted, base=base, progress=progress)


@contextmanager
def _progress(quiet: bool) -> Iterator[Progress]:
    """Give a Progress; what draws it is loaded only where somebody sees it."""
    from img2pour.progress import Progress

    if quiet or not sys.stderr.isatty():
        yield Progress()
        return
    from img2pour.terminal import progress_shown

    with progress_shown() as progress:
        yield progress


def _show(result: Result, wanted: Job, as_json: bool, quiet: bool) -> None:
    """Print the report as data, or one table and then the warnings."""
    if as_json:
        _print_json(result.report)
    elif not quiet:
        from img2pour.terminal import open_console, show_report, show_verdict, show_warnings

        if click.get_current_context().info_name == "check":
            show_verdict(open_console(), result.report, wanted.shown_units)
        else:
            show_report(open_console(), result.report, wanted.shown_units)
        show_warnings(result.warnings)


def _print_json(data: dict[str, Any]) -> None:
    from img2pour.write.tables import report_json

    click.echo(report_json(data), nl=False)


def _write_new(path: Path, text: str) -> None:
    from img2pour.units import quoted

    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise OutputError(f"{quoted(path, 120)} exists; choose another name with -o") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"{quoted(path, 120)} cannot be written: {reason}") from error
