"""Small work sheets for the tests of their writers."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import cv2
import numpy as np
import shapely
from shapely.geometry import Point, box

from img2pour.job.bits import Bit
from img2pour.job.build import make_job
from img2pour.pipeline import convert
from img2pour.pours.plan import PlanSettings, PourPlan, Tools, plan_pours
from img2pour.pours.pour import Pour
from img2pour.pours.roles import Layout
from img2pour.pours.stages import BitChoice, StageSettings
from img2pour.pours.underlap import UnderlapSettings
from img2pour.results import Result
from img2pour.write.make_sheet import sheet_of
from img2pour.write.sheet import Sheet

RADIUS_MM = 30.0
PINS = ((-10.0, 20.0, 6.0), (310.0, 50.0, 6.0))
HOSTILE = "<script>alert(1)</script>&\"'=1+1\u202e\x00\u540d"


DISC_JOB: dict[str, Any] = {
    "artwork": {"file": "pond & reeds.png"},
    "size": {"width": "300 mm"},
    "colours": {"palette": ["#e6c8aa=oak", "#143c96=pond", "#c82828=berry"], "wood": "oak"},
    "bits": {"use": ["flat 1/4 in"]},
}


def disc_picture() -> bytes:
    """Return 600 x 400 px: a blue disc of 60 px in their middle, a red speck of 4 px, on oak."""
    picture = np.full((400, 600, 3), (170.0, 200.0, 230.0))
    for (x, y), radius, bgr in (((300, 200), 60, (150, 60, 20)), ((100, 100), 4, (40, 40, 200))):
        rows, columns = np.mgrid[:400, :600] + 0.5
        share = np.clip(radius + 0.5 - np.hypot(columns - x, rows - y), 0, 1)[..., None]
        picture = picture * (1 - share) + np.array(bgr) * share
    return cv2.imencode(".png", np.rint(picture).astype(np.uint8))[1].tobytes()


@cache
def disc_result(units: str = "mm", **output: str) -> Result:
    """Return a board of 300 x 200 mm: a disc of 30 mm radius in its middle, a speck of 2 mm."""
    return convert(disc_picture(), make_job(**DISC_JOB, output={"units": units, **output}))


@cache
def pond_plan(**more: object) -> PourPlan:
    """Return the plan of a pond with a lily in it: a band of clear, then two pours."""
    board = box(0, 0, 300, 200)
    pond, lily = box(50, 40, 250, 160), Point(150, 100).buffer(RADIUS_MM, quad_segs=64)
    pours = (
        Pour("pond", "blue", ("pond",), pond.difference(lily), 30.0),
        Pour("lily", "white", ("lily",), lily, 95.0),
    )
    layout = Layout(
        pours,
        {"pond": "medium casting 2:1", "lily": "table-top 1:1"},
        {"pond": True, "lily": True},
        board.difference(pond),
        shapely.MultiPolygon(),
    )
    bits = BitChoice((Bit("flat 1/8 in", "flat", 3.175),))
    stage = StageSettings(underlap=UnderlapSettings(2.0, 1.5))
    return plan_pours(layout, board, Tools(bits, lambda _: 1.5), PlanSettings(stage=stage, **more))  # type: ignore[arg-type]


@cache
def plain_sheet() -> Sheet:
    """Return a sheet of the main job alone."""
    return sheet_of(disc_result())


@cache
def full_sheet(units: str = "mm") -> Sheet:
    """Return a sheet with planned pours."""
    return sheet_of(disc_result(units), pond_plan(), hexes={"lily": "#f5f0ff"}, pins=PINS)


@cache
def hostile_sheet() -> Sheet:
    """Return a sheet on which every text that a person may write is an attack."""
    sheet = full_sheet()
    assert sheet.pours is not None
    stages = tuple(
        replace(
            stage,
            name=HOSTILE,
            file=HOSTILE,
            pockets=tuple(
                replace(p, pour=HOSTILE, resin=HOSTILE, bits=(HOSTILE,), hex='red"onload="x')
                for p in stage.pockets
            ),
            mixes=tuple(replace(mix, pour=HOSTILE, product=HOSTILE) for mix in stage.mixes),
        )
        for stage in sheet.pours.stages
    )
    plan = sheet.pours.schedule
    steps = tuple(replace(step, what=HOSTILE, note=HOSTILE) for step in plan.steps)
    pours = replace(
        sheet.pours,
        stages=stages,
        schedule=replace(plan, steps=steps),
        order=replace(sheet.pours.order, why=HOSTILE, runner_up=HOSTILE),
    )
    return replace(
        sheet,
        title=HOSTILE,
        bits=(HOSTILE,),
        colours=tuple(replace(c, name=HOSTILE, hex=HOSTILE) for c in sheet.colours),
        removed=tuple(replace(r, colour=HOSTILE, reason=HOSTILE) for r in sheet.removed),
        places=tuple(replace(p, what=HOSTILE) for p in sheet.places),
        sections=tuple(replace(s, title=HOSTILE) for s in sheet.sections),
        pours=pours,
        warnings=(HOSTILE,),
    )
