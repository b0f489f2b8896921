"""The verdict on a design: what the judge is given, and its findings as data, marks and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from img2pour.bit_work import rough_first
from img2pour.board_edges import carried_regions, frame_of
from img2pour.carve.pockets import PocketSettings
from img2pour.carve.reach import Finding
from img2pour.carve.verdict import Advice, CheckSettings, Verdict, check
from img2pour.carve.verdict import Design as Judged
from img2pour.carve.verdict import Shelf as JudgedShelf
from img2pour.carve.walls import Wall, WallLimits
from img2pour.design import Design, roles_of
from img2pour.job.bit_table import load_bit_table
from img2pour.job.shelf import settle_walls
from img2pour.units import Shown, format_length
from img2pour.write.values import Board, Mark, Places

if TYPE_CHECKING:
    from pathlib import Path

    from img2pour.bit_work import Work
    from img2pour.job.model import Job
    from img2pour.job.shelf import Shelf
    from img2pour.sizing import Sizing

JUDGED_SAGITTA_MM = 0.01
"""Chords that fine stand for arcs: widths are judged to 0.02 mm."""

GRAIN_DEG = {"horizontal": 0.0, "vertical": 90.0}


@dataclass(frozen=True)
class Known:
    """What earlier steps found about the design.

    Attributes
    ----------
    works : mapping of int to tuple of BitWork
        What each bit does in the pockets of each colour in the end.
    standing : tuple of int
        Faces that no bit cuts to shape, since pours around them leave them standing.
    """

    works: Work
    standing: tuple[int, ...] = ()


def judge(
    design: Design,
    known: Known,
    sizing: Sizing,
    shelf: Shelf,
    job: Job,
    base: Path,
) -> Verdict:
    """Return the verdict on a design as drawn, before anything is dropped from it.

    Parameters
    ----------
    design : Design
    known : Known
    sizing : Sizing
    shelf : Shelf
    job : Job
    base : Path
        Folder from which the job's table of bits is seen.
    """
    polygons = design.polygons(JUDGED_SAGITTA_MM)
    colours = design.region_map.face_colours
    poured = np.isin(colours, roles_of(design.colours, "pour"))
    poured[list(known.standing)] = False
    board = Board(sizing.width_mm, sizing.height_mm)
    frame = frame_of(board)
    wood = _wood(design, polygons, frame)
    regions = polygons[poured]
    own = [design.colours[index] for index in colours[poured].tolist()]
    bits = [shelf.for_colour(colour.name, colour.hex) for colour in own]
    carried = carried_regions(regions, colours[poured], bits, board, job)
    volumes_mm3 = {
        colour: sum(one.removed_mm3 for one in bits) for colour, bits in known.works.items()
    }
    judged = Judged(regions, colours[poured], wood, frame, carried, volumes_mm3)
    return check(judged, _bits(design, shelf, job, base), check_settings(job, shelf))


def _wood(design: Design, polygons: np.ndarray, frame: shapely.Polygon) -> np.ndarray:
    """Return the pieces of wood: wood regions and the board around the artwork, joined."""
    art = shapely.box(*design.region_map.bounds)
    margin = shapely.get_parts(shapely.difference(frame, art))
    wood = polygons[design.faces_of("wood")] if design.faces_of("wood") else polygons[:0]
    whole = shapely.union_all(np.concatenate([wood, margin]))
    parts = shapely.get_parts(whole)
    pieces: np.ndarray = parts[shapely.area(parts) > 0]
    return pieces


def _bits(design: Design, shelf: Shelf, job: Job, base: Path) -> JudgedShelf:
    """Return the shelf by index of colour, and the table's other bits as bits to add."""
    own = {
        index: rough_first(shelf.for_colour(colour.name, colour.hex))
        for index, colour in enumerate(design.colours)
    }
    table = load_bit_table(base / job.bits.table if job.bits.table else None)
    deep = [bit for bit in table if bit.cutting_length_mm >= job.carving.depth.mm]
    names = {bit.name for bit in shelf.bits}
    return JudgedShelf(
        rough_first(shelf.bits), own, tuple(bit for bit in deep if bit.name not in names)
    )


def check_settings(job: Job, shelf: Shelf) -> CheckSettings:
    """Return how strictly the job wants to be judged."""
    limits, carving = job.limits, job.carving
    return CheckSettings(
        PocketSettings(carving.depth.mm, carving.surface.mm, settle_walls(job, shelf.bits)),
        limits.least_depth.mm,
        wall_limits(job),
        limits.accept_loss,
    )


