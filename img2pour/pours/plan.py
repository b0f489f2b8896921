"""The whole plan in one call: order, seal, stages, looks, losses, mixes, schedule, checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.job.bits import Bit
from img2pour.pours.checks import (
    Finding,
    WoodSettings,
    check_bed,
    check_edges,
    check_floor,
    check_movement,
    check_wood_left,
)
from img2pour.pours.fills import Volumes, stage_fills, upright_volumes
from img2pour.pours.geometry import Geometry, empty, thin_part, union
from img2pour.pours.look import (
    Look,
    PourLoss,
    Reach,
    StandingLine,
    find_losses,
    fold_looks,
    standing_lines,
    whole_outline,
)
from img2pour.pours.mixes import Mix, MixSettings, ProductTotal, plan_mix, product_totals
from img2pour.pours.order import Choice, find_order, follow_order
from img2pour.pours.order_rules import OrderSettings, pair_costs
from img2pour.pours.resins import Resin, find_resin, standard_resins
from img2pour.pours.roles import Layout
from img2pour.pours.schedule import Schedule, ScheduleSettings, StageWork, plan_schedule
from img2pour.pours.seal_options import (
    ALL_KINDS,
    SealGround,
    SealOption,
    compare_seals,
)
from img2pour.pours.seals import SealKind, SealSettings
from img2pour.pours.stages import (
    CLEAR,
    BitChoice,
    Stage,
    StagePocket,
    StageSettings,
    plan_stages,
    stage_warnings,
)
from img2pour.units import quoted

MachineHours = Callable[[Stage], float]


@dataclass(frozen=True)
class PlanSettings:
    """Everything that the plan can be told.

    Attributes
    ----------
    seal_kind : SealKind
    seal, stage, order, mixing, schedule, wood
        Settings of each step.
    clear_product : str
        Name in the table of resins of what seals.
    resins : tuple of Resin
    wanted_order : tuple of str
        Names of pours, or empty to have it worked out.
    done : int
        Stages that are poured and levelled already, the seal's stage counted.
    done_pours : tuple of tuple of str
        Names of the pours in each of those, without the seal.
    cut_width_mm : float
        The narrowest stroke that the bits cut.
    least_line_mm : float
        The least wall of cured resin.
    fine_bit_mm : float
        A bit whose tip is narrower than this is fine: resin cures longer before it.
    bed_mm : tuple of float or None
        The machine's bed.
    least_floor_mm : float or None
    """

    seal_kind: SealKind = "band"
    seal: SealSettings = field(default_factory=SealSettings)
    stage: StageSettings = field(default_factory=StageSettings)
    order: OrderSettings = field(default_factory=OrderSettings)
    mixing: MixSettings = field(default_factory=MixSettings)
    schedule: ScheduleSettings = field(default_factory=ScheduleSettings)
    wood: WoodSettings = field(default_factory=WoodSettings)
    clear_product: str = "table-top 1:1"
    resins: tuple[Resin, ...] = field(default_factory=standard_resins)
    wanted_order: tuple[str, ...] = ()
    done: int = 0
    done_pours: tuple[tuple[str, ...], ...] = ()
    cut_width_mm: float = 0.0
    least_line_mm: float = 0.8
    fine_bit_mm: float = 1.6
    bed_mm: tuple[float, float] | None = None
    least_floor_mm: float | None = None


@dataclass(frozen=True, eq=False)
class PourPlan:
    """What is carved and poured when, and everything that follows from it.

    Attributes
    ----------
    choice : Choice
        The order, why, and the runner-up.
    seal : SealOption
        The chosen seal.
    seal_options : tuple of SealOption
        All kinds, to compare.
    stages : tuple of Stage
    looks : tuple of Look
        After each stage.
    losses : tuple of PourLoss
    lines : tuple of StandingLine
    mixes : tuple of tuple of Mix
        For each stage, for each of its pockets.
    totals : tuple of ProductTotal
    schedule : Schedule
    findings : tuple of Finding
    warnings : tuple of str
    """

    choice: Choice
    seal: SealOption
    seal_options: tuple[SealOption, ...]
    stages: tuple[Stage, ...]
    looks: tuple[Look, ...]
    losses: tuple[PourLoss, ...]
    lines: tuple[StandingLine, ...]
    mixes: tuple[tuple[Mix, ...], ...]
    totals: tuple[ProductTotal, ...]
    schedule: Schedule
    findings: tuple[Finding, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Tools:
    """What the plan asks of the carving side.

    Attributes
    ----------
    bits : BitChoice
    reach : callable
        What the bits open of a pocket, at the finished face.
    volumes : callable
        What each polygon of a pocket holds.
    machine_hours : callable
        To carve a stage.
    """

    bits: BitChoice
    machine_hours: MachineHours
    reach: Reach = whole_outline
    volumes: Volumes = upright_volumes


def plan_pours(layout: Layout, board: Geometry, tools: Tools, settings: PlanSettings) -> PourPlan:
    """Plan the pours of a laid-out board.

    Parameters
    ----------
    layout : Layout
        Pours and wood, mm.
    board : shapely geometry
        The finished board.
    tools : Tools
    settings : PlanSettings

    Raises
    ------
    SettingsError
        When the wanted order, the stages that are done, or a resin's name is wrong.
    """
    narrow = [thin_part(pour.shape, settings.cut_width_mm) for pour in layout.pours]
    choice = _choose_order(layout, settings, narrow)
    options = _seals(layout, board, choice, tools, settings)
    seal = next(option for option in options if option.seal.kind == settings.seal_kind)
    stages = plan_stages(
        layout.pours, choice.order.stages, layout.wood, tools.bits, settings.stage, seal.seal
    )
    looks = fold_looks(stages, board, tools.reach)
    mixes = _mixes(stages, layout, board, tools, settings)
    every_mix = [mix for of_stage in mixes for mix in of_stage]
    if settings.seal_kind == "brush" and seal.mix is not None:
        every_mix.insert(0, seal.mix)
    schedule = plan_schedule(
        _stage_works(stages, mixes, layout, tools, settings), settings.schedule, done=settings.done
    )
    last = looks[-1] if looks else Look((), (), board)
    warnings = [
        *stage_warnings(stages, layout.pours, settings.stage),
        *(words for mix in every_mix for words in mix.warnings),
    ]
    return PourPlan(
        choice=choice,
        seal=seal,
        seal_options=options,
        stages=stages,
        looks=looks,
        losses=find_losses(layout.pours, last, narrow),
        lines=standing_lines(layout.pours, stages, last, narrow, settings.least_line_mm),
        mixes=mixes,
        totals=product_totals(every_mix),
        schedule=schedule,
        findings=_findings(stages, layout, board, settings),
        warnings=tuple(warnings),
    )


def _choose_order(layout: Layout, settings: PlanSettings, narrow: Sequence[Geometry]) -> Choice:
    names = [pour.name for pour in layout.pours]
    order = replace(
        settings.order,
        cut_width_mm=settings.cut_width_mm,
        underlap=settings.stage.underlap,
    )
    pairs = pair_costs(layout.pours, order, narrow)
    done = _done_indices(names, settings.done_pours)
    if settings.wanted_order:
        return follow_order(pairs, names, settings.wanted_order, done=done)
    return find_order(pairs, names, done=done)


def _done_indices(
    names: Sequence[str], stages: Sequence[Sequence[str]]
) -> tuple[tuple[int, ...], ...]:
    known = set(names)
    poured = [name for stage in stages for name in stage]
    for name in poured:
        if name not in known:
            raise SettingsError(
                f"done: there is no pour {quoted(name)}; there are: {', '.join(names)}",
                name="done",
            )
        if poured.count(name) > 1:
            raise SettingsError(f"done: {quoted(name)} is there twice", name="done")
    return tuple(tuple(names.index(name) for name in stage) for stage in stages)


def _seals(
    layout: Layout, board: Geometry, choice: Choice, tools: Tools, settings: PlanSettings
) -> tuple[SealOption, ...]:
    bits = tools.bits.seal or tools.bits.shelf

    def volumes(outlines: Sequence[Geometry], depth_mm: float) -> NDArray[np.float64]:
        pocket = StagePocket(CLEAR, CLEAR, empty(), empty(), depth_mm, bits)
        return tools.volumes(outlines, pocket)

    ground = SealGround(
        board=board,
        pours=tuple(pour.shape for pour in layout.pours),
        wood=layout.wood,
        depth_mm=settings.stage.depth_mm,
        grain=settings.wood.grain,
        resin=find_resin(settings.resins, settings.clear_product),
        stages=len(choice.order.stages),
    )
    return compare_seals(ground, settings.seal, settings.mixing, volumes=volumes, kinds=ALL_KINDS)


def _mixes(
    stages: Sequence[Stage],
    layout: Layout,
    board: Geometry,
    tools: Tools,
    settings: PlanSettings,
) -> tuple[tuple[Mix, ...], ...]:
    mixing = settings.mixing
    if settings.seal_kind == "brush":
        mixing = replace(mixing, soak_mm=0.0)  # coated wood drinks no more
    found = []
    for stage, fills in zip(stages, stage_fills(stages, board, tools.volumes), strict=True):
        of_stage = []
        for pocket, of_pocket in zip(stage.pockets, fills, strict=True):
            resin = _resin(pocket.pour, layout, settings)
            pigmented = layout.pigmented.get(pocket.pour, False)
            of_stage.append(plan_mix(pocket.pour, resin, of_pocket, mixing, pigmented=pigmented))
        found.append(tuple(of_stage))
    return tuple(found)


def _resin(pour: str, layout: Layout, settings: PlanSettings) -> Resin:
    return find_resin(settings.resins, layout.products.get(pour, settings.clear_product))


def _stage_works(
    stages: Sequence[Stage],
    mixes: Sequence[Sequence[Mix]],
    layout: Layout,
    tools: Tools,
    settings: PlanSettings,
) -> list[StageWork]:
    coats = round(settings.seal.coats) if settings.seal_kind == "brush" else 0
    works = []
    for at, (stage, of_stage) in enumerate(zip(stages, mixes, strict=True)):
        following = stages[at + 1].pockets if at + 1 < len(stages) else ()
        fine = any(
            tip_width_mm(bit) < settings.fine_bit_mm for pocket in following for bit in pocket.bits
        )
        works.append(
            StageWork(
                name=stage.name,
                kind=stage.kind,
                machine_hours=tools.machine_hours(stage),
                resins=tuple(mix.resin for mix in of_stage),
                layers=max((len(mix.batches) for mix in of_stage), default=1),
                coats=coats,
                cut_next_with_fine_bits=fine,
            )
        )
    return works


def tip_width_mm(bit: Bit) -> float:
    """Return how wide a bit is at its tip; a ball counts as wide as its ball."""
    if bit.kind == "flat":
        return bit.diameter_mm
    return bit.tip_mm if bit.kind == "vee" else 2.0 * (bit.ball_radius_mm or bit.diameter_mm / 2.0)


def _findings(
    stages: Sequence[Stage], layout: Layout, board: Geometry, settings: PlanSettings
) -> tuple[Finding, ...]:
    pockets = union(stage.outline for stage in stages)
    left, low, right, high = board.bounds
    shapes = [(pour.name, pour.shape) for pour in layout.pours]
    return (
        *check_floor(stages, settings.least_floor_mm),
        *check_edges(pockets, board),
        *check_bed((right - left, high - low), settings.bed_mm),
        *check_movement(shapes, settings.wood),
        *check_wood_left(stages, board),
    )
