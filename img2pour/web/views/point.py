"""What lies at one point of the board, for the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from img2pour.pointing import Point, face_at, pocket_at, upright_px
from img2pour.units import format_length
from img2pour.web.views.design import seen_from
from img2pour.write.values import Places

if TYPE_CHECKING:
    from img2pour.artwork import Geometry
    from img2pour.carve.inscribed import Polygons
    from img2pour.planning import Planned
    from img2pour.results import Result
    from img2pour.sizing import Sizing


@dataclass(frozen=True, eq=False)
class Ground:
    """What a point is looked up in: one revision of a job.

    Attributes
    ----------
    revision : int
    result : Result
    polygons : (F,) object
        Of the design's faces.
    sizing : Sizing
    geometry : Geometry
    planned : Planned or None
        Where the plan is known already.
    """

    revision: int
    result: Result
    polygons: Polygons
    sizing: Sizing
    geometry: Geometry
    planned: Planned | None


def point_view(ground: Ground, at: Point, stage: int | None) -> dict[str, Any]:
    """Return what lies at a point that is drawn at `at` (board mm, y down)."""
    result = ground.result
    at_mm = at[0], result.board.height_mm - at[1]
    face = face_at(ground.polygons, at_mm)
    colours = result.design.colours
    index = -1 if face is None else int(result.design.region_map.face_colours[face])
    colour = colours[index] if index >= 0 else None
    return {
        "face": face,
        "colour": colour and colour.name,
        "hex": colour and colour.hex,
        "role": colour.role if colour else "outside",
        "region_mm2": None if face is None else float(ground.polygons[face].area),
        "upright_px": [round(x, 2) for x in upright_px(at_mm, ground.sizing, ground.geometry)],
        "at_mm": _places(ground).seen(at_mm),
        **_pocket(ground, at_mm, stage),
    }


def _places(ground: Ground) -> Places:
    job, board = ground.result.job, ground.result.board
    return Places(job.output.zero_mm(board.width_mm, board.height_mm), str)


def _pocket(ground: Ground, at_mm: Point, stage: int | None) -> dict[str, Any]:
    """Return the pocket at a point and what fills it; null where the plan is not known."""
    found = None if ground.planned is None else pocket_at(ground.planned, at_mm, stage)
    if found is None:
        return {"pocket": None, "fill": None, "planned": ground.planned is not None}
    result, fill = ground.result, found.fill
    seen = seen_from(result.job, result.board.width_mm, result.board.height_mm)
    inside = found.polygon.representative_point()
    at = (inside.x, inside.y) if fill is None or fill.at_mm is None else fill.at_mm
    pocket = {
        "pour": found.pocket.pour,
        "stage": found.stage.number,
        "ml": None if fill is None else fill.ml,
        "depth_mm": found.pocket.depth_mm,
        "depth_text": format_length(found.pocket.depth_mm, seen.units),
        "floor_mm": found.floor_mm,
        "bits": [bit.name for bit in found.pocket.bits],
        "at_mm": _places(ground).seen(at),
        "xy": seen.xy(_places(ground).seen(at)),
    }
    return {"pocket": pocket, "fill": _fill(fill), "planned": True}


def _fill(fill: Any) -> dict[str, Any] | None:
    if fill is None:
        return None
    return {
        "place": fill.place,
        "ml": fill.ml,
        "layer_ml": list(fill.layer_ml),
        "syringe": fill.syringe,
        "dam_mm": fill.dam_mm,
    }
