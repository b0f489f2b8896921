"""The work sheet from a result and, where there is one, the plan of its pours."""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from img2pour.write.dxf import DxfSettings
from img2pour.write.finished import finished_picture
from img2pour.write.losses import losses_png
from img2pour.write.make_pours import PourNames, pour_sheet
from img2pour.write.outlines import Outline
from img2pour.write.pictures import WOOD_TONE
from img2pour.write.section import Section
from img2pour.write.sheet import (
    CautionLine,
    ColourLine,
    PlaceLine,
    RemovedLine,
    Sheet,
    VerdictLine,
    VerdictSheet,
    WidthLine,
)
from img2pour.write.stage_section import Cut, stage_section
from img2pour.write.text import one_line
from img2pour.write.values import Mark, Picture, Pin, Places, Point

if TYPE_CHECKING:
    from img2pour.design import Design
    from img2pour.pours.plan_values import PourPlan
    from img2pour.results import Result

FINISHED_PX = 1400
TITLE_LENGTH = 80
NO_COLOUR = -2
"""Of what lies beyond the artwork's frame, which is face -1."""

ZERO_WORDS = {
    "corner": "the board's lower-left corner",
    "centre": "the board's centre",
    "pin": "the pin",
}
PLACE_WORDS: dict[str, str] = {
    "lost": "whole region smaller than the bit",
    "neck": "neck narrower than the bit",
    "end": "end too narrow for the bit",
    "shallow": "cut less deep than asked",
    "wall": "wall too thin to stand",
}


def sheet_of(
    result: Result,
    plan: PourPlan | None = None,
    *,
    hexes: Mapping[str, str] | None = None,
    pins: Sequence[Pin] = (),
    cut_outs: Sequence[Outline] = (),
    sections: Sequence[Section] = (),
) -> Sheet:
    """Return the work sheet of a result.

    Parameters
    ----------
    result : Result
    plan : PourPlan, optional
        Without it the sheet holds the main job alone.
    hexes : mapping of str to str, optional
        ``#rrggbb`` of each pour by name; by default that of the colour of the same name.
    pins : sequence of (x, y, diameter)
        In mm from the board's lower-left corner.
    cut_outs : sequence of Outline
        Where pieces are cut out of the blank, likewise.
    sections : sequence of Section
        Cuts through the board; with a plan and none given, one is drawn from the stages.
    """
    report = result.report
    zero_mm = result.job.output.zero_mm(result.board.width_mm, result.board.height_mm)
    places = Places(zero_mm, DxfSettings(result.job.output.dxf, result.job.shown_units).file_name)
    marks = _marks(result, zero_mm)
    names = PourNames.of(result.design.colours, hexes or {}, _ground(result))
    return Sheet(
        **_head(result),
        finished=_finished(result),
        colours=tuple(_colour(row) for row in report["colours"]),
        removed=_removed(report["removed"]),
        verdict=_verdict(report.get("verdict")),
        places=_places(marks, report, zero_mm),
        losses=_losses(result, marks) if marks or "verdict" in report else None,
        sections=tuple(sections) or _sections(result, plan, names),
        pours=None if plan is None else pour_sheet(plan, result.board, names, places),
        warnings=_warnings(result, plan),
        cautions=_cautions(),
        lines=design_lines(result.design),
        pins=tuple(pins),
        cut_outs=tuple(cut_outs),
    )


def _head(result: Result) -> dict[str, Any]:
    """Return what the sheet says of the board and of the run."""
    report, job = result.report, result.job
    return {
        "title": _title(result),
        "units": job.shown_units,
        "version": report["version"],
        "input_sha256": report["input_sha256"],
        "board": result.board,
        "zero": ZERO_WORDS[job.output.zero],
        "grain": job.board.grain,
        "depth_mm": job.carving.depth.mm,
        "surface_mm": job.carving.surface.mm,
        "bits": _bits(report),
        "tolerance_mm": report.get("tracing", {}).get("tolerance_mm"),
    }


def _sections(result: Result, plan: PourPlan | None, names: PourNames) -> tuple[Section, ...]:
    """Return a cut across the board, drawn from the stages."""
    if plan is None:
        return ()
    at = result.job.output.section
    cut = Cut(
        result.job.carving.surface.mm,
        result.walls,
        None if at is None else at.mm,
        result.job.shown_units,
    )
    return stage_section(plan, result.board, names, cut)


def _title(result: Result) -> str:
    """Return a name for the piece: that of its picture, without folders and ending."""
    file = result.job.artwork.file
    return one_line(PurePath(file).stem)[:TITLE_LENGTH] if file else "The piece"


