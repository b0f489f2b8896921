"""The cover of the cards: the piece, its stages and its resin in all, warnings and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Spacer, Table

from img2pour.write.pdf_parts import (
    BIG_RIGHT,
    HEAD,
    HEADED_GRID,
    SMALL,
    STRONG,
    STRONG_RIGHT,
    TITLE,
    Look,
    Paper,
    paragraph,
    picture,
    shortened,
    table,
)
from img2pour.write.sheet import Sheet
from img2pour.write.sheet_pours import MixSheet, PourSheet, StageSheet
from img2pour.write.typeface import SPELT_NOTE, is_spelt
from img2pour.write.words import (
    days,
    grams,
    hours,
    millilitres,
    money,
    percent,
    ratio,
    size,
    span,
)

COVER_PICTURE_MM = 105.0
MOST_WARNINGS = 24


def cover(sheet: Sheet, paper: Paper) -> list[Any]:
    """Return the cover, and on its own page what to know before starting."""
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
    warnings = sheet.warnings
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
    names = [line.name for line in sheet.colours]
    if sheet.pours:
        names += [stage.name for stage in sheet.pours.stages]
        names += [product.resin.name for product in sheet.pours.products]
    if is_spelt([sheet.title, *names]):
        lines.append(SPELT_NOTE)
    return [paragraph(line) for line in lines]


def _plan(sheet: Sheet, pours: PourSheet, width: float) -> list[Any]:
    """Return the stages in order, and the resin in all by weight."""
    schedule = pours.schedule
    in_all = f"{days(schedule.days)} in all, {hours(schedule.machine_hours)} at the machine"
    story = [paragraph(f"In this order: {in_all}", HEAD)]
    rows = [["No.", "Stage", "Depth", "Begins on day"]]
    for stage in pours.stages:
        first = [row.day for row in schedule.steps if row.stage == stage.number]
        begins = "done" if stage.is_done else str(min(first, default=1))
        rows.append(
            [str(stage.number), stage_name(stage), span(stage.depth_mm, sheet.units), begins]
        )
    shares = (0.08, 0.47, 0.27, 0.18)
    story.append(table(rows, [share * width for share in shares], numbers_from=2))
    if pours.products:
        story.append(paragraph("Resin in all, by weight", HEAD))
        story.append(_products(pours, width))
        story += [paragraph(words, SMALL) for words in (*_reserve(pours), pours.data_sheet)]
    if pours.coat:
        story.append(paragraph("Seal coat, brushed in each pocket before it is poured", HEAD))
        story += mixes_table([pours.coat], width)
    return story


def _products(pours: PourSheet, width: float) -> Any:
    rows = [["Resin", "Part A", "Part B", "Pigment", "In your money"]]
    rows += [
        [p.resin.name, grams(p.a_g), grams(p.b_g), grams(p.pigment_g), money(p.cost)]
        for p in pours.products
    ]
    return table(rows, [share * width for share in (0.36, 0.16, 0.16, 0.14, 0.18)], numbers_from=1)


def _reserve(pours: PourSheet) -> tuple[str, ...]:
    """Return what of the resin is for pinholes, each colour mixed at the end."""
    if not pours.touch_ups:
        return ()
    each = [
        f"{one.name} {grams(one.measure.a_g)} A + {grams(one.measure.b_g)} B"
        + (f" + {grams(one.measure.pigment_g)} pigment" if one.measure.pigment_g else "")
        for one in pours.touch_ups
    ]
    return (f"Of that for pinholes, mixed at the end as needed: {'; '.join(each)}.",)


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


def stage_name(stage: StageSheet) -> str:
    """Return a stage's name as people say it, and whether it is done."""
    name = "Clear seal" if stage.kind == "seal" else stage.name
    return f"{name} (done)" if stage.is_done else name


def mixes_table(mixes: Sequence[MixSheet], width: float) -> list[Any]:
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