def wall_limits(job: Job) -> WallLimits:
    """Return the job's limits for walls."""
    limits = job.limits
    return WallLimits(
        limits.least_wall_along.mm,
        limits.least_wall_across.mm,
        limits.least_wall_filled.mm,
        limits.least_wall_resin.mm,
        GRAIN_DEG[job.board.grain],
    )


def marks_of(verdict: Verdict) -> tuple[Mark, ...]:
    """Return the numbered places of a verdict: findings colour by colour, then walls."""
    kinds = {"island": "lost", "neck": "neck", "end": "end"}
    marks: list[Mark] = []
    for finding in verdict.findings:
        kind: Any = "shallow" if finding.shallow else kinds[finding.kind]
        marks.append(Mark(len(marks) + 1, kind, finding.at_mm, finding.width_mm))
    for wall in verdict.walls:
        marks.append(Mark(len(marks) + 1, "wall", wall.at_mm, wall.width_mm))
    return tuple(marks)


def verdict_data(verdict: Verdict, design: Design, units: Shown, seen: Places) -> dict[str, object]:
    """Return a verdict as the report states it."""
    names = [colour.name for colour in design.colours]
    return {
        "word": verdict.word,
        "accepted": verdict.is_carvable,
        "lost_percent": 100 * verdict.lost_share,
        "colours": [
            {
                "name": names[line.reach.colour],
                "kept_percent": 100 * line.reach.kept_share,
                "islands_lost": line.reach.count("island"),
                "necks": line.reach.count("neck"),
                "ends": line.reach.count("end"),
                "rounded_corners_mm2": line.reach.corners_mm2,
                "lost_mm2": line.reach.lost_mm2,
                "volume_ml": line.volume_mm3 / 1000,
                "thinnest_stroke_mm": line.reach.thinnest_mm,
                "thinnest_wall_mm": line.thinnest_wall_mm,
            }
            for line in verdict.colours
        ],
        "places": places_data(verdict, names, seen),
        "advice": advice_lines(verdict.advice, units),
        "ladder": [
            {
                "width_mm": step.width_mm,
                "lost_percent": 100 * (1 - step.kept_share),
                "islands_lost": step.islands,
                "necks": step.necks,
                "volume_ml": step.volume_mm3 / 1000,
                "minutes": step.minutes,
            }
            for step in verdict.advice.ladder
        ],
    }


def places_data(verdict: Verdict, names: Sequence[str], seen: Places) -> list[dict[str, object]]:
    """Return the numbered places with what is wrong there, in the order of the marks."""
    things: list[Finding | Wall] = [*verdict.findings, *verdict.walls]
    return [
        {"number": number, "at_mm": seen.seen(thing.at_mm), **_place(thing, names)}
        for number, thing in enumerate(things, start=1)
    ]


def _place(thing: Finding | Wall, names: Sequence[str]) -> dict[str, object]:
    """Return what is said of one place."""
    if isinstance(thing, Finding):
        return {
            "kind": thing.kind,
            "colour": names[thing.colour],
            "width_mm": thing.width_mm,
            "length_mm": thing.length_mm,
            "lost_mm2": thing.area_mm2,
            "shallow": thing.shallow,
        }
    return {
        "kind": thing.kind,
        "width_mm": thing.width_mm,
        "least_mm": thing.least_mm,
        "length_mm": thing.length_mm,
        "across_grain": thing.across_grain,
    }


def advice_lines(advice: Advice, units: Shown) -> list[str]:
    """Return the advice in plain words with its numbers."""

    def shown(length_mm: float) -> str:
        return format_length(length_mm, units)

    lines = []
    if advice.whole_width_mm is not None:
        lines.append(f"every stroke is kept from a board width of {shown(advice.whole_width_mm)}")
    if advice.most_width_mm is not None:
        lines.append(f"99 % is kept from a board width of {shown(advice.most_width_mm)}")
    if advice.largest_flat_mm is not None:
        size = shown(advice.largest_flat_mm)
        lines.append(f"the largest flat bit that keeps 99 % at this size is {size}")
    gain = advice.gain
    if gain is not None:
        won = 100 * (gain.kept_after - gain.kept_before)
        lines.append(
            f"adding {gain.bit} would keep {won:.1f} % more of the pours "
            f"(it cuts {gain.slenderness:.1f} times as deep as it is wide: mind that it may break)"
        )
    return lines