def _bits(report: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(one_line(name) for name in report.get("carving", {}).get("bits", ()))


def _warnings(result: Result, plan: PourPlan | None) -> tuple[str, ...]:
    """Return all that a person should know, each once; a planned result tells the plan's too."""
    told = [*result.report["warnings"]]
    if plan is not None and result.planned is None:
        told += [*plan.warnings, *(finding.words for finding in plan.findings)]
    return tuple(dict.fromkeys(one_line(words) for words in told))


def _cautions() -> tuple[CautionLine, ...]:
    from img2pour.pours.cautions import CAUTIONS

    return tuple(CautionLine(caution.title, caution.text) for caution in CAUTIONS)


def _ground(result: Result) -> str:
    """Return the colour of the bare wood."""
    return next((c.hex for c in result.design.colours if c.role == "wood"), WOOD_TONE)


def _finished(result: Result) -> Picture:
    data = finished_picture(result, FINISHED_PX)
    return picture_of(data, "The finished piece, seen from above")


def _losses(result: Result, marks: Sequence[Mark]) -> Picture:
    data = losses_png(
        result.design.region_map,
        [colour.hex for colour in result.design.colours],
        result.board,
        marks,
        ground=_ground(result),
    )
    return picture_of(data, "The artwork, pale, with the numbered places marked on it")


def picture_of(png: bytes, words: str) -> Picture:
    """Return a PNG with its size and what it shows."""
    width, height = struct.unpack(">II", png[16:24])  # PNG, 11.2.1: the first chunk's data
    return Picture(png, width, height, words)


def _colour(row: Mapping[str, Any]) -> ColourLine:
    return ColourLine(
        name=row["name"],
        hex=row["hex"],
        role=row["role"],
        layer=row["layer"],
        area_mm2=row["area_mm2"],
        area_percent=row["area_percent"],
        regions=row["regions"],
        volume_ml=row["volume_ml"],
    )


def _removed(rows: Sequence[Mapping[str, Any]]) -> tuple[RemovedLine, ...]:
    """Return what was taken out, gathered by colour and reason."""
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for row in rows:
        groups.setdefault((row["colour"], row["reason"]), []).append(row)
    return tuple(
        RemovedLine(
            colour,
            reason,
            len(own),
            sum(row["area_mm2"] for row in own),
            tuple((row["at_mm"][0], row["at_mm"][1]) for row in own),
        )
        for (colour, reason), own in groups.items()
    )


def _verdict(data: Mapping[str, Any] | None) -> VerdictSheet | None:
    if data is None:
        return None
    return VerdictSheet(
        word=data["word"],
        accepted=data["accepted"],
        lost_percent=data["lost_percent"],
        colours=tuple(
            VerdictLine(
                row["name"],
                row["kept_percent"],
                row["islands_lost"],
                row["necks"] + row["ends"],
                row["thinnest_stroke_mm"],
                row["thinnest_wall_mm"],
            )
            for row in data["colours"]
        ),
        advice=tuple(one_line(line) for line in data["advice"]),
        widths=tuple(
            WidthLine(row["width_mm"], row["lost_percent"], row["volume_ml"], row["minutes"])
            for row in data["ladder"]
        ),
    )


def _marks(result: Result, zero_mm: Point) -> list[Mark]:
    """Return the numbered places on the board: the verdict's, else what was removed."""
    if result.verdict is not None:
        return list(result.marks)
    return _removed_marks(result.report["removed"], zero_mm)


def _places(
    marks: Sequence[Mark], report: Mapping[str, Any], zero_mm: Point
) -> tuple[PlaceLine, ...]:
    """Return the list of the numbered places, measured from the zero."""
    rows = report["verdict"]["places"] if "verdict" in report else report["removed"]
    return tuple(
        PlaceLine(
            mark.number,
            _place_words(mark.kind, row.get("colour"), row.get("piece")),
            (mark.at_mm[0] - zero_mm[0], mark.at_mm[1] - zero_mm[1]),
            mark.size_mm,
        )
        for mark, row in zip(marks, rows, strict=True)
    )


def _place_words(kind: str, colour: str | None, piece: str | None) -> str:
    words = PLACE_WORDS.get(kind, kind) + (f" ({piece})" if piece else "")
    return f"{colour}: {words}" if colour else words


def _removed_marks(rows: Sequence[Mapping[str, Any]], zero_mm: Point) -> list[Mark]:
    """Return the removed regions as marks; their size is that of a disc of the same area."""
    return [
        Mark(
            number,
            "lost",
            (row["at_mm"][0] + zero_mm[0], row["at_mm"][1] + zero_mm[1]),
            2.0 * float(np.sqrt(row["area_mm2"] / np.pi)),
        )
        for number, row in enumerate(rows, 1)
    ]


def design_lines(design: Design) -> tuple[Outline, ...]:
    """Return every boundary of the design once; the artwork's frame only where it bounds a pour."""
    region_map = design.region_map
    poured = {index for index, colour in enumerate(design.colours) if colour.role == "pour"}
    colours = [*region_map.face_colours.tolist(), NO_COLOUR]
    found = []
    for index, (left, right) in enumerate(region_map.arc_faces.tolist()):
        sides = {colours[left], colours[right]}
        if len(sides) > 1 and (NO_COLOUR not in sides or sides & poured):
            found.append(Outline(*region_map.arc(index), closed=False))
    return tuple(found)
