"""``template.pdf``: the outlines at true scale, tiled over sheets that are joined by crosses."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from img2pour.write.outlines import Outline
from img2pour.write.pdf_parts import Paper, printable
from img2pour.write.sheet import Pin, Sheet
from img2pour.write.words import plain, size

MARGIN_MM = 12.0
"""Most printers leave less than this; common practice, no source."""

FOOT_MM = 8.0
OVERLAP_MM = 12.0
CROSS_MM = 4.0
CHECK_MM = 100.0
LINE_MM = 0.2
AROUND_MM = 3.0
"""Paper shown beyond the board and the pins."""

FEWEST_SEGMENTS = 1
QUARTER = math.pi / 2

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Tile:
    """One sheet of the template: its row from the top, its column, and the area it shows."""

    row: int
    column: int
    box: Box


@dataclass(frozen=True)
class Tiling:
    """How the drawing is cut into sheets.

    Attributes
    ----------
    width, height : float
        Of the paper, points; turned where that takes fewer sheets.
    tiles : tuple of Tile
    rows, columns : int
    """

    width: float
    height: float
    tiles: tuple[Tile, ...]
    rows: int
    columns: int


def tile_over(area: Box, paper: Paper) -> Tiling:
    """Return the sheets that cover an area, mm, each overlapping the next by `OVERLAP_MM`."""
    upright = _tiling(area, paper.width, paper.height)
    across = _tiling(area, paper.height, paper.width)
    return across if len(across.tiles) < len(upright.tiles) else upright


def _tiling(area: Box, width: float, height: float) -> Tiling:
    wide = width / mm - 2 * MARGIN_MM
    tall = height / mm - 2 * MARGIN_MM - FOOT_MM
    columns = _count(area[2] - area[0], wide)
    rows = _count(area[3] - area[1], tall)
    left = area[0] - (wide + (columns - 1) * (wide - OVERLAP_MM) - (area[2] - area[0])) / 2
    top = area[3] + (tall + (rows - 1) * (tall - OVERLAP_MM) - (area[3] - area[1])) / 2
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x = left + column * (wide - OVERLAP_MM)
            y = top - row * (tall - OVERLAP_MM) - tall
            tiles.append(Tile(row, column, (x, y, x + wide, y + tall)))
    return Tiling(width, height, tuple(tiles), rows, columns)


def _count(length: float, sheet: float) -> int:
    return max(1, math.ceil((length - OVERLAP_MM) / (sheet - OVERLAP_MM) - 1e-9))


def template_pdf(sheet: Sheet) -> bytes:
    """Return the template as PDF: a sheet with the check square first, then the tiles.

    A4 where lengths are read in mm, letter where they are read in inches.
    """
    paper = Paper.of(sheet.units)
    tiling = tile_over(_area(sheet), paper)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(paper.width, paper.height), invariant=1, pageCompression=1)
    canvas.setTitle(printable(f"{sheet.title}: template at true scale"))
    canvas.setCreator(f"img2pour {sheet.version}")
    canvas.setViewerPreference("PrintScaling", "None")
    _first_sheet(canvas, sheet, tiling, paper)
    for number, tile in enumerate(tiling.tiles, 2):
        canvas.setPageSize((tiling.width, tiling.height))
        _tile_sheet(canvas, sheet, tiling, tile, number)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _area(sheet: Sheet) -> Box:
    """Return what the template shows: the board and the pins, with some paper around."""
    left = min([0.0, *(x - d / 2 for x, _, d in sheet.pins)]) - AROUND_MM
    low = min([0.0, *(y - d / 2 for _, y, d in sheet.pins)]) - AROUND_MM
    right = max([sheet.board.width_mm, *(x + d / 2 for x, _, d in sheet.pins)]) + AROUND_MM
    high = max([sheet.board.height_mm, *(y + d / 2 for _, y, d in sheet.pins)]) + AROUND_MM
    return left, low, right, high


def _first_sheet(canvas: Any, sheet: Sheet, tiling: Tiling, paper: Paper) -> None:
    """Draw what to do, the check square, and how the sheets lie."""
    x, y = MARGIN_MM * mm, paper.height - MARGIN_MM * mm - 18
    canvas.setFont("Helvetica-Bold", 18)
    canvas.drawString(x, y, printable(f"{sheet.title}: template")[:60])
    canvas.setFont("Helvetica", 10)
    board = size(sheet.board.width_mm, sheet.board.height_mm, sheet.units)
    count = len(tiling.tiles)
    for line in (
        f"Board {board}, at true scale on {count} {'sheet' if count == 1 else 'sheets'} "
        f"of {paper.name} paper after this one.",
        "Print at 100 %, with scaling off (no 'fit to page').",
        f"First measure the square below: both sides must be {CHECK_MM:g} mm "
        f"({plain(CHECK_MM / 25.4, 3)} in).",
        "If they are not, the sheets are of no use: change the printer's setting.",
        "Cut each sheet along its frame on two sides, lay cross on cross, and tape.",
    ):
        y -= 14
        canvas.drawString(x, y, printable(line))
    y -= 12 + CHECK_MM * mm
    _check_square(canvas, x, y)
    _overview(canvas, sheet, tiling, (x, MARGIN_MM * mm, paper.width - x, y - 24))
    canvas.showPage()


def _check_square(canvas: Any, x: float, y: float) -> None:
    """Draw the square; its sides run along the middles of its lines."""
    canvas.setLineWidth(LINE_MM * mm)
    canvas.rect(x, y, CHECK_MM * mm, CHECK_MM * mm)
    canvas.setFont("Helvetica", 9)
    middle = x + CHECK_MM * mm / 2
    canvas.drawCentredString(middle, y + CHECK_MM * mm / 2, "100 mm x 100 mm: measure me first")
    for step in range(1, 10):
        tick = (4.0 if step == 5 else 2.0) * mm
        canvas.line(x + step * 10 * mm, y, x + step * 10 * mm, y + tick)
        canvas.line(x, y + step * 10 * mm, x + tick, y + step * 10 * mm)


def _overview(canvas: Any, sheet: Sheet, tiling: Tiling, room: Box) -> None:
    """Draw how the sheets lie on the board, each with its page number."""
    boxes = [tile.box for tile in tiling.tiles]
    left, low = min(b[0] for b in boxes), min(b[1] for b in boxes)
    right, high = max(b[2] for b in boxes), max(b[3] for b in boxes)
    scale = min((room[2] - room[0]) / (right - left), (room[3] - room[1]) / (high - low))
    canvas.saveState()
    canvas.translate(room[0], room[3] - (high - low) * scale)
    canvas.scale(scale, scale)
    canvas.translate(-left, -low)
    canvas.setLineWidth(0.3 / scale)
    canvas.setStrokeGray(0.45)
    for outline in sheet.lines:
        _draw_outline(canvas, outline)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(1.0 / scale)
    canvas.rect(0, 0, sheet.board.width_mm, sheet.board.height_mm)
    canvas.setLineWidth(0.6 / scale)
    canvas.setDash([3 / scale, 2 / scale])
    canvas.setFont("Helvetica-Bold", 12 / scale)
    for number, box in enumerate(boxes, 2):
        canvas.rect(box[0], box[1], box[2] - box[0], box[3] - box[1])
        canvas.drawString(box[0] + 14 / scale, box[3] - 24 / scale, str(number))
    canvas.restoreState()


def _tile_sheet(canvas: Any, sheet: Sheet, tiling: Tiling, tile: Tile, number: int) -> None:
    """Draw one sheet of the template."""
    left, low, right, high = tile.box
    canvas.setFont("Helvetica", 9)
    foot = (
        f"page {number}: row {tile.row + 1} of {tiling.rows}, column {tile.column + 1} of "
        f"{tiling.columns}, true scale, origin at the board's lower-left corner"
    )
    canvas.drawString(MARGIN_MM * mm, MARGIN_MM * mm, printable(f"{sheet.title[:40]}, {foot}"))
    canvas.saveState()
    canvas.translate(MARGIN_MM * mm, (MARGIN_MM + FOOT_MM) * mm)
    canvas.scale(mm, mm)
    frame = canvas.beginPath()
    frame.rect(0, 0, right - left, high - low)
    canvas.setLineWidth(LINE_MM / 2)
    canvas.setStrokeGray(0.5)
    canvas.drawPath(frame)
    canvas.clipPath(frame, stroke=0, fill=0)
    canvas.translate(-left, -low)
    _crosses(canvas, tile, tiling)
    _drawing(canvas, sheet, tile.box)
    canvas.restoreState()


def _crosses(canvas: Any, tile: Tile, tiling: Tiling) -> None:
    """Draw crosses in the middle of each overlap: the same place on both sheets."""
    left, low, right, high = tile.box
    half = OVERLAP_MM / 2
    xs = [left + half] if tile.column else []
    xs += [right - half] if tile.column + 1 < tiling.columns else []
    ys = [low + half] if tile.row + 1 < tiling.rows else []
    ys += [high - half] if tile.row else []
    along_x = [left + (right - left) * share for share in (0.25, 0.75)]
    along_y = [low + (high - low) * share for share in (0.25, 0.75)]
    places = {(x, y) for x in xs for y in [*ys, *along_y]}
    places |= {(x, y) for y in ys for x in along_x}
    canvas.setStrokeGray(0)
    canvas.setLineWidth(LINE_MM)
    for x, y in sorted(places):
        canvas.line(x - CROSS_MM, y, x + CROSS_MM, y)
        canvas.line(x, y - CROSS_MM, x, y + CROSS_MM)
        canvas.circle(x, y, CROSS_MM / 2)


def _drawing(canvas: Any, sheet: Sheet, box: Box) -> None:
    """Draw the board, the outlines that a sheet shows, and the pins."""
    canvas.setStrokeGray(0)
    canvas.setLineWidth(LINE_MM)
    for outline in sheet.lines:
        if _meets(outline, box):
            _draw_outline(canvas, outline)
    canvas.setLineWidth(2 * LINE_MM)
    canvas.rect(0, 0, sheet.board.width_mm, sheet.board.height_mm)
    canvas.setLineWidth(LINE_MM)
    for pin in sheet.pins:
        _draw_pin(canvas, pin)


def _meets(outline: Outline, box: Box) -> bool:
    """Tell whether an outline may show in a box; its arcs reach beyond its points."""
    low, high = outline.vertices.min(axis=0), outline.vertices.max(axis=0)
    reach = float(max(high - low)) if outline.bulges.any() else 0.0
    apart_x = high[0] + reach < box[0] or low[0] - reach > box[2]
    apart_y = high[1] + reach < box[1] or low[1] - reach > box[3]
    return not (apart_x or apart_y)


def _draw_pin(canvas: Any, pin: Pin) -> None:
    x, y, diameter = pin
    canvas.circle(x, y, diameter / 2)
    canvas.line(x - diameter, y, x + diameter, y)
    canvas.line(x, y - diameter, x, y + diameter)
    canvas.setFont("Helvetica", 3.5)
    canvas.drawString(x + diameter * 0.6, y + diameter * 0.6, f"pin {plain(diameter, 2)} mm")


def _draw_outline(canvas: Any, outline: Outline) -> None:
    """Draw lines and arcs; an arc becomes curves of at most a quarter turn."""
    points, bulges = outline.vertices.tolist(), outline.bulges.tolist()
    path = canvas.beginPath()
    path.moveTo(*points[0])
    ends = [*points[1:], points[0]] if outline.closed else points[1:]
    for start, end, bulge in zip(points, ends, bulges, strict=False):
        if bulge == 0.0:
            path.lineTo(*end)
            continue
        for controls in arc_curves(start, end, bulge):
            path.curveTo(*controls)
    if outline.closed:
        path.close()
    canvas.drawPath(path)


def arc_curves(
    start: Sequence[float], end: Sequence[float], bulge: float
) -> Iterator[tuple[float, float, float, float, float, float]]:
    """Yield an arc as cubic curves: two control points and an end each.

    The handles of a curve over an angle t are 4/3 tan(t/4) r long, which leaves less than
    0.03 % of the radius for a quarter turn (a closed form).
    """
    angle = 4.0 * math.atan(bulge)
    chord_x, chord_y = end[0] - start[0], end[1] - start[1]
    # The centre lies beside the chord's middle, on the left where the arc turns to the left.
    offset = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre_x = (start[0] + end[0]) / 2 - chord_y * offset
    centre_y = (start[1] + end[1]) / 2 + chord_x * offset
    first = math.atan2(start[1] - centre_y, start[0] - centre_x)
    radius = math.hypot(start[0] - centre_x, start[1] - centre_y)
    count = max(FEWEST_SEGMENTS, math.ceil(abs(angle) / QUARTER - 1e-9))
    step = angle / count
    handle = 4.0 / 3.0 * math.tan(step / 4.0) * radius
    for index in range(count):
        one, two = first + index * step, first + (index + 1) * step
        x0, y0 = centre_x + radius * math.cos(one), centre_y + radius * math.sin(one)
        x3, y3 = centre_x + radius * math.cos(two), centre_y + radius * math.sin(two)
        yield (
            x0 - handle * math.sin(one),
            y0 + handle * math.cos(one),
            x3 + handle * math.sin(two),
            y3 - handle * math.cos(two),
            x3,
            y3,
        )
