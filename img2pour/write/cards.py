"""``report.pdf``: a cover, and one card for each stage to hang on the wall."""

from __future__ import annotations

import io
from collections.abc import Sequence
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

from img2pour.units import format_length
from img2pour.write.pdf_parts import (
    BIG_RIGHT,
    HEAD,
    HEADED_GRID,
    MARGIN_MM,
    MARK,
    RULE,
    SMALL,
    STRONG,
    STRONG_RIGHT,
    TITLE,
    Look,
    Paper,
    boxes,
    paragraph,
    picture,
    printable,
    shortened,
    table,
)
from img2pour.write.sheet import MixSheet, PourSheet, Sheet, StageSheet
from img2pour.write.words import (
    days,
    grams,
    hours,
    millilitres,
    money,
    percent,
    plain,
    ratio,
    size,
    span,
)

FOOT_MM = 8.0
COVER_PICTURE_MM = 105.0
LEAST_PICTURE_MM = 60.0
MOST_PICTURE_MM = 115.0
SLACK_MM = 2.0
LONG = 1e5
"""More than any part takes, points."""

MOST_WARNINGS = 24
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
        title=printable(f"{sheet.title}: cards for the shop"),
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
    story = _cover(sheet, paper)
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
    canvas.setFont("Helvetica", 8)
    canvas.drawString(MARGIN_MM * mm, y, printable(sheet.title)[:70])
    canvas.drawRightString(paper.width - MARGIN_MM * mm, y, f"page {canvas.getPageNumber()}")


def _cover(sheet: Sheet, paper: Paper) -> list[Any]:
    width = paper.inner_width
    board = sheet.board
    about = [size(board.width_mm, board.height_mm, sheet.units)]
    if board.thickness_mm:
        about.append(f"{span(board.thickness_mm, sheet.units)} thick")
    about.append(f"grain {sheet.grain}")
    story = [
        paragraph(sheet.title, TITLE),
        paragraph(", ".join(about)),
        Spacer(0, 3 * mm),
        picture(sheet.finished, width, COVER_PICTURE_MM * mm),
        Spacer(0, 3 * mm),
        *_facts(sheet),
    ]
    story += _plan(sheet, sheet.pours, width) if sheet.pours else _colours(sheet, width)
    story.append(PageBreak())
    warnings = [*(sheet.pours.findings if sheet.pours else ()), *sheet.warnings]
    if warnings:
        story.append(paragraph("Before you start", HEAD))
        story += [paragraph(f"- {words}") for words in warnings[:MOST_WARNINGS]]
        if len(warnings) > MOST_WARNINGS:
            more = len(warnings) - MOST_WARNINGS
            story.append(paragraph(f"- {more} more in report.html"))
    return [*story, *_cautions(sheet, width)]


def _facts(sheet: Sheet) -> list[Any]:
    """Return what holds for every stage."""
    lines = [
        f"Zero of every drawing: {sheet.zero}. Heights are measured from the machine's bed.",
        f"Taken off at the end: {span(sheet.surface_mm, sheet.units)}.",
    ]
    if sheet.verdict:
        lost = percent(sheet.verdict.lost_percent)
        lines.insert(0, f"Verdict: {sheet.verdict.word}; {lost} of the pours is lost.")
    if sheet.bits:
        lines.append(f"Bits: {', '.join(sheet.bits)}.")
    return [paragraph(line) for line in lines]


def _plan(sheet: Sheet, pours: PourSheet, width: float) -> list[Any]:
    """Return the stages in order, and the resin in all by weight."""
    schedule = pours.schedule
    in_all = f"{days(schedule.days)} in all, {hours(schedule.machine_hours)} at the machine"
    story = [paragraph(f"In this order: {in_all}", HEAD)]
    rows = [["No.", "Stage", "Depth", "Begins on day"]]
    for stage in pours.stages:
        first = [row.day for row in schedule.rows if row.stage == stage.number]
        begins = "done" if stage.is_done else str(min(first, default=1))
        rows.append(
            [str(stage.number), _stage_name(stage), span(stage.depth_mm, sheet.units), begins]
        )
    shares = (0.08, 0.47, 0.27, 0.18)
    story.append(table(rows, [share * width for share in shares], numbers_from=2))
    if pours.products:
        story.append(paragraph("Resin in all, by weight", HEAD))
        story.append(_products(pours, width))
        story.append(paragraph(pours.data_sheet, SMALL))
    if pours.coat:
        story.append(paragraph("Seal coat, brushed in each pocket before it is poured", HEAD))
        story += _mixes([pours.coat], width)
    return story


