"""The part of the work sheet that follows from the plan of the pours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from img2pour.colour import rgb_from_hex
from img2pour.write.sheet_pours import (
    DROP_ML,
    BatchSheet,
    FillLine,
    LossLine,
    MixSheet,
    OrderSheet,
    PocketLine,
    PourSheet,
    RuleLine,
    SealLine,
    SpotLine,
    StageSheet,
    VolumeMeasure,
    WeightMeasure,
)
from img2pour.write.stage_drawings import PocketDrawing, StageDrawing, stage_layer_names
from img2pour.write.stage_pictures import Shown, StageMarks, stage_picture
from img2pour.write.text import one_line
from img2pour.write.values import Board, Picture, Places, Point

if TYPE_CHECKING:
    from img2pour.design import DesignColour
    from img2pour.pours.mixes import Batch, Mix
    from img2pour.pours.order import Order
    from img2pour.pours.plan_values import PourPlan
    from img2pour.pours.stages import Stage, StagePocket

CLEAR = "clear"
WET = 0.86
"""Wood under clear resin looks darker, like wet wood; own judgement."""

UNKNOWN_HEX = "#8a8a8a"


@dataclass(frozen=True)
class PourNames:
    """Colours of the pours by name, and that of the bare wood."""

    hexes: Mapping[str, str]
    ground: str

    @classmethod
    def of(
        cls, colours: Sequence[DesignColour], given: Mapping[str, str], ground: str
    ) -> PourNames:
        """Return the pours' colours: as given, else the artwork's colour of the same name."""
        known = {colour.name: colour.hex for colour in colours}
        return cls({CLEAR: wet_hex(ground), **known, **given}, ground)

    def hex(self, pour: str) -> str:
        """Return ``#rrggbb`` of a pour; grey where it is not known."""
        return self.hexes.get(pour, UNKNOWN_HEX)


def wet_hex(code: str) -> str:
    """Return how wood of this colour looks under clear resin, as ``#rrggbb``."""
    return "#" + "".join(f"{round(value * WET):02x}" for value in rgb_from_hex(code))


def pour_sheet(plan: PourPlan, board: Board, names: PourNames, places: Places) -> PourSheet:
    """Return what the sheet says of a plan; `places` tells from where places are measured."""
    from img2pour.pours.resins import DATA_SHEET_NOTICE

    return PourSheet(
        order=_order(plan),
        hints=tuple(one_line(hint.words) for hint in plan.hints),
        seals=_seals(plan),
        bare_edges=tuple(
            _spot("", bare.at_mm, bare.length_mm, places) for bare in plan.seal.seal.unsealed
        ),
        thin_wood=tuple(_spot("", wall.at_mm, wall.width_mm, places) for wall in plan.thin_wood),
        coat=_coat(plan),
        stages=_stages(plan, board, names, places),
        losses=_losses(plan),
        standing=tuple(
            _spot(
                f"{line.pour}{'' if line.stands else ', too thin to stand'}",
                line.at_mm,
                line.width_mm,
                places,
            )
            for line in plan.lines
        ),
        touch_ups=plan.touch_ups,
        products=plan.totals,
        schedule=plan.schedule,
        data_sheet=DATA_SHEET_NOTICE,
    )


def _spot(what: str, at_mm: Point, size_mm: float, places: Places) -> SpotLine:
    x, y = places.seen(at_mm)
    return SpotLine(one_line(what), (x, y), size_mm)


def _order(plan: PourPlan) -> OrderSheet:
    pours = [one_line(loss.pour) for loss in plan.losses]
    choice = plan.choice
    other = choice.runner_up
    beside = [None] * len(choice.order.costs) if other is None else [c.value for c in other.costs]
    return OrderSheet(
        given=choice.given,
        order=_order_words(choice.order, pours),
        why=one_line(choice.why),
        runner_up=None if other is None else _order_words(other, pours),
        rules=tuple(
            RuleLine(cost.words, cost.unit, cost.value, value)
            for cost, value in zip(choice.order.costs, beside, strict=True)
        ),
    )


def _order_words(order: Order, pours: Sequence[str]) -> str:
    return ", then ".join(" and ".join(pours[i] for i in stage) for stage in order.stages)


def _seals(plan: PourPlan) -> tuple[SealLine, ...]:
    return tuple(
        SealLine(
            kind=option.seal.kind,
            chosen=option.seal.kind == plan.seal.seal.kind,
            total_ml=option.total_ml,
            cost=option.cost,
            days=option.days,
            edge_mm=option.seal.edge_mm,
            unsealed_mm=option.seal.unsealed_mm,
        )
        for option in plan.seal_options
    )


def _losses(plan: PourPlan) -> tuple[LossLine, ...]:
    return tuple(
        LossLine(
            pour=one_line(loss.pour),
            wished_mm2=loss.wished_mm2,
            kept_percent=100.0 * loss.kept_mm2 / loss.wished_mm2 if loss.wished_mm2 else 100.0,
            islands_mm2=loss.lost_of_kind_mm2("island"),
            narrow_mm2=loss.lost_of_kind_mm2("narrow"),
            corners_mm2=loss.lost_of_kind_mm2("corner"),
        )
        for loss in plan.losses
    )


