"""The preview and the design for the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from img2pour.plane.regionmap import colour_areas
from img2pour.units import Shown, format_area, format_length, format_volume
from img2pour.web.views import drawn

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.palette import Palette
    from img2pour.preview import Preview
    from img2pour.results import Result

ALIKE = "hard to tell apart"


def preview_view(preview: Preview, job: Job) -> dict[str, Any]:
    """Return the regions before the board, the bits and the rules are asked."""
    areas = colour_areas(preview.region_map, len(preview.colours))
    share = 100 * areas / max(float(areas.sum()), 1e-9)
    counts = np.bincount(
        preview.region_map.face_colours[preview.region_map.face_colours >= 0],
        minlength=len(preview.colours),
    )
    known = preview.mm_per_px is not None
    units = job.shown_units
    return {
        "half": preview.is_half,
        "board": _board(preview.width, preview.height, job) if known else None,
        "mm_per_px": preview.mm_per_px,
        "viewbox": [0, 0, preview.width, preview.height],
        "colours": [
            {
                "index": index,
                "name": colour.name,
                "hex": colour.hex,
                "role": colour.role,
                "area_text": format_area(float(areas[index]), units) if known else None,
                "area_percent": float(share[index]),
                "volume_ml": None,
                "volume_text": None,
                "regions": int(counts[index]),
                "resin": product_of(job, colour.name, colour.hex),
                "picture_hex": seen_hex(index, preview.palette),
            }
            for index, colour in enumerate(preview.colours)
        ],
        "alike": [note for note in preview.notes if ALIKE in note],
        "faces": drawn.faces(preview.region_map, preview.height),
        "warnings": [note for note in preview.notes if ALIKE not in note],
        "changes": [],
        "removed": [],
    }


def design_view(result: Result, palette: Palette) -> dict[str, Any]:
    """Return the regions on the board, with their figures."""
    job, board, report = result.job, result.board, result.report
    zero_mm = job.output.zero_mm(board.width_mm, board.height_mm)
    seen = Seen(zero_mm, board.height_mm, job.shown_units)
    return {
        "half": False,
        "board": _board(board.width_mm, board.height_mm, job),
        "mm_per_px": report["scale_mm_per_px"],
        "viewbox": [0, 0, board.width_mm, board.height_mm],
        "colours": [
            _colour(index, row, job) | {"picture_hex": seen_hex(index, palette)}
            for index, row in enumerate(report["colours"])
        ],
        "alike": [note for note in result.warnings if ALIKE in note],
        "faces": drawn.faces(result.design.region_map, board.height_mm),
        "warnings": [note for note in result.warnings if ALIKE not in note],
        "changes": [_change(row, seen) for row in report["changes"]],
        "removed": [
            {
                "colour": row["colour"],
                "reason": row["reason"],
                "area_text": format_area(row["area_mm2"], seen.units),
                "at_mm": row["at_mm"],
                "xy": seen.xy(row["at_mm"]),
            }
            for row in report["removed"]
        ],
    }


class Seen:
    """Turns points of the files into points to draw."""

    def __init__(self, zero_mm: tuple[float, float], height_mm: float, units: Shown) -> None:
        self.zero_mm, self.height_mm, self.units = zero_mm, height_mm, units

    def xy(self, at_mm: Sequence[float]) -> list[float]:
        """Return the drawing point of a point in the files' own mm."""
        on_board = at_mm[0] + self.zero_mm[0], at_mm[1] + self.zero_mm[1]
        return drawn.point(on_board, self.height_mm)


def seen_from(job: Job, width_mm: float, height_mm: float) -> Seen:
    """Return what turns points of the files into points to draw."""
    return Seen(job.output.zero_mm(width_mm, height_mm), height_mm, job.shown_units)


def _board(width_mm: float, height_mm: float, job: Job) -> dict[str, Any]:
    units = job.shown_units
    return {
        "width_mm": width_mm,
        "height_mm": height_mm,
        "thickness_mm": job.board.thickness.mm,
        "text": f"{_plain(width_mm, units)} x {_plain(height_mm, units)}",
    }


def _plain(length_mm: float, units: Shown) -> str:
    """Return a length without its decimal twin."""
    return format_length(length_mm, units).partition(" (")[0]


def _colour(index: int, row: Mapping[str, Any], job: Job) -> dict[str, Any]:
    units = job.shown_units
    volume_ml = row["volume_ml"]
    return {
        "index": index,
        "name": row["name"],
        "hex": row["hex"],
        "role": row["role"],
        "area_text": format_area(row["area_mm2"], units),
        "area_percent": row["area_percent"],
        "volume_ml": volume_ml,
        "volume_text": None if volume_ml is None else format_volume(volume_ml, units),
        "regions": row["regions"],
        "resin": product_of(job, row["name"], row["hex"]),
    }


def seen_hex(index: int, palette: Palette) -> str | None:
    """Return ``#rrggbb`` as the palette has it; None for colours that are not the picture's."""
    return palette.colours[index].hex if index < len(palette.colours) else None


def product_of(job: Job, name: str, code: str) -> str:
    """Return the product that a colour is cast in."""
    for use in job.resin:
        if (name in use.colours or code in use.colours) and use.product:
            return use.product
    return job.mixing.resin


def _change(row: Mapping[str, Any], seen: Seen) -> str:
    """Return a widened stroke or a mended wall in words."""
    was, now = (format_length(row[key], seen.units) for key in ("was_mm", "is_mm"))
    return f"{row['colour']}: {row['kind']}, {was} became {now}"
