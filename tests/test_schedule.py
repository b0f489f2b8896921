"""The schedule against a plan worked out by hand."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.errors import SettingsError
from img2pour.pours.resins import find_resin, standard_resins
from img2pour.pours.schedule import (
    ScheduleSettings,
    StageWork,
    cure_hours,
    plan_schedule,
)

RESIN = find_resin(standard_resins(), "table-top 1:1")  # 48 h at 21 C, 40 min in the pot
SEAL = StageWork("clear", "seal", 1.0, (RESIN,))
BLACK = StageWork("black", "pour", 2.0, (RESIN,), cut_next_with_fine_bits=True)
WHITE = StageWork("white", "pour", 1.5, (RESIN,), layers=2)


def test_a_small_job_by_hand() -> None:
    schedule = plan_schedule([BLACK])
    found = [(s.what, round(s.start_h, 2), round(s.end_h, 2)) for s in schedule.steps]
    assert found == [
        # Day 1, 0 h: half an hour of work, 6 h until the coat gels.
        ("coat the face", 0.0, 6.5),
        # 2 h do not fit into what is left of 8 h: the next morning.
        ("carve black", 24.0, 26.0),
        ("mix and pour black", 26.0, 26.75),
        # A fine bit cuts it next: 48 h x 1.5 = 72 h.
        ("let black cure", 26.75, 98.75),
        ("level black", 98.75, 99.25),
        # Half an hour of work and 48 h of cure, in reserve.
        ("touch up pinholes", 99.25, 147.75),
        ("surface the face", 147.75, 148.25),
        ("cut out the piece", 148.25, 148.75),
    ]
    assert [step.day for step in schedule.steps] == [1, 2, 2, 2, 5, 5, 7, 7]
    assert (schedule.days, schedule.days_without_reserve) == (7, 5)
    assert schedule.machine_hours == pytest.approx(2.0 + 0.5 + 0.5 + 0.5)
    assert schedule.work_hours == pytest.approx(0.5 + 0.75 + 0.5)


def test_fine_bits_and_a_cold_shop_wait_72_hours() -> None:
    warm, cold = ScheduleSettings(), ScheduleSettings(shop_c=15.0)
    assert cure_hours(RESIN, warm, fine_bits=False) == 48
    assert cure_hours(RESIN, warm, fine_bits=True) == 72
    assert cure_hours(RESIN, cold, fine_bits=False) == 72
    assert cure_hours(RESIN, cold, fine_bits=True) == 72


def test_every_cure_asks_for_the_thumbnail_test() -> None:
    schedule = plan_schedule([SEAL, BLACK, WHITE])
    cures = [step for step in schedule.steps if step.kind == "cure"]
    assert len(cures) == 3
    assert all("thumbnail" in step.note for step in cures)


def test_pot_life_is_told_at_the_shops_temperature() -> None:
    # 40 min at 21 C: twice at 11 C, half at 31 C (common practice, no source).
    for shop_c, minutes in ((21.0, 40), (31.0, 20), (11.0, 80)):
        schedule = plan_schedule([BLACK], ScheduleSettings(shop_c=shop_c))
        (pour,) = [step for step in schedule.steps if step.kind == "pour"]
        assert f"about {minutes} min in the pot at {shop_c:g} C (100 g" in pour.note


def test_each_resin_of_a_stage_is_mixed_by_itself() -> None:
    two = replace(BLACK, name="red + green", resins=(RESIN, RESIN))
    (pour,) = [s for s in plan_schedule([two]).steps if s.kind == "pour"]
    assert pour.work_hours == 1.5
    assert pour.note.count("in the pot") == 1  # the same product is told once


def test_layers_wait_for_each_other() -> None:
    steps = plan_schedule([WHITE], ScheduleSettings(face="none")).steps
    first, second = (step for step in steps if step.kind == "pour")
    assert (first.what, second.what) == (
        "mix and pour white, layer 1 of 2",
        "mix and pour white, layer 2 of 2",
    )
    # 1.5 h of carving, 0.75 h of work, 6 h of waiting: 8.25 h, so the next morning.
    assert (first.end_h, second.start_h) == (8.25, 24.0)


def test_brushed_coats_come_between_carving_and_pouring() -> None:
    coated = replace(BLACK, coats=2)
    kinds = [step.kind for step in plan_schedule([coated], ScheduleSettings(face="masking")).steps]
    assert kinds[:5] == ["prepare", "carve", "coat", "coat", "pour"]


def test_stages_that_are_done_are_planned_around() -> None:
    whole = plan_schedule([SEAL, BLACK, WHITE])
    rest = plan_schedule([SEAL, BLACK, WHITE], done=2)
    assert {step.stage for step in rest.steps} == {0, 3}
    assert rest.steps[0].what == "carve white"
    assert rest.steps[0].start_h == 0
    assert rest.days < whole.days
    everything = plan_schedule([SEAL, BLACK, WHITE], done=3)
    assert [s.what for s in everything.steps] == [
        "touch up pinholes",
        "surface the face",
        "cut out the piece",
    ]


@pytest.mark.parametrize("done", [-1, 4])
def test_more_cannot_be_done_than_there_is(done: int) -> None:
    with pytest.raises(SettingsError, match=f"done is {done}, but there are 3 stages: give 0 to 3"):
        plan_schedule([SEAL, BLACK, WHITE], done=done)


@pytest.mark.parametrize("hours", [0.0, -1.0, 25.0, math.nan])
def test_a_day_has_at_most_24_hours(hours: float) -> None:
    with pytest.raises(SettingsError, match="working day"):
        ScheduleSettings(workday_hours=hours)


def test_a_carve_longer_than_a_day_goes_on_the_next_morning() -> None:
    # 20 h in days of 8 h: 8 + 8 + 4, so it ends on the third day at 4 h.
    long = replace(BLACK, machine_hours=20.0)
    steps = plan_schedule([long], ScheduleSettings(face="none")).steps
    assert (steps[0].start_h, steps[0].end_h) == (0.0, 52.0)


WORKS = st.lists(
    st.builds(
        StageWork,
        st.just("x"),
        st.just("pour"),
        st.floats(0.1, 30),
        st.just((RESIN,)),
        st.integers(1, 3),
        st.integers(0, 2),
        st.booleans(),
    ),
    max_size=4,
)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(WORKS, st.floats(2, 24))
def test_steps_follow_each_other_and_work_happens_by_day(
    stages: list[StageWork], workday: float
) -> None:
    steps = plan_schedule(stages, ScheduleSettings(workday_hours=workday)).steps
    for before, after in itertools.pairwise(steps):
        assert after.start_h >= before.end_h - 1e-9
        assert after.number == before.number + 1
    for step in steps:
        busy = step.work_hours + step.machine_hours
        if busy > 0:
            assert step.start_h % 24 <= workday + 1e-9
            assert step.end_h - step.wait_hours - step.start_h >= busy - 1e-9
