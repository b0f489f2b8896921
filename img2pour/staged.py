"""The plan of the pours as report data, as drawings for the machine, and with pins in the waste."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from img2pour.board_edges import carried_off
from img2pour.planning import PIN_ROOM
from img2pour.units import fl_oz_from_ml
from img2pour.write.make_pours import wet_hex
from img2pour.write.stage_drawings import PocketDrawing, StageDrawing, stage_layer_names

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.planning import Planned
    from img2pour.pours.look import PourLoss
    from img2pour.pours.measures import Measure
    from img2pour.pours.mixes import Mix
    from img2pour.pours.order import Choice, Order, RuleCost
    from img2pour.pours.plan_values import PourPlan
    from img2pour.pours.schedule import Schedule
    from img2pour.pours.seal_options import SealOption
    from img2pour.pours.totals import ProductTotal
    from img2pour.pours.touch_ups import TouchUp
    from img2pour.write.values import Board, Places

Pin = tuple[float, float, float]

MOST_PLACES = 50
"""Lost places that are listed for each pour, the largest first."""

PIN_HEIGHTS = (0.30, 0.62)
"""Shares of the board's height at which the pins stand, left and right: turned or mirrored, the
board does not go back on them."""


def pins_of(job: Job, board: Board) -> tuple[Pin, ...]:
    """Return the two pins, in mm from the board's lower-left corner; none without room for them."""
    margin_mm, width_mm = job.blank.margin.mm, job.blank.pin_width.mm
    if not job.blank.pins or margin_mm < PIN_ROOM * width_mm:
        return ()
    left, right = PIN_HEIGHTS
    return (
        (-margin_mm / 2, left * board.height_mm, width_mm),
        (board.width_mm + margin_mm / 2, right * board.height_mm, width_mm),
    )


def drawings_of(planned: Planned, ground: str) -> list[StageDrawing]:
    """Return what is carved in each stage; the clear of the seal is drawn like wet wood."""
    drawings = []
    for stage in planned.plan.stages:
        pockets = [
            PocketDrawing(
                pocket.pour, planned.hexes.get(pocket.pour, wet_hex(ground)), pocket.outline
            )
            for pocket in stage.pockets
        ]
        drawings.append(StageDrawing(stage.number, stage.name, pockets))
    return drawings


def cut_drawings_of(planned: Planned, ground: str, board: Board, job: Job) -> list[StageDrawing]:
    """Return what is cut in each stage: pockets that run off the board go past its edge."""
    drawings = []
    for drawing, stage in zip(drawings_of(planned, ground), planned.plan.stages, strict=True):
        outlines = carried_off(
            [pocket.outline for pocket in stage.pockets],
            [pocket.bits for pocket in stage.pockets],
            [pocket.depth_mm for pocket in stage.pockets],
            board,
            job,
        )
        pockets = [
            replace(pocket, outline=outline)
            for pocket, outline in zip(drawing.pockets, outlines, strict=True)
        ]
        drawings.append(replace(drawing, pockets=pockets))
    return drawings


def stages_data(
    planned: Planned, drawings: Sequence[StageDrawing], places: Places
) -> list[dict[str, Any]]:
    """Return the stages as the report states them, with what is drawn for them."""
    layers = iter(stage_layer_names(drawings))
    plan = planned.plan
    return [
        {
            "number": stage.number,
            "name": stage.name,
            "kind": stage.kind,
            "done": stage.number <= planned.done,
            "file": places.file_name(f"carve/{drawing.file_stem}"),
            "top_mm": stage.top_mm,
            "machine_hours": _machine_hours(plan.schedule, stage.number),
            "pockets": [
                {
                    "pour": pocket.pour,
                    "layer": next(layers),
                    "area_mm2": float(pocket.outline.area),
                    "drawn_mm2": drawn.area_mm2,
                    "under_later_mm2": float(pocket.under.area),
                    "depth_mm": pocket.depth_mm,
                    "floor_mm": stage.top_mm - pocket.depth_mm,
                    "bits": [bit.name for bit in pocket.bits],
                }
                for pocket, drawn in zip(stage.pockets, drawing.pockets, strict=True)
            ],
            "mixes": [_mix(mix, places) for mix in mixes],
        }
        for stage, drawing, mixes in zip(plan.stages, drawings, plan.mixes, strict=True)
    ]


def _machine_hours(schedule: Schedule, stage: int) -> float:
    """Return the hours of a stage at the machine."""
    return sum(step.machine_hours for step in schedule.steps if step.stage == stage)


def _mix(mix: Mix, places: Places) -> dict[str, Any]:
    """Return what to measure out for one pour."""
    return {
        "pour": mix.pour,
        "product": mix.resin.name,
        "cost": mix.cost,
        "batches": [
            {
                "layer": batch.layer,
                "depth_mm": batch.depth_mm,
                "pockets_ml": batch.volume_ml,
                "overfill_ml": batch.overfill_ml,
                "soak_ml": batch.soak_ml,
                "waste_ml": batch.waste_ml,
                "least_batch_ml": batch.least_batch_ml,
                **_measured(batch.measure),
            }
            for batch in mix.batches
        ],
        "pockets": [
            {
                "place": share.place,
                "ml": share.ml,
                "syringe": share.syringe,
                "dam_mm": share.dam_mm,
                "at_mm": None if share.at_mm is None else places.seen(share.at_mm),
            }
            for share in mix.fills
        ],
    }


