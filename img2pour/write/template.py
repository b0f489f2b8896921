"""``template.pdf``: the outlines at true scale, tiled over sheets that are joined by crosses."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from img2pour.units import MM_PER_INCH, Shown
from img2pour.write.pdf_lines import draw_outline
from img2pour.write.pdf_parts import Paper, draw_line
from img2pour.write.sheet import Sheet
from img2pour.write.text import one_line
from img2pour.write.tiles import (
    FOOT_MM,
    MARGIN_MM,
    OVERLAP_MM,
    Box,
    Lines,
    Tile,
    Tiling,
    area_of,
    shown_tiles,
    tile_over,
)
from img2pour.write.typeface import BUILT_IN, SPELT_NOTE, face_of, is_spelt, printable
from img2pour.write.values import Pin
from img2pour.write.words import place, plain, size, span

CROSS_MM = 4.0
CHECK_MM = 100.0
LINE_MM = 0.2


@dataclass(frozen=True, eq=False)
class Drawing:
    """What is drawn: the sheet of values, its lines, and the sheets of paper with something on."""

    sheet: Sheet
    lines: Lines
    tiling: Tiling
    shown: tuple[Tile, ...]
    paper: Paper


def template_pdf(sheet: Sheet) -> bytes:
    """Return the template as PDF: a sheet with the check square first, then the tiles.

    A4 where lengths are read in mm, letter where they are read in inches.
    """
    paper, lines = Paper.of(sheet.units), Lines.of(sheet.lines)
    tiling = tile_over(area_of(sheet), paper)
    drawing = Drawing(sheet, lines, tiling, shown_tiles(sheet, lines, tiling), paper)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(paper.width, paper.height), invariant=1, pageCompression=1)
    canvas.setTitle(f"{one_line(sheet.title)}: template at true scale")
    canvas.setCreator(f"img2pour {sheet.version}")
    canvas.setViewerPreference("PrintScaling", "None")
    _first_sheet(canvas, drawing)
    for number, tile in enumerate(drawing.shown, 2):
        canvas.setPageSize((tiling.width, tiling.height))
        _tile_sheet(canvas, drawing, tile, number)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _first_sheet(canvas: Any, drawing: Drawing) -> None:
    """Draw what to do, the check square, and how the sheets lie."""
    sheet, paper = drawing.sheet, drawing.paper
    x, y = MARGIN_MM * mm, paper.height - MARGIN_MM * mm - 18
    title = printable(f"{sheet.title}: template")[:60]
    canvas.setFont(face_of(title, bold=True), 18)
    canvas.drawString(x, y, title)
    board = size(sheet.board.width_mm, sheet.board.height_mm, sheet.units)
    count = len(drawing.shown)
    for line in (
        f"Board {board}, at true scale on {count} {'sheet' if count == 1 else 'sheets'} "
        f"of {paper.name} paper after this one.",
        "Print at 100 %, with scaling off (no 'fit to page').",
        f"First measure the square below: both sides must be {CHECK_MM:g} mm "
        f"({plain(CHECK_MM / MM_PER_INCH, 3)} in).",
        "If they are not, the sheets are of no use: change the printer's setting.",
        "Cut each sheet along its frame on two sides, lay cross on cross, and tape.",
        *([SPELT_NOTE] if is_spelt([sheet.title]) else []),
    ):
        y -= 14
        draw_line(canvas, (x, y), line, 10)
    y -= 12 + CHECK_MM * mm
    _check_square(canvas, x, y)
    _overview(canvas, drawing, (x, MARGIN_MM * mm, paper.width - x, y - 24))
    canvas.showPage()


def _check_square(canvas: Any, x: float, y: float) -> None:
    """Draw the square; its sides run along the middles of its lines."""
    canvas.setLineWidth(LINE_MM * mm)
    canvas.rect(x, y, CHECK_MM * mm, CHECK_MM * mm)
    canvas.setFont(BUILT_IN[False], 9)
    middle = x + CHECK_MM * mm / 2
    canvas.drawCentredString(middle, y + CHECK_MM * mm / 2, "100 mm x 100 mm: measure me first")
    for step in range(1, 10):
        tick = (4.0 if step == 5 else 2.0) * mm
        canvas.line(x + step * 10 * mm, y, x + step * 10 * mm, y + tick)
        canvas.line(x, y + step * 10 * mm, x + tick, y + step * 10 * mm)


def _overview(canvas: Any, drawing: Drawing, room: Box) -> None:
    """Draw how the sheets lie on the board, each with its page number."""
    sheet, boxes = drawing.sheet, [tile.box for tile in drawing.shown]
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
        draw_outline(canvas, outline)
    canvas.setStrokeGray(0)
    for outline in sheet.cut_outs:
        draw_outline(canvas, outline)
    canvas.setLineWidth(1.0 / scale)
    canvas.rect(0, 0, sheet.board.width_mm, sheet.board.height_mm)
    canvas.setLineWidth(0.6 / scale)
    canvas.setDash([3 / scale, 2 / scale])
    canvas.setFont(BUILT_IN[True], 12 / scale)
    for number, box in enumerate(boxes, 2):
        canvas.rect(box[0], box[1], box[2] - box[0], box[3] - box[1])
        canvas.drawString(box[0] + 14 / scale, box[3] - 24 / scale, str(number))
    canvas.restoreState()


def _tile_sheet(canvas: Any, drawing: Drawing, tile: Tile, number: int) -> None:
    """Draw one sheet of the template."""
    left, low, right, high = tile.box
    tiling = drawing.tiling
    units = drawing.sheet.units
    foot = (
        f"{drawing.sheet.title[:40]}, page {number}: row {tile.row + 1} of {tiling.rows}, column "
        f"{tile.column + 1} of {tiling.columns}, true scale; from {place((left, low), units)} to "
        f"{place((right, high), units)}"
    )
    draw_line(canvas, (MARGIN_MM * mm, MARGIN_MM * mm), printable(foot), 8)
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
    _lines(canvas, drawing, tile.box)
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


def _lines(canvas: Any, drawing: Drawing, box: Box) -> None:
    """Draw the board, the outlines that a sheet may show, cut-outs strong, and the pins."""
    canvas.setStrokeGray(0)
    canvas.setLineWidth(LINE_MM)
    sheet = drawing.sheet
    for outline in drawing.lines.within(box):
        draw_outline(canvas, outline)
    canvas.setLineWidth(2 * LINE_MM)
    for outline in Lines.of(sheet.cut_outs).within(box):
        draw_outline(canvas, outline)
    canvas.rect(0, 0, sheet.board.width_mm, sheet.board.height_mm)
    canvas.setLineWidth(LINE_MM)
    for pin in sheet.pins:
        _draw_pin(canvas, pin, sheet.units)


def _draw_pin(canvas: Any, pin: Pin, units: Shown) -> None:
    x, y, diameter = pin
    canvas.circle(x, y, diameter / 2)
    canvas.line(x - diameter, y, x + diameter, y)
    canvas.line(x, y - diameter, x, y + diameter)
    canvas.setFont(BUILT_IN[False], 3.5)
    canvas.drawString(x + diameter * 0.6, y + diameter * 0.6, f"pin {span(diameter, units)}")
