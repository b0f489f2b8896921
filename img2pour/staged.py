"""The plan of the pours as report data, as drawings for the machine, and with pins in the waste."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from img2pour.write.make_pours import wet_hex
from img2pour.write.stage_drawings import PocketDrawing, StageDrawing, stage_layer_names

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.planning import Planned
    from img2pour.pours.mixes import Mix
    from img2pour.write.values import Board

Pin = tuple[float, float, float]

PIN_HEIGHTS = (0.30, 0.62)
"""Shares of the board's height at which the pins stand, left and right: turned or mirrored, the
board does not go back on them."""


def pins_of(job: Job, board: Board) -> tuple[Pin, ...]:
    """Return the two pins, in mm from the board's lower-left corner; none without room for them."""
    margin_mm, width_mm = job.blank.margin.mm, job.blank.pin_width.mm
    if not job.blank.pins or margin_mm < 1.5 * width_mm:
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


def stages_data(planned: Planned, ground: str) -> list[dict[str, Any]]:
    """Return the stages as the report states them."""
    drawings = drawings_of(planned, ground)
    layers = iter(stage_layer_names(drawings))
    plan = planned.plan
    return [
        {
            "number": stage.number,
            "name": stage.name,
            "kind": stage.kind,
            "file": f"carve/{drawing.file_stem}.dxf",
            "top_mm": stage.top_mm,
            "pockets": [
                {
                    "pour": pocket.pour,
                    "layer": next(layers),
                    "area_mm2": float(pocket.outline.area),
                    "depth_mm": pocket.depth_mm,
                    "floor_mm": stage.top_mm - pocket.depth_mm,
                    "bits": [bit.name for bit in pocket.bits],
                }
                for pocket in stage.pockets
            ],
            "mixes": [_mix(mix) for mix in mixes],
        }
        for stage, drawing, mixes in zip(plan.stages, drawings, plan.mixes, strict=True)
    ]


def _mix(mix: Mix) -> dict[str, Any]:
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
                "total_ml": batch.measure.total_ml,
                "total_fl_oz": batch.measure.total_fl_oz,
                "a_g": batch.measure.a_g,
                "b_g": batch.measure.b_g,
                "a_ml": batch.measure.a_ml,
                "b_ml": batch.measure.b_ml,
                "pigment_g": batch.measure.pigment_g,
            }
            for batch in mix.batches
        ],
        "pockets": [
            {
                "place": share.place,
                "ml": share.ml,
                "syringe": share.syringe,
                "dam_mm": share.dam_mm,
                "at_mm": None if share.at_mm is None else list(share.at_mm),
            }
            for share in mix.fills
        ],
    }


def plan_data(planned: Planned) -> dict[str, Any]:
    """Return what the plan says as a whole."""
    plan = planned.plan
    return {
        "order": {
            "pours": [pour.name for pour in planned.layout.pours],
            "stages": [
                [planned.layout.pours[i].name for i in stage] for stage in plan.choice.order.stages
            ],
            "given": plan.choice.given,
            "why": plan.choice.why,
        },
        "seals": [
            {
                "kind": option.seal.kind,
                "chosen": option.seal.kind == plan.seal.seal.kind,
                "volume_ml": option.total_ml,
                "cost": option.cost,
                "days": option.days,
                "edge_mm": option.seal.edge_mm,
                "unsealed_mm": option.seal.unsealed_mm,
            }
            for option in plan.seal_options
        ],
        "losses": [
            {
                "pour": loss.pour,
                "wished_mm2": loss.wished_mm2,
                "kept_mm2": loss.kept_mm2,
            }
            for loss in plan.losses
        ],
        "standing_lines": len(plan.lines),
        "products": [
            {
                "product": total.resin.name,
                "pours": list(total.pours),
                "total_ml": total.total_ml,
                "total_fl_oz": total.total_fl_oz,
                "a_g": total.a_g,
                "b_g": total.b_g,
                "cost": total.cost,
            }
            for total in plan.totals
        ],
        "schedule": {
            "days": plan.schedule.days,
            "days_without_reserve": plan.schedule.days_without_reserve,
            "machine_hours": plan.schedule.machine_hours,
            "work_hours": plan.schedule.work_hours,
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
                for step in plan.schedule.steps
            ],
        },
        "findings": [finding.words for finding in plan.findings],
    }