def plan_data(planned: Planned, places: Places) -> dict[str, Any]:
    """Return what the plan says as a whole."""
    plan = planned.plan
    return {
        "order": _order(planned),
        "seals": [_seal(option, plan.seal.seal.kind) for option in plan.seal_options],
        "coat": _coat(plan, places),
        "losses": [_loss(loss, places) for loss in plan.losses],
        **_spots(plan, places),
        "uncut": [
            {"pour": one.pour, "area_mm2": one.area_mm2, "shut": one.shut} for one in plan.uncut
        ],
        "hints": [hint.words for hint in plan.hints],
        "touch_ups": [_touch_up(one) for one in plan.touch_ups],
        "products": [_product(total) for total in plan.totals],
        "total_ml": sum(total.total_ml for total in plan.totals),
        "cost": sum(total.cost for total in plan.totals),
        "schedule": _schedule(plan.schedule),
        "findings": [finding.words for finding in plan.findings],
    }


def _coat(plan: PourPlan, places: Places) -> dict[str, Any] | None:
    """Return what to mix for a seal that is brushed: no stage of its own has it."""
    mix = plan.seal.mix
    return _mix(mix, places) if mix is not None and plan.seal.seal.kind == "brush" else None


def _spots(plan: PourPlan, places: Places) -> dict[str, Any]:
    """Return where edge stays bare, where lines are left standing and where wood is thin."""
    return {
        "unsealed": [
            {"at_mm": places.seen(edge.at_mm), "length_mm": edge.length_mm}
            for edge in plan.seal.seal.unsealed
        ],
        "standing_lines": [
            {
                "pour": line.pour,
                "at_mm": places.seen(line.at_mm),
                "width_mm": line.width_mm,
                "area_mm2": line.area_mm2,
                "stands": line.stands,
            }
            for line in plan.lines
        ],
        "thin_wood": [
            {
                "at_mm": places.seen(wall.at_mm),
                "width_mm": wall.width_mm,
                "area_mm2": wall.area_mm2,
            }
            for wall in plan.thin_wood
        ],
    }


def _touch_up(one: TouchUp) -> dict[str, Any]:
    """Return what to mix of one coloured resin for pinholes."""
    return {
        "resin": one.name,
        "product": one.resin.name,
        **_measured(one.measure),
        "cost": one.cost,
    }


def _measured(measure: Measure) -> dict[str, Any]:
    """Return what to measure out, by weight and by volume."""
    return {
        "total_ml": measure.total_ml,
        "total_fl_oz": measure.total_fl_oz,
        "a_g": measure.a_g,
        "b_g": measure.b_g,
        "a_ml": measure.a_ml,
        "b_ml": measure.b_ml,
        "a_fl_oz": measure.a_fl_oz,
        "b_fl_oz": measure.b_fl_oz,
        "pigment_g": measure.pigment_g,
    }


def _product(total: ProductTotal) -> dict[str, Any]:
    """Return what to have in the shop of one product."""
    return {
        "product": total.resin.name,
        "pours": list(total.pours),
        "total_ml": total.total_ml,
        "total_fl_oz": total.total_fl_oz,
        "a_g": total.a_g,
        "b_g": total.b_g,
        "pigment_g": total.pigment_g,
        "cost": total.cost,
    }


def _order(planned: Planned) -> dict[str, Any]:
    """Return the order of the pours, why it is so, and the runner-up."""
    choice = planned.plan.choice
    names = [pour.name for pour in planned.layout.pours]

    def by_name(order: Order) -> list[list[str]]:
        return [[names[i] for i in stage] for stage in order.stages]

    return {
        "pours": names,
        "stages": by_name(choice.order),
        "given": choice.given,
        "why": choice.why,
        "runner_up": None if choice.runner_up is None else by_name(choice.runner_up),
        "rules": [
            {
                "rule": cost.words,
                "value": cost.value,
                "unit": cost.unit,
                "runner_up": None if other is None else other.value,
            }
            for cost, other in _rule_pairs(choice)
        ],
    }


def _rule_pairs(choice: Choice) -> list[tuple[RuleCost, RuleCost | None]]:
    costs = choice.order.costs
    if choice.runner_up is None:
        return [(cost, None) for cost in costs]
    return list(zip(costs, choice.runner_up.costs, strict=True))


def _seal(option: SealOption, chosen: str) -> dict[str, Any]:
    """Return one way to seal, to be compared."""
    return {
        "kind": option.seal.kind,
        "chosen": option.seal.kind == chosen,
        "volume_ml": option.total_ml,
        "volume_fl_oz": fl_oz_from_ml(option.total_ml),
        "cost": option.cost,
        "days": option.days,
        "edge_mm": option.seal.edge_mm,
        "unsealed_mm": option.seal.unsealed_mm,
    }


def _loss(loss: PourLoss, places: Places) -> dict[str, Any]:
    """Return what one pour loses, in which way, and where most of it lies."""
    return {
        "pour": loss.pour,
        "wished_mm2": loss.wished_mm2,
        "kept_mm2": loss.kept_mm2,
        "islands_mm2": loss.lost_of_kind_mm2("island"),
        "narrow_mm2": loss.lost_of_kind_mm2("narrow"),
        "corners_mm2": loss.lost_of_kind_mm2("corner"),
        "places": [
            {"kind": place.kind, "at_mm": places.seen(place.at_mm), "area_mm2": place.area_mm2}
            for place in loss.places[:MOST_PLACES]
        ],
    }


def _schedule(schedule: Schedule) -> dict[str, Any]:
    """Return the days, the hours, and every step."""
    return {
        "days": schedule.days,
        "days_without_reserve": schedule.days_without_reserve,
        "machine_hours": schedule.machine_hours,
        "work_hours": schedule.work_hours,
        "steps": [
            {
                "number": step.number,
                "stage": step.stage,
                "what": step.what,
                "start_h": step.start_h,
                "end_h": step.end_h,
                "work_hours": step.work_hours,
                "machine_hours": step.machine_hours,
                "wait_hours": step.wait_hours,
            }
            for step in schedule.steps
        ],
    }