def _products(pours: PourSheet, width: float) -> Any:
    rows = [["Resin", "Part A", "Part B", "Pigment", "In your money"]]
    rows += [
        [p.product, grams(p.a_g), grams(p.b_g), grams(p.pigment_g), money(p.cost)]
        for p in pours.products
    ]
    return table(rows, [share * width for share in (0.36, 0.16, 0.16, 0.14, 0.18)], numbers_from=1)


def _colours(sheet: Sheet, width: float) -> list[Any]:
    """Return the colours of the artwork, for a sheet without a plan of its pours."""
    rows = [["Colour", "Becomes", "Share", "Pockets hold"]]
    chips = []
    for colour in sheet.colours:
        volume = "" if colour.volume_ml is None else millilitres(colour.volume_ml)
        share = percent(colour.area_percent) if colour.layer else ""
        rows.append([colour.name, colour.role, share, volume])
        chips.append(colour.hex)
    widths = [share * (width - 5 * mm) for share in (0.4, 0.2, 0.2, 0.2)]
    return [
        paragraph("Colours", HEAD),
        table(rows, widths, numbers_from=2, chips=chips),
    ]


def _cautions(sheet: Sheet, width: float) -> list[Any]:
    """Return all cautions in two columns."""
    cells = [[paragraph(c.title, STRONG), paragraph(c.text)] for c in sheet.cautions]
    cells += [[]] * (len(cells) % 2)
    rows = [cells[at : at + 2] for at in range(0, len(cells), 2)]
    look: Look = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]
    return [paragraph("Cautions", HEAD), Table(rows, [width / 2] * 2, style=look, hAlign="LEFT")]


def _stage_name(stage: StageSheet) -> str:
    name = "Clear seal" if stage.kind == "seal" else stage.name
    return f"{name} (done)" if stage.is_done else name


def _card(sheet: Sheet, stage: StageSheet, paper: Paper) -> list[Any]:
    """Return the card of one stage, its picture as large as the rest leaves room for."""
    width = paper.inner_width
    head = [_head(stage, width), Spacer(0, 2 * mm)]
    figures = [
        Spacer(0, 2 * mm),
        _heights(sheet, stage, width),
        Spacer(0, 2 * mm),
        _pockets(sheet, stage, width),
        *_mixes(stage.mixes, width),
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
    name = paragraph(shortened(_stage_name(stage)), TITLE)
    number = paragraph(str(stage.number), TITLE.clone("number", textColor="white", alignment=1))
    file = [paragraph("Drawing in carve/", SMALL), paragraph(f"{stage.file}.dxf", STRONG)]
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
                format_length(pocket.depth_mm, "mm"),
                format_length(pocket.floor_mm, "mm"),
            ]
        )
    widths = [share * (width - 5 * mm) for share in (0.2, 0.26, 0.26, 0.13, 0.15)]
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


def _mixes(mixes: Sequence[MixSheet], width: float) -> list[Any]:
    """Return what to weigh for each pour and layer: grams only, so that nothing is confused."""
    if not mixes:
        return []
    head = ("Mix by weight, grams on a scale", "A, resin", "B, hardener", "Pigment", "A + B")
    rows = [[paragraph(head[0], STRONG), *(paragraph(words, STRONG_RIGHT) for words in head[1:])]]
    for mix in mixes:
        for batch in mix.batches:
            layer = f", layer {batch.layer}" if len(mix.batches) > 1 else ""
            cups = f", in {batch.cups} cups" if batch.cups > 1 else ""
            about = f"{mix.product}, {ratio(mix.parts_by_weight)} by weight{layer}{cups}"
            weight = batch.weight
            figures = (weight.a_g, weight.b_g, batch.pigment_g, weight.total_g)
            rows.append(
                [
                    [paragraph(shortened(mix.pour), STRONG), paragraph(about, SMALL)],
                    *(paragraph(grams(v) if v else "none", BIG_RIGHT) for v in figures),
                ]
            )
    widths = [share * width for share in (0.4, 0.15, 0.15, 0.15, 0.15)]
    done = Table(rows, widths, style=HEADED_GRID, hAlign="LEFT", repeatRows=1)
    pot = "; ".join(dict.fromkeys(f"{mix.product}: {mix.pot_life}" for mix in mixes))
    return [Spacer(0, 2 * mm), done, paragraph(pot, SMALL)]