def stage_drawings(plan: PourPlan, names: PourNames) -> tuple[StageDrawing, ...]:
    """Return the stages as they are drawn, for the names of their files and layers."""
    return tuple(
        StageDrawing(
            stage.number,
            stage.name,
            [PocketDrawing(p.pour, names.hex(p.pour), p.outline) for p in stage.pockets],
        )
        for stage in plan.stages
    )


def _coat(plan: PourPlan) -> MixSheet | None:
    """Return what to mix for a seal that is brushed: no stage of its own has it."""
    mix = plan.seal.mix
    return _mix(mix) if mix is not None and plan.seal.seal.kind == "brush" else None


def _stages(
    plan: PourPlan, board: Board, names: PourNames, places: Places
) -> tuple[StageSheet, ...]:
    drawings = stage_drawings(plan, names)
    layers = iter(stage_layer_names(drawings))
    planned = {step.stage for step in plan.schedule.steps}
    found = []
    for at, (stage, drawing) in enumerate(zip(plan.stages, drawings, strict=True)):
        hours = [s.machine_hours for s in plan.schedule.steps if s.stage == stage.number]
        found.append(
            StageSheet(
                number=stage.number,
                name=one_line(stage.name),
                kind=stage.kind,
                file=places.file_name(f"carve/{drawing.file_stem}"),
                top_mm=stage.top_mm,
                floor_mm=stage.floor_mm,
                depth_mm=stage.depth_mm,
                machine_hours=hours[0] if hours else 0.0,
                is_done=stage.number not in planned,
                pockets=tuple(
                    _pocket(pocket, stage, next(layers), names) for pocket in stage.pockets
                ),
                mixes=tuple(_mix(mix) for mix in plan.mixes[at]),
                picture=_picture(plan, at, board, names),
            )
        )
    return tuple(found)


def _pocket(pocket: StagePocket, stage: Stage, layer: str, names: PourNames) -> PocketLine:
    return PocketLine(
        pour=one_line(pocket.pour),
        resin=one_line(pocket.resin),
        hex=names.hex(pocket.pour),
        layer=layer,
        bits=tuple(one_line(bit.name) for bit in pocket.bits),
        depth_mm=pocket.depth_mm,
        floor_mm=stage.top_mm - pocket.depth_mm,
        area_mm2=float(pocket.outline.area),
        under_mm2=float(pocket.under.area),
    )


def _picture(plan: PourPlan, at: int, board: Board, names: PourNames) -> Picture:
    """Return the board after a stage; with the seal, the edge that stays bare."""
    stage, look = plan.stages[at], plan.looks[at]
    shown = [
        Shown(name, shape, names.hex(name))
        for name, shape in zip(look.names, look.shapes, strict=True)
    ]
    own = {pocket.pour for pocket in stage.pockets}
    numbers = [
        (fill.place, fill.at_mm)
        for mix in plan.mixes[at]
        for fill in mix.fills
        if fill.at_mm is not None and fill.ml >= DROP_ML
    ]
    bare = plan.seal.seal.unsealed if stage.kind == "seal" else ()
    words = f"The board after stage {stage.number}; its own pockets in full colour, numbered"
    if bare:
        words += "; edge that stays bare in magenta"
    marks = StageMarks(numbers, [edge.line for edge in bare])
    return stage_picture(shown, own, board, names.ground, marks, words)


def _mix(mix: Mix) -> MixSheet:
    resin = mix.resin
    return MixSheet(
        pour=one_line(mix.pour),
        product=one_line(resin.name),
        parts_by_volume=(resin.parts_a, resin.parts_b),
        parts_by_weight=(100.0, resin.parts_b_by_weight),
        pot_life=(
            f"about {resin.pot_life_min:g} min in the pot at {resin.pot_life_c:g} C for "
            f"{resin.pot_life_g:g} g; less when warmer or in a fuller cup"
        ),
        batches=tuple(_batch(batch) for batch in mix.batches),
        fills=tuple(
            FillLine(fill.place, fill.ml, fill.layer_ml, fill.syringe, fill.dam_mm)
            for fill in mix.fills
        ),
        cost=mix.cost,
    )


def _batch(batch: Batch) -> BatchSheet:
    measure = batch.measure
    return BatchSheet(
        layer=batch.layer,
        depth_mm=batch.depth_mm,
        pocket_ml=batch.volume_ml,
        overfill_ml=batch.overfill_ml,
        soak_ml=batch.soak_ml,
        waste_ml=batch.waste_ml,
        least_batch_ml=batch.least_batch_ml,
        total_ml=batch.total_ml,
        cups=batch.cups,
        weight=WeightMeasure(measure.a_g, measure.b_g, measure.total_g, measure.scale_step_g),
        ml=_in_cups(measure.a_ml, measure.b_ml),
        fl_oz=_in_cups(measure.a_fl_oz, measure.b_fl_oz),
        pigment_g=measure.pigment_g,
    )


def _in_cups(a: float | None, b: float | None) -> VolumeMeasure | None:
    return None if a is None or b is None else VolumeMeasure(a, b, a + b)
