"""From options of the command line (or of the page) to a job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from img2pour.errors import SettingsError
from img2pour.job.build import try_job
from img2pour.job.faults import Fault, JobError, Path, place_all
from img2pour.job.model import Job
from img2pour.job.places import read_over
from img2pour.units import quoted

SIZES = ("width", "height", "board", "scale")

OPTION_PATHS: dict[str, tuple[str, str]] = {
    "picture": ("artwork", "file"),
    "max_megapixels": ("artwork", "max_megapixels"),
    "straighten": ("photo", "straighten"),
    "sheet": ("photo", "sheet"),
    "measure": ("photo", "measure"),
    "light": ("photo", "light"),
    "drawing": ("drawing", "read"),
    "lines": ("drawing", "lines"),
    "line_width": ("drawing", "line_width"),
    "close": ("drawing", "close"),
    "tones": ("colours", "tones"),
    "width": ("size", "width"),
    "height": ("size", "height"),
    "board": ("size", "board"),
    "margin": ("size", "margin"),
    "scale": ("size", "scale"),
    "colours": ("colours", "palette"),
    "wood": ("colours", "wood"),
    "bit": ("bits", "use"),
    "bit_table": ("bits", "table"),
    "depth": ("carving", "depth"),
    "surface": ("carving", "surface"),
    "rim": ("carving", "rim"),
    "walls": ("carving", "walls"),
    "small": ("carving", "small"),
    "thin_walls": ("carving", "thin_walls"),
    "tolerance": ("tracing", "tolerance"),
    "thickness": ("board", "thickness"),
    "grain": ("board", "grain"),
    "order": ("pours", "order"),
    "done": ("pours", "done"),
    "seal": ("seal", "kind"),
    "border": ("seal", "border"),
    "resin": ("mixing", "resin"),
    "resin_table": ("mixing", "table"),
    "files": ("output", "files"),
    "accept_loss": ("limits", "accept_loss"),
    "units": ("output", "units"),
    "dxf": ("output", "dxf"),
    "section": ("output", "section"),
    "zero": ("output", "zero"),
    "pin_x": ("output", "pin_x"),
    "pin_y": ("output", "pin_y"),
}
OVERRIDE_OPTIONS = {"role": "role", "bit_for": "bits", "small_for": "small"}


def merge_options(job: Job, options: Mapping[str, Any]) -> Job:
    """Return the job with options laid over it.

    Parameters
    ----------
    job : Job
    options : mapping
        Name of an option with underscores (``thin_walls``) -> what was typed; ``picture`` is the
        picture's file. None and () mean "not given". ``role``, ``bit_for`` and ``small_for`` hold
        texts like ``navy=wood``. One of width, height, board and scale takes the place of the one
        in the job; given bits take the place of the job's bits.

    Raises
    ------
    JobError
        One line for each option or combination that is wrong.
    """
    given = {name: x for name, x in options.items() if x is not None and x != ()}
    data = job.model_dump()
    _make_room(data["size"], given)
    for name, value in given.items():
        if name in OPTION_PATHS:
            section, key = OPTION_PATHS[name]
            data[section][key] = _listed(name, value)
    data["override"], faults = _override(data["override"], given)
    data["art"] = [*data["art"], *_art(given, faults)]
    merged, wrong = try_job(data)
    faults += place_all(wrong, _places(given))
    if merged is None or faults:
        raise JobError(faults)
    return merged


def _listed(name: str, value: Any) -> Any:
    """Return a value as the job wants it: repeated options and lists of names as lists."""
    if name == "order":
        return [part.strip() for part in value.split(",") if part.strip()]
    return list(value) if isinstance(value, tuple) else value


def _make_room(size: dict[str, Any], given: Mapping[str, Any]) -> None:
    """Drop the job's own size when an option gives another."""
    if any(name in given for name in SIZES):
        for name in SIZES:
            size[name] = None
        if "board" not in given:
            size["margin"] = None


def _override(
    present: Sequence[dict[str, Any]], given: Mapping[str, Any]
) -> tuple[list[dict[str, Any]], list[Fault]]:
    overrides = {one["colour"]: dict(one) for one in present}
    faults = []
    for option, key in OVERRIDE_OPTIONS.items():
        bits: dict[str, list[str]] = {}
        for text in given.get(option, ()):
            colour, equals, value = text.rpartition("=")
            if not equals or not colour.strip() or not value.strip():
                why = f"{quoted(text)} is not a colour and a value; write it like navy=..."
                faults.append(Fault((), why, text, _typed(option)))
                continue
            one = overrides.setdefault(colour.strip(), {"colour": colour.strip()})
            if key == "bits":
                bits.setdefault(colour.strip(), []).append(value.strip())
                one[key] = bits[colour.strip()]
            else:
                one[key] = value.strip()
    return list(overrides.values()), faults


def _art(given: Mapping[str, Any], faults: list[Fault]) -> list[dict[str, Any]]:
    """Return the pieces of art that the options lay over the artwork."""
    pieces: list[dict[str, Any]] = []
    for text in given.get("over", ()):
        try:
            pieces.append(read_over(text))
        except SettingsError as why:
            faults.append(Fault((), str(why), text, "--over"))
    return pieces


def _places(given: Mapping[str, Any]) -> dict[Path, str]:
    places: dict[Path, str] = {OPTION_PATHS[x]: _typed(x) for x in given if x in OPTION_PATHS}
    overriding = [_typed(name) for name in OVERRIDE_OPTIONS if name in given]
    if overriding:
        places[("override",)] = " ".join(overriding)
    return places


def _typed(name: str) -> str:
    return "the picture" if name == "picture" else f"--{name.replace('_', '-')}"
