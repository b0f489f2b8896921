"""What the planner is told: the job's sections as its settings."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from img2pour.errors import SettingsError
from img2pour.job.bit_table import load_bit_table
from img2pour.job.shelf import find_bit
from img2pour.plan_words import in_units
from img2pour.pours.checks import WoodSettings
from img2pour.pours.mixes import MixSettings
from img2pour.pours.order_rules import OrderSettings
from img2pour.pours.plan_values import PlanSettings
from img2pour.pours.resins import Resin, load_resins
from img2pour.pours.schedule import ScheduleSettings
from img2pour.pours.seals import SealSettings
from img2pour.pours.stages import StageSettings
from img2pour.pours.underlap import UnderlapSettings, underlap_width_mm

if TYPE_CHECKING:
    from img2pour.job.bits import Bit
    from img2pour.job.model import Job
    from img2pour.job.shelf import Shelf
    from img2pour.units import Shown

GRAIN = {"horizontal": (1.0, 0.0), "vertical": (0.0, 1.0)}

FIELDS = {
    "order": "pours.order",
    "done": "pours.done",
    "resin": "mixing.resin",
    "resins": "mixing.table",
    "border": "seal.border",
    "bit_diameter_mm": "seal.bit",
    "border_mm": "seal.border",
    "species": "board.species",
    "moisture": "board.moisture_from",
    "depth_mm": "carving.depth",
    "surface_mm": "carving.surface",
    "blank_mm": "board.thickness",
    "face_below_top_mm": "blank.face_below_top",
    "shallower_mm": "pours.shallower",
    "least_depth_mm": "limits.least_depth",
    "least_core_wall_mm": "limits.least_wall_filled",
    "least_core_mm": "limits.least_wall_along",
    "width_mm": "pours.underlap",
    "gap_mm": "pours.gap",
    "overfill_mm": "mixing.overfill",
    "soak_mm": "mixing.soak",
    "waste_share": "mixing.waste",
    "least_waste_ml": "mixing.least_waste_ml",
    "least_batch_ml": "mixing.least_batch_ml",
    "touch_up_ml": "mixing.touch_up_ml",
    "shop_c": "shop.temperature_c",
    "workday_hours": "shop.workday_hours",
}
"""Names of the planner's settings, and the job field that each one comes from."""


@contextmanager
def naming_fields(units: Shown) -> Iterator[None]:
    """Name the job's field in what the planner refuses, and speak in the job's units.

    Raises
    ------
    SettingsError
        As raised inside, with the job's field in front of each line.
    """
    try:
        yield
    except SettingsError as why:
        field = FIELDS.get(why.name, why.name)
        lines = [
            f"{field}: {line.removeprefix(f'{why.name}: ')}" if field else line
            for line in str(why).splitlines()
        ]
        words = in_units("\n".join(lines), units)
        raise SettingsError(words, name=field, value=why.value) from why


def mixing_of(job: Job) -> MixSettings:
    """Return what is added to the pockets' volume, before any log corrects it."""
    mixing = job.mixing
    return MixSettings(
        overfill_mm=mixing.overfill.mm,
        soak_mm=mixing.soak.mm,
        waste_share=mixing.waste,
        least_waste_ml=mixing.least_waste_ml,
        least_batch_ml=mixing.least_batch_ml,
        touch_up_ml=mixing.touch_up_ml,
    )


def resins_of(job: Job, base: Path) -> tuple[Resin, ...]:
    """Return the table of resins, with the job's own laid over it.

    Raises
    ------
    SettingsError
        When the job's table cannot be read or is wrong.
    """
    return load_resins(None if job.mixing.table is None else base / job.mixing.table)


def settings_of(job: Job, shelf: Shelf, base: Path) -> PlanSettings:
    """Return everything that the planner is told."""
    limits, blank = job.limits, job.blank
    underlap = _underlap(job, shelf)
    return PlanSettings(
        seal_kind=job.seal.kind,
        seal=_seal(job, base),
        stage=_stage(job, underlap),
        order=_order(job, underlap),
        mixing=mixing_of(job),
        schedule=_schedule(job),
        wood=_wood(job),
        clear_product=job.mixing.clear,
        resins=resins_of(job, base),
        wanted_order=job.pours.order,
        done=job.pours.done,
        cut_width_mm=min(cut_width_mm(bit, job) for bit in shelf.bits),
        least_line_mm=limits.least_wall_resin.mm,
        bed_mm=None if blank.bed is None else (blank.bed[0].mm, blank.bed[1].mm),
        least_floor_mm=min(limits.least_floor.mm, job.board.thickness.mm / 3),
        least_wall_mm=limits.least_wall_along.mm,
    )


def _underlap(job: Job, shelf: Shelf) -> UnderlapSettings:
    flats = [bit.diameter_mm for bit in shelf.bits if bit.kind == "flat"]
    least_mm = max(job.pours.underlap.mm, underlap_width_mm(min(flats, default=None)))
    return UnderlapSettings(least_mm, job.limits.least_wall_along.mm, job.pours.through)


def _seal(job: Job, base: Path) -> SealSettings:
    return SealSettings(
        bit_diameter_mm=seal_bit_of(job, base).diameter_mm,
        border_mm=job.seal.border.mm,
        coat_of=job.seal.coat_of,
    )


def _stage(job: Job, underlap: UnderlapSettings) -> StageSettings:
    return StageSettings(
        depth_mm=job.carving.depth.mm,
        surface_mm=job.carving.surface.mm,
        blank_mm=job.board.thickness.mm,
        face_below_top_mm=job.blank.face_below_top.mm,
        shallower_mm=job.pours.shallower.mm,
        least_depth_mm=job.limits.least_depth.mm,
        least_core_wall_mm=job.limits.least_wall_filled.mm,
        underlap=underlap,
        done=job.pours.done,
    )


def _order(job: Job, underlap: UnderlapSettings) -> OrderSettings:
    early = ("line",) if job.drawing.lines == "stand" else ()
    return OrderSettings(gap_mm=job.pours.gap.mm, early=early, underlap=underlap)


def _schedule(job: Job) -> ScheduleSettings:
    shop = job.shop
    return ScheduleSettings(
        shop_c=shop.temperature_c, workday_hours=shop.workday_hours, face=shop.face
    )


def _wood(job: Job) -> WoodSettings:
    board = job.board
    return WoodSettings(
        board.species,
        board.quarter_sawn,
        board.moisture_from,
        board.moisture_to,
        GRAIN[board.grain],
    )


def cut_width_mm(bit: Bit, job: Job) -> float:
    """Return the narrowest stroke that a bit cuts to the least depth at the finished face."""
    from img2pour.carve.profile import narrowest_width_mm, profile_of

    return narrowest_width_mm(profile_of(bit), job.limits.least_depth.mm)


def seal_bit_of(job: Job, base: Path) -> Bit:
    """Return the bit that cuts the seal's channel."""
    table = load_bit_table(base / job.bits.table if job.bits.table else None)
    return find_bit(job.seal.bit, table)
