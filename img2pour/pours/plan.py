"""The whole plan in one call: order, seal, stages, looks, losses, mixes, schedule, checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from img2pour.carve.profile import profile_of
from img2pour.errors import SettingsError
from img2pour.job.bits import Bit
from img2pour.pours.checks import (
    Finding,
    check_bed,
    check_edges,
    check_floor,
    check_movement,
    check_wood_left,
)
from img2pour.pours.fills import stage_fills
from img2pour.pours.geometry import Geometry, empty, thin_part, union
from img2pour.pours.hints import stage_hints
from img2pour.pours.look import Look, Reach, find_losses, find_uncut, fold_looks, standing_lines
from img2pour.pours.mixes import Mix, join_warnings, plan_mix
from img2pour.pours.order import Choice, find_order, follow_order
from img2pour.pours.order_rules import pair_costs
from img2pour.pours.plan_values import PlanSettings, PourPlan, Tools
from img2pour.pours.resins import Resin, find_resin
from img2pour.pours.roles import Layout
from img2pour.pours.schedule import StageWork, plan_schedule
from img2pour.pours.seal_checks import check_border, thin_wood
from img2pour.pours.seal_options import ALL_KINDS, SealGround, SealOption, compare_seals
from img2pour.pours.stages import CLEAR, Stage, StagePocket, plan_stages, stage_warnings
from img2pour.pours.totals import product_totals
from img2pour.pours.touch_ups import TouchUp, plan_touch_ups
from img2pour.units import quoted

SLENDER_DEG = 30.0

__all__ = ["PlanSettings", "PourPlan", "Tools", "is_fine", "plan_pours"]


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
    cut = replace(settings.stage, done=len(settings.done_pours))
    stages = plan_stages(layout.pours, choice.order.stages, layout.wood, tools.bits, cut, seal.seal)
    reach = _remembered(tools.reach)
    looks = fold_looks(stages, board, reach)
    mixes = _mixes(stages, layout, board, tools, settings)
    stages_done = _stages_done(stages, settings)
    to_mix = _to_mix(seal, mixes, stages_done, settings)
    touch_ups = _touch_ups(stages, layout, settings)
    works = _stage_works(stages, mixes, layout, tools, settings)
    schedule = plan_schedule(works, settings.schedule, done=stages_done)
    last = looks[-1] if looks else Look((), (), board)
    warnings = [
        *stage_warnings(stages, layout.pours, settings.stage),
        *_seal_warnings(seal, stages, settings),
        *join_warnings(words for mix in to_mix for words in mix.warnings),
    ]
    return PourPlan(
        choice=choice,
        seal=seal,
        seal_options=options,
        stages=stages,
        looks=looks,
        losses=find_losses(layout.pours, last, narrow),
        lines=standing_lines(layout.pours, stages, last, narrow, settings.least_line_mm),
        uncut=find_uncut(stages, reach),
        hints=stage_hints(layout.pours, stages, last),
        thin_wood=thin_wood(layout.wood, seal.seal.outline, settings.least_wall_mm),
        mixes=mixes,
        touch_ups=touch_ups,
        totals=product_totals(to_mix, [(one.resin, one.measure) for one in touch_ups]),
        schedule=schedule,
        findings=_findings(stages, layout, board, settings),
        warnings=tuple(warnings),
        days_alone=_days_alone(stages, mixes, stages_done, layout, tools, settings)
        or schedule.days,
    )


def _days_alone(
    stages: Sequence[Stage],
    mixes: Sequence[Sequence[Mix]],
    done: int,
    layout: Layout,
    tools: Tools,
    settings: PlanSettings,
) -> int | None:
    """Return the days if every pour had a stage of its own; None where it has one already."""
    if all(len(stage.pockets) == 1 for stage in stages[done:]):
        return None
    alone, own = list(stages[:done]), [tuple(of_stage) for of_stage in mixes[:done]]
    for stage, of_stage in zip(stages[done:], mixes[done:], strict=True):
        alone += [replace(stage, name=p.pour, pockets=(p,)) for p in stage.pockets]
        own += [(mix,) for mix in of_stage]
    works = _stage_works(alone, own, layout, tools, settings)
    return plan_schedule(works, settings.schedule, done=done).days


def _remembered(reach: Reach) -> Reach:
    """Return a reach that works out each pour's pocket once."""
    known: dict[str, Geometry] = {}

    def remembered(pocket: StagePocket) -> Geometry:
        if pocket.pour not in known:
            known[pocket.pour] = reach(pocket)
        return known[pocket.pour]

    return remembered


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


