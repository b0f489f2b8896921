"""``compare.html`` and ``compare.csv``: try-outs side by side on one page."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

import shapely

from img2pour.compare import Compared, rows_of
from img2pour.pours.geometry import dilate, polygons_of, union
from img2pour.results import ground_colour
from img2pour.units import Shown
from img2pour.write.html import page_environment
from img2pour.write.make_pours import wet_hex
from img2pour.write.pictures import Canvas, look_png
from img2pour.write.text import cell_text, one_line
from img2pour.write.values import Picture

if TYPE_CHECKING:
    from img2pour.results import Result

PAGE, TABLE = "compare.html", "compare.csv"
LONGEST_PX = 900
LOST_HEX = "#d6006c"
SEEN_MM = 0.6
"""What is lost is drawn wider by this on all sides: much of it is finer than a pixel."""
LEAST_MM2 = 0.01
"""Smaller slivers come from the last bits of coordinates."""

_DECIMALS = {
    "board_width_mm": 2,
    "board_height_mm": 2,
    "machine_hours": 2,
    "resin_ml": 1,
    "resin_fl_oz": 2,
    "cost": 2,
    "wished_mm2": 1,
    "lost_mm2": 2,
    "lost_percent": 3,
}


def compare_files(compared: Sequence[Compared]) -> dict[str, bytes]:
    """Return the page and the table by name."""
    return {PAGE: compare_html(compared), TABLE: compare_csv(compared)}


def compare_html(compared: Sequence[Compared]) -> bytes:
    """Return the page: a table of the figures, then a picture of each try-out."""
    units: Shown = compared[0].tryout.job.shown_units
    page = page_environment().get_template("compare.html.jinja")
    text = page.render(
        units=units,
        items=[
            {
                "title": title_of(one),
                "figures": one.figures,
                "board": one.result.board,
                "picture": _picture(one.result),
                "warnings": [one_line(words) for words in one.result.warnings],
            }
            for one in compared
        ],
    )
    return text.encode()


def title_of(one: Compared) -> str:
    """Return what a try-out is called on the page."""
    return one_line(f"{one.tryout.job_name}: {one.tryout.change}")


def compare_csv(compared: Sequence[Compared]) -> bytes:
    """Return the figures as a table: commas, a head line, UTF-8, line ends as RFC 4180."""
    rows = rows_of(compared)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(rows[0])
    for row in rows:
        writer.writerow([_cell(name, value) for name, value in row.items()])
    return out.getvalue().encode()


def _cell(name: str, value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.{_DECIMALS[name]}f}"
    return cell_text(str(value))


def _picture(result: Result) -> Picture:
    """Return what shows at the end, with what is lost in a loud colour."""
    ground = ground_colour(result.design)
    shapes, fills = _shown(result, ground)
    data = look_png(shapes, fills, result.board, ground=ground, longest_side_px=LONGEST_PX)
    canvas = Canvas.of(result.board, LONGEST_PX)
    return Picture(data, canvas.width_px, canvas.height_px, "What shows at the end")


def _shown(result: Result, ground: str) -> tuple[list[shapely.Geometry], list[str]]:
    """Return the shapes of the last look and their colours, then what is lost."""
    planned = result.planned
    if planned is None or not planned.plan.looks:
        return [], []
    look = planned.plan.looks[-1]
    lost = union(
        dilate(part, SEEN_MM, 4)
        for loss in planned.plan.losses
        for part in polygons_of(loss.lost)
        if part.area >= LEAST_MM2
    )
    shapes = [shape.difference(lost) for shape in look.shapes]
    fills = [planned.hexes.get(name, wet_hex(ground)) for name in look.names]
    return [*shapes, lost], [*fills, LOST_HEX]
