"""``report.pdf``: a cover, and one card for each stage to hang on the wall."""

from __future__ import annotations

import io
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import (
    BaseDocTemplate,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Spacer,
    Table,
)

from img2pour.write.cover import cover, mixes_table, stage_name
from img2pour.write.pdf_parts import (
    HEAD,
    MARGIN_MM,
    MARK,
    RULE,
    SMALL,
    STRONG,
    TITLE,
    Look,
    Paper,
    boxes,
    draw_line,
    paragraph,
    picture,
    shortened,
    table,
)
from img2pour.write.sheet import Sheet
from img2pour.write.sheet_pours import StageSheet
from img2pour.write.text import one_line
from img2pour.write.typeface import BUILT_IN, printable
from img2pour.write.words import in_one_unit, plain, span

FOOT_MM = 8.0
LEAST_PICTURE_MM = 60.0
MOST_PICTURE_MM = 115.0
SLACK_MM = 2.0
LONG = 1e5
"""More than any part takes, points."""

MOST_FILLS = 60

CARD_CAUTIONS = (
    "Data sheets, the machine's manual, local rules and trained practice go before this card. "
    "Gloves, eye protection and fresh air with resin; dust extraction, a mask and hearing "
    "protection when cutting. Check zero, bit and depth, then a first pass in air. Clamps out of "
    "the bit's way. Mix what the next minutes need: a deep cup gets hot."
)
MEASURED = (
    "Top of cut, measured",
    "Floor, measured",
    "Zero checked by",
    "Shop temperature",
    "Carved (date, hour)",
    "Poured (date, hour)",
    "Mixed, g",
    "Left over, g",
    "Thumbnail test (date, hour)",
    "Levelled (date)",
    "Pinholes to touch up",
    "Notes",
)


def report_pdf(sheet: Sheet) -> bytes:
    """Return the cover and the stages' cards as PDF; the same sheet always gives the same bytes.

    A4 where lengths are read in mm, letter where they are read in inches.
    """
    paper = Paper.of(sheet.units)
    out = io.BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=(paper.width, paper.height),
        leftMargin=MARGIN_MM * mm,
        rightMargin=MARGIN_MM * mm,
        topMargin=MARGIN_MM * mm,
        bottomMargin=(MARGIN_MM + FOOT_MM) * mm,
        title=f"{one_line(sheet.title)}: cards for the shop",
        author="img2pour",
        creator=f"img2pour {sheet.version}",
        invariant=1,
    )
    frame = Frame(
        document.leftMargin,
        document.bottomMargin,
        document.width,
        document.height,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )

    def foot(canvas: Any, _: Any) -> None:
        _foot(canvas, sheet, paper)

    document.addPageTemplates([PageTemplate("card", [frame], onPage=foot)])
    story = cover(sheet, paper)
    for stage in sheet.pours.stages if sheet.pours else ():
        story += [PageBreak(), *_card(sheet, stage, paper)]
    document.build(story)
    return out.getvalue()


def _foot(canvas: Any, sheet: Sheet, paper: Paper) -> None:
    """Draw the foot of a page: what it belongs to, and its number."""
    y = MARGIN_MM * mm
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN_MM * mm, y + 4 * mm, paper.width - MARGIN_MM * mm, y + 4 * mm)
    draw_line(canvas, (MARGIN_MM * mm, y), printable(sheet.title)[:70], 8)
    canvas.setFont(BUILT_IN[False], 8)
    canvas.drawRightString(paper.width - MARGIN_MM * mm, y, f"page {canvas.getPageNumber()}")