def _stages_done(stages: Sequence[Stage], settings: PlanSettings) -> int:
    """Return how many stages are done, the seal's counted.

    Raises
    ------
    SettingsError
        When their number and the named pours do not agree.
    """
    if not settings.done_pours:
        return settings.done
    seals = sum(stage.kind == "seal" for stage in stages)
    named = seals + len(settings.done_pours)
    if settings.done not in (0, named):
        with_seal = "the seal and " if seals else ""
        raise SettingsError(
            f"done is {settings.done}, but {with_seal}{len(settings.done_pours)} named stages make "
            f"{named}: give {named}, or name other pours",
            name="done",
            value=settings.done,
        )
    return named


def _seals(
    layout: Layout, board: Geometry, choice: Choice, tools: Tools, settings: PlanSettings
) -> tuple[SealOption, ...]:
    bits = tools.bits.seal or tools.bits.shelf

    def volumes(outlines: Sequence[Geometry], depth_mm: float) -> NDArray[np.float64]:
        pocket = StagePocket(CLEAR, CLEAR, empty(), empty(), depth_mm, bits)
        return tools.volumes(outlines, pocket)

    layout = _as_sealed(layout, settings)
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


def _as_sealed(layout: Layout, settings: PlanSettings) -> Layout:
    """Return the layout that the seal is made for: one that is done knows no pours added since."""
    is_done = settings.done > len(settings.done_pours)
    added = [pour for pour in layout.pours if pour.name in settings.stage.added]
    if not is_done or not added:
        return layout
    pours = tuple(pour for pour in layout.pours if pour not in added)
    return replace(layout, pours=pours, wood=union([layout.wood, *(one.shape for one in added)]))


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


def _to_mix(
    seal: SealOption, mixes: Sequence[Sequence[Mix]], done: int, settings: PlanSettings
) -> list[Mix]:
    """Return what is still to be mixed: a brushed coat comes before the first stage."""
    to_mix = [mix for of_stage in mixes[done:] for mix in of_stage]
    if seal.mix is None or settings.seal_kind != "brush" or done:
        return to_mix
    return [seal.mix, *to_mix]


def _touch_ups(
    stages: Sequence[Stage], layout: Layout, settings: PlanSettings
) -> tuple[TouchUp, ...]:
    """Return the reserve for pinholes: of each coloured resin, and of the clear where it seals."""
    if not settings.schedule.reserve:
        return ()
    casts = [
        (
            pocket.resin,
            _resin(pocket.pour, layout, settings),
            layout.pigmented.get(pocket.pour, False),
        )
        for stage in stages
        for pocket in stage.pockets
    ]
    return plan_touch_ups(casts, settings.mixing.touch_up_ml)


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
            is_fine(bit, settings.fine_bit_mm) for pocket in following for bit in pocket.bits
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


def _seal_warnings(seal: SealOption, stages: Sequence[Stage], settings: PlanSettings) -> list[str]:
    """Return what is doubtful about the seal: edge left bare, or a border that sloped walls eat."""
    found = []
    bare, edge = seal.seal.unsealed_mm, seal.seal.edge_mm
    if settings.seal_kind != "none" and bare > 0.0:
        found.append(
            f"{bare:.0f} of {edge:.0f} mm of edge between pours and wood stay unsealed, where the "
            f"seal's bit ({settings.seal.bit_diameter_mm:g} mm) does not reach: brush them, or "
            "take a narrower bit for the seal"
        )
    if settings.seal_kind == "band":
        slopes = [_wall_slope(pocket.bits) for stage in stages[1:] for pocket in stage.pockets]
        depth = settings.stage.depth_mm - settings.stage.surface_mm
        borders = seal.seal.border_mm
        found.append(check_border(settings.seal, borders, depth, min(slopes, default=0.0)).warning)
    return [words for words in found if words]


def _wall_slope(bits: Sequence[Bit]) -> float:
    """Return how far a pocket's wall leans, mm per mm: upright as soon as a flat bit cuts it."""
    return min((profile_of(bit).slope for bit in bits), default=0.0)


def is_fine(bit: Bit, below_mm: float) -> bool:
    """Return whether a bit is so fine that half-cured resin would clog or break it.

    Flat and ball bits are fine by their diameter, sloped ones by a slender tip: narrower than
    `below_mm` and an included angle below 30 degrees. Common practice, no source.
    """
    if bit.kind == "flat":
        return bit.diameter_mm < below_mm
    ball_mm = 2.0 * (bit.ball_radius_mm or 0.0)
    if bit.kind == "ball":
        return (ball_mm or bit.diameter_mm) < below_mm
    return max(ball_mm, bit.tip_mm) < below_mm and (bit.angle_deg or 0.0) < SLENDER_DEG


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
