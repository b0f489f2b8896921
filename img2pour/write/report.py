"""The report as plain data: every figure of a run, with units in the keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from img2pour.units import ML_PER_FL_OZ
from img2pour.write.text import one_line
from img2pour.write.values import Board

Role = Literal["pour", "wood", "outside"]
Matrix = Sequence[Sequence[float]]


@dataclass(frozen=True)
class ColourRow:
    """One colour's figures.

    Attributes
    ----------
    name, hex : str
        Name and ``#rrggbb``.
    role : {"pour", "wood", "outside"}
    layer : str or None
        Its layer in the drawings.
    area_mm2 : float
    area_percent : float
        Share of the artwork without `outside`, 0 to 100.
    volume_ml : float or None
        Resin for its pockets; None where nothing is poured.
    regions : int
        Number of regions.
    """

    name: str
    hex: str
    role: Role
    layer: str | None
    area_mm2: float
    area_percent: float
    volume_ml: float | None
    regions: int


@dataclass(frozen=True)
class RemovedRow:
    """One region that was taken out.

    Attributes
    ----------
    colour : str
        Name of its colour.
    reason : str
        In plain words.
    area_mm2 : float
    at_mm : (x, y)
        A point inside it.
    """

    colour: str
    reason: str
    area_mm2: float
    at_mm: tuple[float, float]


@dataclass(frozen=True)
class ReportFacts:
    """Everything that the report states.

    Attributes
    ----------
    version : str
        Of img2pour.
    input_sha256 : str
        Of the picture's bytes.
    board : Board
    scale_mm_per_px : float
        Of the straightened picture.
    image_to_mm : (3, 3)
        From pixels of the upright input (x right, y down, first centre at 0.5, 0.5) to mm in the
        drawings.
    colours : sequence of ColourRow
    removed : sequence of RemovedRow
    warnings : sequence of str
    lens : mapping or None
        How the lens bulge was taken out; None when nothing was.
    stages : sequence of mapping
    more : mapping
        Further keys, for example tolerance or job settings; they may not replace others.
    """

    version: str
    input_sha256: str
    board: Board
    scale_mm_per_px: float
    image_to_mm: Matrix
    colours: Sequence[ColourRow]
    removed: Sequence[RemovedRow] = ()
    warnings: Sequence[str] = ()
    lens: Mapping[str, object] | None = None
    stages: Sequence[Mapping[str, object]] = ()
    more: Mapping[str, object] = field(default_factory=dict)


def report_data(facts: ReportFacts) -> dict[str, object]:
    """Return the report as dictionaries and lists, in a fixed order.

    Raises
    ------
    ValueError
        When `facts.more` holds a key that the report has already.
    """
    data: dict[str, object] = {
        "version": facts.version,
        "input_sha256": facts.input_sha256,
        "scale_mm_per_px": float(facts.scale_mm_per_px),
        "image_to_mm": [[float(value) for value in row] for row in facts.image_to_mm],
        "lens": None if facts.lens is None else dict(facts.lens),
        "board": {
            "width_mm": facts.board.width_mm,
            "height_mm": facts.board.height_mm,
            "thickness_mm": facts.board.thickness_mm,
        },
        "colours": [_colour(row) for row in facts.colours],
        "removed": [_removed(row) for row in facts.removed],
        "stages": [dict(stage) for stage in facts.stages],
        "warnings": [one_line(warning) for warning in facts.warnings],
    }
    doubled = sorted(data.keys() & facts.more.keys())
    if doubled:
        raise ValueError(f"the report has these keys already: {', '.join(doubled)}")
    return data | dict(facts.more)


def _colour(row: ColourRow) -> dict[str, object]:
    volume = row.volume_ml
    return {
        "name": one_line(row.name),
        "hex": row.hex,
        "role": row.role,
        "layer": row.layer,
        "area_mm2": row.area_mm2,
        "area_percent": row.area_percent,
        "regions": row.regions,
        "volume_ml": volume,
        "volume_fl_oz": None if volume is None else volume / ML_PER_FL_OZ,
    }


def _removed(row: RemovedRow) -> dict[str, object]:
    return {
        "colour": one_line(row.colour),
        "reason": one_line(row.reason),
        "area_mm2": row.area_mm2,
        "at_mm": [row.at_mm[0], row.at_mm[1]],
    }
