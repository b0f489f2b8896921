"""From a design and a job to the plan of the pours: what the planner is told, and by which bits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import shapely

from img2pour.colour import lab_from_srgb, rgb_from_hex
from img2pour.done_stages import find_done
from img2pour.errors import SettingsError
from img2pour.job.shelf import settle_walls
from img2pour.log_notes import completed_log, entries_of
from img2pour.plan_settings import naming_fields, seal_bit_of, settings_of
from img2pour.plan_words import in_units, plan_in_units
from img2pour.pours.fills import volumes_of_bits
from img2pour.pours.journal import learn
from img2pour.pours.look import reach_of_bits
from img2pour.pours.machine import hours_of_bits
from img2pour.pours.plan import plan_pours
from img2pour.pours.plan_values import PlanSettings, PourPlan, Tools
from img2pour.pours.roles import (
    Cast,
    Layout,
    assign_roles,
    lay_out,
)
from img2pour.pours.stages import BitChoice
from img2pour.ruled import faces_of, known_colour
from img2pour.units import format_length, quoted

if TYPE_CHECKING:
    from img2pour.carve.inscribed import Polygons
    from img2pour.design import Design
    from img2pour.job.model import Job
    from img2pour.job.pour_sections import LogNote
    from img2pour.job.shelf import Shelf
    from img2pour.ruled_values import Ruled
    from img2pour.sizing import Sizing


PIN_ROOM = 1.5
"""A pin needs a margin of this many times its width."""


@dataclass(frozen=True, eq=False)
class Planned:
    """The plan of the pours and what it was made for.

    Attributes
    ----------
    plan : PourPlan
    layout : Layout
    hexes : mapping of str to str
        ``#rrggbb`` of each pour.
    notes : tuple of str
        Rules that met nothing, what the log of earlier pours changed, what is done already.
    stages : tuple of tuple of str
        Names of the pours of each stage, for the next run to hold on to.
    done : int
        How many of the stages are poured already.
    log : tuple of LogNote
        What was noted of earlier pours, beside what was planned for them.
    learned : str
        What waste and soak make of it, in words; "" where it changes nothing.
    """

    plan: PourPlan
    layout: Layout
    hexes: Mapping[str, str]
    notes: tuple[str, ...]
    stages: tuple[tuple[str, ...], ...]
    done: int = 0
    log: tuple[LogNote, ...] = ()
    learned: str = ""


@dataclass(frozen=True, eq=False)
class Ground:
    """What is planned on: the design with its polygons, the board, what rules make pours."""

    design: Design
    polygons: Polygons
    sizing: Sizing
    ruled: Ruled


def plan_design(ground: Ground, shelf: Shelf, job: Job, base: Path) -> Planned | None:
    """Return the plan of a design's pours, or None where nothing is poured.

    Raises
    ------
    SettingsError
        When a rule, an order, a resin or the seal's bit is wrong.
    """
    with naming_fields(job.shown_units):
        layout, notes = _layout(ground, job)
        if not layout.pours:
            return None
        board = shapely.box(0, 0, ground.sizing.width_mm, ground.sizing.height_mm)
        tools = _tools(layout, ground, shelf, job, base)
        order, unpoured = _order(job, layout, ground.design)
        settings = replace(settings_of(job, shelf, base), wanted_order=order)
        done = find_done(job, layout, board, tools, settings)
        stage = replace(settings.stage, added=done.added)
        settings = replace(settings, done_pours=done.pours, stage=stage)
        follow = partial(plan_pours, layout, board, tools)
        plan, log, learned = _after_log(job, follow, settings)
    joined = _joined_notes(job, layout, ground.design, done.pours)
    found = (*notes, unpoured, learned, *done.notes, *joined, _pin_note(job))
    stages = tuple(tuple(pocket.pour for pocket in stage.pockets) for stage in plan.stages)
    return Planned(
        plan_in_units(plan, job.shown_units),
        layout,
        _pour_hexes(layout, ground.design),
        tuple(note for note in found if note),
        done.kept + stages[len(done.kept) :],
        len(done.kept),
        log,
        learned,
    )


def _after_log(
    job: Job, follow: Callable[[PlanSettings], PourPlan], settings: PlanSettings
) -> tuple[PourPlan, tuple[LogNote, ...], str]:
    """Return the plan as the log corrects it, the log beside its plan, and words on it."""
    log = job.log
    if not all(note.is_complete for note in log):
        log = completed_log(log, follow(settings))
    learned = learn(entries_of(log), settings.mixing)
    plan = follow(replace(settings, mixing=learned.settings))
    return plan, log, in_units(learned.words, job.shown_units)


def _order(job: Job, layout: Layout, design: Design) -> tuple[tuple[str, ...], str]:
    """Return the order that is wanted, without colours that are no pours now, and words on these.

    Names that are neither stay, for the planner to refuse.
    """
    pours = {pour.name for pour in layout.pours}
    known = {colour.name for colour in design.colours}
    wanted = [known_colour(name, design) or name for name in job.pours.order]
    left = [name for name in wanted if name in known and name not in pours]
    kept = tuple(name for name in wanted if name not in left)
    if not left:
        return kept, ""
    return kept, f"the order names {', '.join(left)}, which is not poured as the roles are now"


def _joined_notes(
    job: Job, layout: Layout, design: Design, done: Sequence[Sequence[str]]
) -> tuple[str, ...]:
    """Return words on rules that pour regions in the resin of a stage that is done."""
    poured = {name for stage in done for name in stage}
    by_key = {key: pour.name for pour in layout.pours for key in (pour.resin, *pour.colours)}
    notes = []
    for number, rule in enumerate(job.role, 1):
        name = by_key.get(known_colour(rule.resin, design) or "")
        if name in poured and rule.pour is None:
            notes.append(
                f"role rule {number} pours its regions in {name}, whose stage is done: what was "
                "not carved with it stays as it is; give the rule a pour of its own, like pour = "
                f'"{name} 2"'
            )
    return tuple(notes)


def _pin_note(job: Job) -> str:
    """Return why the blank gets no pins although they are wanted; "" where it gets them."""
    blank = job.blank
    if not blank.pins or blank.margin.mm >= PIN_ROOM * blank.pin_width.mm:
        return ""
    return (
        f"no pins: a margin of {blank.margin} has no room for pins {blank.pin_width} wide; leave "
        f"{format_length(PIN_ROOM * blank.pin_width.mm, job.shown_units)} around the board, or "
        "bring it back to its place by other means"
    )


def with_stages(job: Job, planned: Planned) -> Job:
    """Return the job that holds on to its stages as they are planned, and to its whole log."""
    pours = job.pours.model_copy(update={"stages": planned.stages})
    return job.model_copy(update={"pours": pours, "log": planned.log})


def _layout(ground: Ground, job: Job) -> tuple[Layout, tuple[str, ...]]:
    """Lay the design out in pours, wood and outside."""
    design = ground.design
    faces = faces_of(design, ground.polygons)
    roles = {colour.name: colour.role for colour in design.colours}
    assignment = assign_roles(faces, roles, ground.ruled.pours)
    board = shapely.box(0, 0, ground.sizing.width_mm, ground.sizing.height_mm)
    return lay_out(faces, assignment, _casts(design, job), board), ground.ruled.notes


def _casts(design: Design, job: Job) -> dict[str, Cast]:
    """Return what each colour is cast in: a resin of its own, unless the job joins some."""
    casts = {
        colour.name: Cast(colour.name, job.mixing.resin, _lightness(colour.hex))
        for colour in design.colours
    }
    hexes = {colour.name: colour.hex for colour in design.colours}
    for use in job.resin:
        names = [known_colour(key, design) or key for key in use.colours]
        missing = [name for name in names if name not in casts]
        if missing or not names:
            listed = ", ".join(casts)
            raise SettingsError(
                f"the resin speaks of {quoted(missing[0]) if missing else 'no colour'}; "
                f"the colours are: {listed}",
                name="resin.colours",
            )
        name = use.name or names[0]
        product = use.product or job.mixing.resin
        for member in names:
            casts[member] = Cast(name, product, _lightness(hexes[names[0]]), use.pigmented)
    return casts | _casts_of_parted(casts, design)


def _casts_of_parted(casts: Mapping[str, Cast], design: Design) -> dict[str, Cast]:
    """Return what regions that rules parted from their colour are cast in.

    They follow that colour's resin, unless it is no pour and no resin was named for it.
    """
    roles = {colour.name: colour.role for colour in design.colours}
    found = {}
    for colour in design.colours:
        if colour.origin and casts[colour.name].name == colour.name:
            cast = casts[colour.origin]
            if roles[colour.origin] == "pour" or cast.name != colour.origin:
                found[colour.name] = cast
    return found


def _lightness(code: str) -> float:
    return float(lab_from_srgb(rgb_from_hex(code))[0])


def _pour_hexes(layout: Layout, design: Design) -> dict[str, str]:
    """Return the colour of each pour: that of the first colour it shows."""
    hexes = {colour.name: colour.hex for colour in design.colours}
    return {pour.name: hexes[pour.colours[0]] for pour in layout.pours}


def _tools(layout: Layout, ground: Ground, shelf: Shelf, job: Job, base: Path) -> Tools:
    """Return what the planner asks of the carving side."""
    hexes = {colour.name: colour.hex for colour in ground.design.colours}
    own = {
        pour.name: shelf.for_colour(pour.colours[0], hexes[pour.colours[0]])
        for pour in layout.pours
    }
    surface_mm = job.carving.surface.mm
    walls = settle_walls(job, shelf.bits)
    return Tools(
        BitChoice(shelf.bits, own, (seal_bit_of(job, base),)),
        hours_of_bits(surface_mm, walls),
        reach_of_bits(surface_mm, walls),
        volumes_of_bits(surface_mm, walls),
    )
