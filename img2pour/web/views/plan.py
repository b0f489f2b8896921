"""The plan of the pours for the page: stages with their pockets, their look, their mixes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from img2pour.results import ground_colour
from img2pour.units import format_length
from img2pour.web.views import drawn
from img2pour.web.views.design import seen_from
from img2pour.write.make_pours import PourNames

if TYPE_CHECKING:
    from img2pour.pours.look import Look
    from img2pour.pours.stages import Stage
    from img2pour.results import Result
    from img2pour.web.views.design import Seen


def plan_view(result: Result) -> dict[str, Any]:
    """Return what is carved and poured when; ``stages`` is empty where nothing is poured."""
    planned = result.planned
    if planned is None:
        return {"stages": [], "days": 0, "order": None}
    data = result.report["plan"]
    height_mm = result.board.height_mm
    seen = seen_from(result.job, result.board.width_mm, height_mm)
    names = PourNames.of(result.design.colours, planned.hexes, ground_colour(result.design))
    rows = zip(planned.plan.stages, planned.plan.looks, result.report["stages"], strict=True)
    return {
        "days": data["schedule"]["days"],
        "days_alone": planned.plan.days_alone,
        "machine_hours": data["schedule"]["machine_hours"],
        "cost": data["cost"],
        "total_ml": data["total_ml"],
        "order": data["order"],
        "done": planned.done,
        "kept_stages": [list(stage) for stage in planned.stages],
        "stages": [_stage(stage, look, row, names, seen) for stage, look, row in rows],
        "seals": data["seals"],
        "coat": data["coat"],
        "unsealed": [
            {
                **row,
                "xy": seen.xy(row["at_mm"]),
                "length_text": format_length(row["length_mm"], seen.units),
            }
            for row in data["unsealed"]
        ],
        "losses": data["losses"],
        "standing_lines": [{**row, "xy": seen.xy(row["at_mm"])} for row in data["standing_lines"]],
        "thin_wood": [{**row, "xy": seen.xy(row["at_mm"])} for row in data["thin_wood"]],
        "touch_ups": data["touch_ups"],
        "products": data["products"],
        "schedule": data["schedule"],
        "findings": data["findings"],
        "cautions": _cautions(),
        "hints": data["hints"],
        "wood_hex": names.ground,
    }


def _cautions() -> list[dict[str, str]]:
    from img2pour.pours.cautions import CAUTIONS

    return [{"title": one.title, "text": one.text} for one in CAUTIONS]


def _stage(
    stage: Stage, look: Look, row: dict[str, Any], names: PourNames, seen: Seen
) -> dict[str, Any]:
    """Return one stage: what is carved, and the board after it."""
    height_mm = seen.height_mm
    return {
        "number": stage.number,
        "name": stage.name,
        "kind": stage.kind,
        "seal": stage.kind == "seal",
        "done": row["done"],
        "file": row["file"],
        "top_mm": stage.top_mm,
        "machine_hours": row["machine_hours"],
        "pockets": [
            {
                "pour": pocket.pour,
                "resin": pocket.resin,
                "hex": names.hex(pocket.pour),
                "d": drawn.shape(pocket.outline, height_mm),
                "under_d": drawn.shape(pocket.under, height_mm),
                "depth_mm": pocket.depth_mm,
                "depth_text": format_length(pocket.depth_mm, seen.units),
                "floor_mm": stage.top_mm - pocket.depth_mm,
                "bits": [bit.name for bit in pocket.bits],
                "area_mm2": told["area_mm2"],
                "layer": told["layer"],
                "ml": sum(
                    batch["pockets_ml"]
                    for mix in row["mixes"]
                    if mix["pour"] == pocket.pour
                    for batch in mix["batches"]
                ),
            }
            for pocket, told in zip(stage.pockets, row["pockets"], strict=True)
        ],
        "look": [
            {"pour": name, "hex": names.hex(name), "d": drawn.shape(shape, height_mm)}
            for name, shape in zip(look.names, look.shapes, strict=True)
        ],
        "mixes": [_mix(mix, seen) for mix in row["mixes"]],
        "words": [],
    }


def _mix(mix: dict[str, Any], seen: Seen) -> dict[str, Any]:
    """Return a mix with the drawing points of its pockets."""
    pockets = [
        {**one, "xy": None if one["at_mm"] is None else seen.xy(one["at_mm"])}
        for one in mix["pockets"]
    ]
    return {**mix, "pockets": pockets}
