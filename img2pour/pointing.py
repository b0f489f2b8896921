"""What lies at a point of the board: the region, its pocket, and where the picture shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.pours.geometry import polygons_of

if TYPE_CHECKING:
    from img2pour.artwork import Geometry
    from img2pour.carve.inscribed import Polygons
    from img2pour.planning import Planned
    from img2pour.pours.mixes import FillShare
    from img2pour.pours.stages import Stage, StagePocket
    from img2pour.sizing import Sizing

Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class PocketAt:
    """The pocket that shows at a point: that of the last stage that is carved there.

    Attributes
    ----------
    stage : Stage
    pocket : StagePocket
    polygon : shapely Polygon
        The very pocket of them.
    fill : FillShare or None
        What is poured into it.
    """

    stage: Stage
    pocket: StagePocket
    polygon: shapely.Polygon
    fill: FillShare | None

    @property
    def floor_mm(self) -> float:
        """Its floor above the machine's bed."""
        return self.stage.top_mm - self.pocket.depth_mm


def upright_px(at_mm: Point, sizing: Sizing, geometry: Geometry) -> Point:
    """Return where the upright input shows a point of the board, in pixels."""
    artwork = sizing.placement.inverse().apply(np.array([at_mm]))
    return geometry.to_upright((float(artwork[0, 0]), float(artwork[0, 1])))


def board_mm(at_px: Point, sizing: Sizing, geometry: Geometry) -> Point:
    """Return where on the board a pixel of the upright input comes to lie."""
    x, y = sizing.placement.apply(np.array([geometry.to_artwork(at_px)]))[0]
    return float(x), float(y)


def face_at(polygons: Polygons, at_mm: Point) -> int | None:
    """Return the face that a point lies in, the first of those that it bounds; None beside all."""
    hit = shapely.intersects_xy(polygons, *at_mm)
    faces = np.flatnonzero(hit)
    return int(faces[0]) if len(faces) else None


def pocket_at(planned: Planned, at_mm: Point, stage: int | None = None) -> PocketAt | None:
    """Return the pocket at a point after a stage, by default after the last one.

    Parameters
    ----------
    planned : Planned
    at_mm : (x, y)
    stage : int, optional
        Number of the stage, from 1.
    """
    point = shapely.Point(at_mm)
    plan = planned.plan
    for one, mixes in reversed(list(zip(plan.stages, plan.mixes, strict=True))):
        if stage is not None and one.number > stage:
            continue
        for pocket in one.pockets:
            for polygon in polygons_of(pocket.outline):
                if polygon.intersects(point):
                    fills = [mix.fills for mix in mixes if mix.pour == pocket.pour]
                    shares = [share for own in fills for share in own]
                    return PocketAt(one, pocket, polygon, _fill_in(polygon, shares))
    return None


def _fill_in(polygon: shapely.Polygon, shares: list[FillShare]) -> FillShare | None:
    """Return the fill whose number stands in a pocket."""
    for share in shares:
        if share.at_mm is not None and polygon.intersects(shapely.Point(share.at_mm)):
            return share
    return None
