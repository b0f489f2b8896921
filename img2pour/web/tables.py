"""What can be chosen on the page: the tables, and the values that settings allow."""

from __future__ import annotations

from typing import Any, get_args

from img2pour import __version__
from img2pour.job.bit_table import load_bit_table
from img2pour.job.bits import Bit
from img2pour.job.model import Job
from img2pour.job.values import MOST_COLOURS
from img2pour.pours.resins import DATA_SHEET_NOTICE, Resin, load_resins
from img2pour.pours.species import SHRINKAGE
from img2pour.units import format_length
from img2pour.web.settings import PageSettings

CHOICES = {
    "seal_kinds": "seal.kind",
    "coats": "seal.coat_of",
    "grains": "board.grain",
    "lines": "drawing.lines",
    "drawing": "drawing.read",
    "light": "photo.light",
    "small": "carving.small",
    "thin_walls": "carving.thin_walls",
    "walls": "carving.walls",
    "faces": "shop.face",
    "units": "output.units",
    "dxf": "output.dxf",
    "zero": "output.zero",
    "files": "output.files",
}


def page_tables(settings: PageSettings) -> dict[str, Any]:
    """Return tables, choices and limits."""
    from img2pour.straighten.sheets import SHEET_SIZES_MM

    return {
        "version": __version__,
        "bits": [
            {"name": bit.name, "kind": bit.kind, "words": _bit_words(bit)}
            for bit in load_bit_table(None)
        ],
        "resins": [{"name": one.name, "words": _resin_words(one)} for one in load_resins(None)],
        "species": list(SHRINKAGE),
        "sheets": [*SHEET_SIZES_MM, "auto", "card"],
        "enums": {name: choices_of(path) for name, path in CHOICES.items()}
        | {"roles": ["pour", "wood", "outside"]},
        "fields": field_words(),
        "notice": DATA_SHEET_NOTICE,
        "limits": {
            "max_mb": settings.max_mb,
            "max_megapixels": settings.max_megapixels,
            "most_colours": MOST_COLOURS,
        },
    }


def choices_of(path: str) -> list[str]:
    """Return the values that a setting of fixed choices allows."""
    section, _, name = path.partition(".")
    kind: Any = Job.model_fields[section].annotation
    return [str(value) for value in get_args(kind.model_fields[name].annotation)]


def field_words() -> dict[str, str]:
    """Return what each setting means, as its comment in a job file says."""
    words = {}
    for section, field in Job.model_fields.items():
        kind: Any = field.annotation
        items = get_args(kind)
        kind = items[0] if items else kind
        for name, own in kind.model_fields.items():
            words[f"{section}.{name}"] = own.description or ""
    return words


def _bit_words(bit: Bit) -> str:
    return f"{format_length(bit.diameter_mm, 'in').partition(' (')[0]} or {bit.diameter_mm:.4g} mm"


def _resin_words(resin: Resin) -> str:
    return (
        f"{resin.parts_a:g} : {resin.parts_b:g} by volume, {resin.least_depth_mm:g} to "
        f"{resin.greatest_depth_mm:g} mm deep in one pour, cut after {resin.cure_hours:g} h"
    )
