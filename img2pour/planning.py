"""From a design and a job to the plan of the pours: what the planner is told, and by which bits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.colour import lab_from_srgb, rgb_from_hex
from img2pour.errors import SettingsError
from img2pour.job.bit_table import load_bit_table
from img2pour.job.shelf import find_bit, settle_walls
from img2pour.pours.checks import WoodSettings
from img2pour.pours.fills import volumes_of_bits
from img2pour.pours.journal import LogEntry, learn
from img2pour.pours.look import reach_of_bits
from img2pour.pours.machine import hours_of_bits
from img2pour.pours.mixes import MixSettings
from img2pour.pours.order_rules import OrderSettings
from img2pour.pours.plan import plan_pours
from img2pour.pours.plan_values import PlanSettings, PourPlan, Tools
from img2pour.pours.resins import Resin, read_resins, standard_resins
from img2pour.pours.roles import (
    Cast,
    Faces,
    Layout,
    RoleRule,
    assign_roles,
    face_neighbours,
    lay_out,
)
from img2pour.pours.schedule import ScheduleSettings
from img2pour.pours.seals import SealSettings
from img2pour.pours.stages import BitChoice, StageSettings
from img2pour.pours.underlap import UnderlapSettings, underlap_width_mm
from img2pour.units import quoted

if TYPE_CHECKING:
    from img2pour.artwork import Geometry
    from img2pour.carve.inscribed import Polygons
    from img2pour.design import Design
    from img2pour.job.bits import Bit
    from img2pour.job.model import Job
    from img2pour.job.pour_sections import RoleRule as WishedRole
    from img2pour.job.shelf import Shelf
    from img2pour.sizing import Sizing

GRAIN = {"horizontal": (1.0, 0.0), "vertical": (0.0, 1.0)}


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
        Rules that met nothing, and what the log of earlier pours changed.
    """

    plan: PourPlan
    layout: Layout
    hexes: Mapping[str, str]
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Ground:
    """What is planned on: the design with its polygons, the board, and the way to the pixels."""

    design: Design
    polygons: Polygons
    sizing: Sizing
    geometry: Geometry


def plan_design(ground: Ground, shelf: Shelf, job: Job, base: Path) -> Planned | None:
    """Return the plan of a design's pours, or None where nothing is poured.

    Raises
    ------
    SettingsError
        When a rule, an order, a resin or the seal's bit is wrong.
    """
    layout, notes = _layout(ground, job)
    if not layout.pours:
        return None
    board = shapely.box(0, 0, ground.sizing.width_mm, ground.sizing.height_mm)
    mixing, learned = _mixing(job)
    settings = _settings(job, shelf, base, mixing)
    tools = _tools(layout, ground, shelf, job, base)
    if job.pours.done and not job.pours.done_pours:
        settings = replace(settings, done_pours=_first_stages(layout, board, tools, settings))
    hexes = _pour_hexes(layout, ground.design)
    said = tuple(note for note in (*notes, learned) if note)
    return Planned(plan_pours(layout, board, tools, settings), layout, hexes, said)


def _layout(ground: Ground, job: Job) -> tuple[Layout, tuple[str, ...]]:
    """Lay the design out in pours, wood and outside."""
    design = ground.design
    names = [colour.name for colour in design.colours]
    face_colours = design.region_map.face_colours.tolist()
    faces = Faces(
        tuple(ground.polygons),
        tuple("" if colour < 0 else names[colour] for colour in face_colours),
        face_neighbours(design.region_map.arc_faces.astype(np.int32), len(face_colours)),
    )
    rules = [_rule(rule, ground, design) for rule in job.role]
    roles = {colour.name: colour.role for colour in design.colours}
    assignment = assign_roles(faces, roles, rules)
    board = shapely.box(0, 0, ground.sizing.width_mm, ground.sizing.height_mm)
    return lay_out(faces, assignment, _casts(design, job), board), assignment.warnings