def _card(sheet: Sheet, stage: StageSheet, paper: Paper) -> list[Any]:
    """Return the card of one stage, its picture as large as the rest leaves room for."""
    width = paper.inner_width
    head = [_head(stage, width), Spacer(0, 2 * mm)]
    figures = [
        Spacer(0, 2 * mm),
        _heights(sheet, stage, width),
        Spacer(0, 2 * mm),
        _pockets(sheet, stage, width),
        *mixes_table(stage.mixes, width),
        *_fills(stage),
    ]
    to_write = [
        paragraph("What was measured", HEAD),
        boxes(MEASURED, width, 4),
        Spacer(0, 2 * mm),
        paragraph(CARD_CAUTIONS, SMALL),
    ]
    taken = SLACK_MM * mm + sum(_height(part, width) for part in (*head, *figures, *to_write))
    room = paper.height - (2 * MARGIN_MM + FOOT_MM) * mm - taken
    tall = min(max(room, LEAST_PICTURE_MM * mm), MOST_PICTURE_MM * mm)
    return [*head, picture(stage.picture, width, tall), *figures, KeepTogether(to_write)]


def _height(part: Any, width: float) -> float:
    """Return how much of a page a part takes, points."""
    around = float(part.getSpaceBefore()) + float(part.getSpaceAfter())
    return float(part.wrap(width, LONG)[1]) + around


def _head(stage: StageSheet, width: float) -> Any:
    """Return the card's head: its number, large, and its name."""
    name = paragraph(shortened(stage_name(stage)), TITLE)
    number = paragraph(str(stage.number), TITLE.clone("number", textColor="white", alignment=1))
    file = [paragraph("Drawing", SMALL), paragraph(shortened(stage.file), STRONG)]
    look: Look = [
        ("BACKGROUND", (0, 0), (0, 0), MARK),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LINEBELOW", (0, 0), (-1, 0), 1.2, MARK),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 7),
    ]
    widths = [16 * mm, width - 76 * mm, 60 * mm]
    return Table([[number, name, file]], widths, style=look, hAlign="LEFT")


def _heights(sheet: Sheet, stage: StageSheet, width: float) -> Any:
    """Return where the cut lies, in large figures."""
    entries = (
        ("Top of cut above the bed", span(stage.top_mm, sheet.units)),
        ("Deepest floor above the bed", span(stage.floor_mm, sheet.units)),
        ("Depth from the carved face", span(stage.depth_mm, sheet.units)),
        ("Zero, left to right and up", sheet.zero),
    )
    row = [[paragraph(label, SMALL), paragraph(value, STRONG)] for label, value in entries]
    look: Look = [
        ("BOX", (0, 0), (-1, -1), 1.0, MARK),
        ("INNERGRID", (0, 0), (-1, -1), 0.6, RULE),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ]
    return Table([row], [width / 4] * 4, style=look, hAlign="LEFT")


def _pockets(sheet: Sheet, stage: StageSheet, width: float) -> Any:
    rows = [["Carve", "Layer", "Bits", "Depth", "Floor above bed"]]
    for pocket in stage.pockets:
        rows.append(
            [
                pocket.pour,
                pocket.layer,
                ", ".join(pocket.bits),
                in_one_unit(pocket.depth_mm, sheet.units),
                in_one_unit(pocket.floor_mm, sheet.units),
            ]
        )
    widths = [share * (width - 5 * mm) for share in (0.2, 0.22, 0.31, 0.12, 0.15)]
    return table(rows, widths, numbers_from=3, chips=[pocket.hex for pocket in stage.pockets])


def _fills(stage: StageSheet) -> list[Any]:
    """Return how much goes into each numbered pocket: from the cup, and by syringe."""
    fills = [fill for mix in stage.mixes for fill in mix.fills if not fill.is_drop]
    if len(fills) < 2:
        return []
    shown = fills[:MOST_FILLS]
    parts = []
    for how, by_syringe in (("from the cup", False), ("by syringe", True)):
        own = [f"[{f.place}] {plain(f.ml)}" for f in shown if f.syringe == by_syringe]
        parts += [f"{how}: {', '.join(own)}"] if own else []
    more = f"; {len(fills) - len(shown)} more in report.html" if len(fills) > len(shown) else ""
    words = f"Ml of the mix into each numbered pocket, {'; '.join(parts)}{more}."
    return [Spacer(0, 1 * mm), paragraph(words, SMALL)]
