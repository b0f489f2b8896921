"""The report as JSON and the colours as CSV."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from numbers import Integral
from typing import Any

from img2pour.errors import GeometryError
from img2pour.write.text import cell_text

DIGITS = 12
"""Digits that are kept of every figure: all that are real, without the noise behind them."""

COLOUR_COLUMNS = (
    "name",
    "hex",
    "role",
    "layer",
    "area_mm2",
    "area_percent",
    "regions",
    "volume_ml",
    "volume_fl_oz",
)
_DECIMALS = {"area_mm2": 3, "area_percent": 3, "volume_ml": 2, "volume_fl_oz": 3}


def report_json(report: Mapping[str, object]) -> bytes:
    """Return the report as JSON, in the report's own order, UTF-8.

    Raises
    ------
    GeometryError
        When a figure is infinite or not a number; the message says which.
    """
    text = json.dumps(_rounded(report, ""), indent=2, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode()


def _rounded(value: object, place: str) -> Any:
    """Return `value` as plain JSON data, figures cut to `DIGITS` digits."""
    if isinstance(value, Mapping):
        return {str(key): _rounded(item, f"{place}.{key}") for key, item in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_rounded(item, f"{place}[{index}]") for index, item in enumerate(value)]
    if isinstance(value, float):
        if not math.isfinite(value):
            raise GeometryError(f"the report's figure {place.lstrip('.')} is {value}, no number")
        return float(f"{value:.{DIGITS}g}") + 0.0
    return int(value) if isinstance(value, Integral) and not isinstance(value, bool) else value


def colours_csv(report: Mapping[str, Any]) -> bytes:
    """Return the report's colours as a table: commas, a head line, UTF-8, line ends as RFC 4180.

    Names that a spreadsheet would take for a formula get an apostrophe in front.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLOUR_COLUMNS)
    for row in report["colours"]:
        writer.writerow([_cell(column, row[column]) for column in COLOUR_COLUMNS])
    return out.getvalue().encode()


def _cell(column: str, value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        if not math.isfinite(value):
            raise GeometryError(f"the colours' figure {column} is {value}, no number")
        return f"{value:.{_DECIMALS.get(column, DIGITS)}f}"
    return cell_text(str(value))