def _rule(rule: WishedRole, ground: Ground, design: Design) -> RoleRule:
    """Return a job's rule in mm on the board."""
    to_mm = ground.sizing.placement.apply

    def placed(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        seen = [ground.geometry.to_artwork(point) for point in points]
        return tuple((x, y) for x, y in to_mm(np.array(seen).reshape(-1, 2)).tolist())

    return RoleRule(
        rule.role,
        _known(rule.colour, design),
        placed(rule.inside),
        None if rule.below is None else rule.below.mm**2,
        _known(rule.touching, design),
        placed(rule.at),
        rule.pour,
    )


def _known(key: str | None, design: Design) -> str | None:
    """Return the name of the colour of this name or ``#hex``; unknown ones are left to be named."""
    by_key = {key: c.name for c in design.colours for key in (c.hex, c.name)}
    return key if key is None else by_key.get(key, key)


def _casts(design: Design, job: Job) -> dict[str, Cast]:
    """Return what each colour is cast in: a resin of its own, unless the job joins some."""
    casts = {
        colour.name: Cast(colour.name, job.mixing.resin, _lightness(colour.hex))
        for colour in design.colours
    }
    hexes = {colour.name: colour.hex for colour in design.colours}
    for use in job.resin:
        names = [_known(key, design) or key for key in use.colours]
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
    return casts


def _lightness(code: str) -> float:
    return float(lab_from_srgb(rgb_from_hex(code))[0])


def _pour_hexes(layout: Layout, design: Design) -> dict[str, str]:
    """Return the colour of each pour: that of the first colour it shows."""
    hexes = {colour.name: colour.hex for colour in design.colours}
    return {pour.name: hexes[pour.colours[0]] for pour in layout.pours}


def _mixing(job: Job) -> tuple[MixSettings, str]:
    """Return what is added to the pockets' volume, as the log of earlier pours corrects it."""
    mixing = job.mixing
    planned = MixSettings(
        overfill_mm=mixing.overfill.mm,
        soak_mm=mixing.soak.mm,
        waste_share=mixing.waste,
        least_waste_ml=mixing.least_waste_ml,
        least_batch_ml=mixing.least_batch_ml,
    )
    entries = [
        LogEntry(note.pour, note.mixed_ml, note.left_ml, note.pocket_ml, note.allowed_ml)
        for note in job.log
    ]
    learned = learn(entries, planned)
    return learned.settings, learned.words


def resins_of(job: Job, base: Path) -> tuple[Resin, ...]:
    """Return the table of resins, with the job's own laid over it.

    Raises
    ------
    SettingsError
        When the job's table cannot be read or is wrong.
    """
    if job.mixing.table is None:
        return standard_resins()
    from img2pour.job.reading import load_text

    path = base / job.mixing.table
    return read_resins(load_text(path, "the table of resins"), source=path.name)


def _settings(job: Job, shelf: Shelf, base: Path, mixing: MixSettings) -> PlanSettings:
    """Return everything that the planner is told."""
    flats = [bit.diameter_mm for bit in shelf.bits if bit.kind == "flat"]
    least_mm = max(job.pours.underlap.mm, underlap_width_mm(min(flats, default=None)))
    underlap = UnderlapSettings(least_mm, job.limits.least_wall_along.mm, job.pours.through)
    seal_bit = _seal_bit(job, base)
    return PlanSettings(
        seal_kind=job.seal.kind,
        seal=SealSettings(
            bit_diameter_mm=seal_bit.diameter_mm,
            border_mm=job.seal.border.mm,
            coat_of=job.seal.coat_of,
        ),
        stage=StageSettings(
            depth_mm=job.carving.depth.mm,
            surface_mm=job.carving.surface.mm,
            blank_mm=job.board.thickness.mm,
            face_below_top_mm=job.blank.face_below_top.mm,
            shallower_mm=job.pours.shallower.mm,
            least_depth_mm=job.limits.least_depth.mm,
            least_core_wall_mm=job.limits.least_wall_filled.mm,
            underlap=underlap,
            done=job.pours.done,
        ),
        order=OrderSettings(
            gap_mm=job.pours.gap.mm,
            early=("line",) if job.drawing.lines == "stand" else (),
            underlap=underlap,
        ),
        mixing=mixing,
        schedule=ScheduleSettings(
            shop_c=job.shop.temperature_c,
            workday_hours=job.shop.workday_hours,
            face=job.shop.face,
        ),
        wood=WoodSettings(
            job.board.species,
            job.board.quarter_sawn,
            job.board.moisture_from,
            job.board.moisture_to,
            GRAIN[job.board.grain],
        ),
        clear_product=job.mixing.clear,
        resins=resins_of(job, base),
        wanted_order=job.pours.order,
        done=job.pours.done,
        done_pours=tuple(
            tuple(name.strip() for name in stage.split("+")) for stage in job.pours.done_pours
        ),
        cut_width_mm=min(cut_width_mm(bit, job) for bit in shelf.bits),
        least_line_mm=job.limits.least_wall_resin.mm,
        bed_mm=None if job.blank.bed is None else (job.blank.bed[0].mm, job.blank.bed[1].mm),
        least_floor_mm=min(job.limits.least_floor.mm, job.board.thickness.mm / 3),
        least_wall_mm=job.limits.least_wall_along.mm,
    )


def cut_width_mm(bit: Bit, job: Job) -> float:
    """Return the narrowest stroke that a bit cuts to the least depth at the finished face."""
    from img2pour.carve.profile import narrowest_width_mm, profile_of

    return narrowest_width_mm(profile_of(bit), job.limits.least_depth.mm)


def _seal_bit(job: Job, base: Path) -> Bit:
    """Return the bit that cuts the seal's channel."""
    table = load_bit_table(base / job.bits.table if job.bits.table else None)
    return find_bit(job.seal.bit, table)


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
        BitChoice(shelf.bits, own, (_seal_bit(job, base),)),
        hours_of_bits(surface_mm, walls),
        reach_of_bits(surface_mm, walls),
        volumes_of_bits(surface_mm, walls),
    )


def _first_stages(
    layout: Layout, board: shapely.Polygon, tools: Tools, settings: PlanSettings
) -> tuple[tuple[str, ...], ...]:
    """Return the pours of the stages that are done, as the plan has them without any done."""
    fresh = replace(settings, done=0, stage=replace(settings.stage, done=0))
    stages = plan_pours(layout, board, tools, fresh).stages[: settings.done]
    if len(stages) < settings.done:
        raise SettingsError(
            f"{settings.done} stages are said to be done, but the plan has only {len(stages)}",
            name="pours.done",
            value=settings.done,
        )
    return tuple(
        tuple(pocket.pour for pocket in stage.pockets) for stage in stages if stage.kind == "pour"
    )
