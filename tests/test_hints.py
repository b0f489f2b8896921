"""What another stage would win, and the hours of a stage."""

import pytest
import shapely
from shapely.geometry import Point, box

from img2pour.job.bits import Bit
from img2pour.pours.hints import stage_hints
from img2pour.pours.look import fold_looks, reach_of_bits
from img2pour.pours.machine import hours_of_bits
from img2pour.pours.pour import Pour
from img2pour.pours.stages import BitChoice, Stage, StagePocket, StageSettings, plan_stages
from img2pour.pours.underlap import UnderlapSettings

FLAT = Bit("flat 1/8 in", "flat", 3.175, feed_mm_min=1200.0, stepover_share=0.4)
BOARD = box(0, 0, 120, 100)
SETTINGS = StageSettings(underlap=UnderlapSettings(2.0, 1.0))
DOTS = shapely.MultiPolygon([Point(x, 50).buffer(1.0, quad_segs=32) for x in (40, 50, 60)])
MOON = Point(90, 50).buffer(8, quad_segs=32)
WHITE = Pour("white", "white", (), shapely.union(DOTS, MOON), 95.0)
FIELD = Pour("sea", "blue", (), box(20, 20, 110, 80).difference(WHITE.shape), 30.0)
WOOD = BOARD.difference(box(20, 20, 110, 80))


def hints_for(pours: list[Pour], order: tuple[tuple[int, ...], ...]) -> list[tuple[object, ...]]:
    stages = plan_stages(pours, order, WOOD, BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    return [(h.pour, h.before, h.regions) for h in stage_hints(pours, stages, look)]


def test_dots_lost_in_a_field_would_stand_if_poured_first() -> None:
    stages = plan_stages([FIELD, WHITE], ((0,), (1,)), WOOD, BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    (hint,) = stage_hints([FIELD, WHITE], stages, look)
    assert (hint.pour, hint.before, hint.regions) == ("white", ("sea",), 3)
    assert hint.area_mm2 == pytest.approx(DOTS.area)
    assert "3 small regions of white (9 mm2, none above 3.1 mm2) are lost" in hint.words


def test_following_the_hint_keeps_them() -> None:
    dots = Pour("dots", "white", (), DOTS, 95.0)
    moon = Pour("moon", "white", (), MOON, 95.0)
    pours = [dots, FIELD, moon]
    stages = plan_stages(pours, ((0,), (1,), (2,)), WOOD, BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    assert look.shape("dots").intersection(DOTS).area == pytest.approx(DOTS.area, rel=1e-3)
    assert stage_hints(pours, stages, look) == ()


def test_dots_in_wood_cannot_be_saved_by_an_order() -> None:
    alone = Pour("white", "white", (), DOTS, 95.0)
    assert hints_for([alone], ((0,),)) == []


def test_nothing_is_said_when_nothing_is_lost() -> None:
    assert hints_for([WHITE, FIELD], ((0,), (1,))) == []


def test_hours_follow_the_feed() -> None:
    def stage(bit: Bit) -> Stage:
        shape = shapely.MultiPolygon([box(20, 20, 110, 80)])
        pocket = StagePocket("sea", "blue", shape, shapely.MultiPolygon(), 3.175, (bit,))
        return Stage(1, "sea", "pour", (pocket,), 19.05)

    slow = hours_of_bits(0.5)(stage(FLAT))
    quick = Bit("flat 1/8 in", "flat", 3.175, feed_mm_min=2400.0, stepover_share=0.4)
    # By hand: 90 x 60 mm at a step of 0.4 x 3.175 = 1.27 mm is 4252 mm, the edge about 297 mm; 3
    # passes of 1.5 mm at 1200 mm a minute: 11.4 minutes.
    assert slow * 60 == pytest.approx(3 * (5400 / 1.27 + 297) / 1200, rel=0.02)
    assert hours_of_bits(0.5)(stage(quick)) == pytest.approx(slow / 2, rel=0.01)
