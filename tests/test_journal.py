"""What is learnt from the log, worked out by hand."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.errors import SettingsError
from img2pour.pours.journal import LogEntry, learn, log_entry
from img2pour.pours.mixes import Fill, MixSettings, plan_mix
from img2pour.pours.resins import find_resin, standard_resins

RESIN = find_resin(standard_resins(), "medium casting 2:1")


def test_an_entry_stands_beside_its_plan() -> None:
    # 300 x 200 x 6 mm: 360 ml, 24 ml proud; bare floor 60000 mm2 x 0.1 mm = 6 ml soak; waste 10 %
    # of 390 = 39 ml.
    fill = Fill("1", 360000.0, 60000.0, 6.0, bare_floor_mm2=60000.0)
    entry = log_entry(plan_mix("sea", RESIN, [fill]), mixed_ml=435.0, left_ml=21.0)
    assert entry.pocket_ml == pytest.approx(384.0)
    assert entry.allowed_ml == pytest.approx(45.0)
    assert entry.taken_ml == pytest.approx(30.0)  # 435 - 21 - 384


def test_waste_and_soak_follow_the_log_by_half_after_one_pour() -> None:
    # 30 ml of 45 ml were taken: a ratio of 2/3. One pour counts half: 1 - 1/3 x 1/2 = 5/6.
    learned = learn([LogEntry("sea", 435.0, 21.0, 384.0, 45.0)])
    assert learned.factor == pytest.approx(5 / 6)
    assert learned.settings.waste_share == pytest.approx(0.10 * 5 / 6)
    assert learned.settings.soak_mm == pytest.approx(0.10 * 5 / 6)
    assert learned.settings.least_waste_ml == pytest.approx(10 * 5 / 6)
    assert learned.settings.overfill_mm == MixSettings().overfill_mm
    assert learned.words == (
        "after the log of 1 pour (30 ml went beyond the pockets, 45 ml were allowed): waste 10.0% "
        "becomes 8.3%, at least 10.0 ml becomes 8.3 ml, soak 0.10 mm becomes 0.08 mm"
    )


def test_many_pours_count_more() -> None:
    # Three times the same: 1 - 1/3 x 3/4 = 3/4.
    assert learn([LogEntry("sea", 435.0, 21.0, 384.0, 45.0)] * 3).factor == pytest.approx(0.75)


def test_as_planned_changes_nothing() -> None:
    learned = learn([LogEntry("sea", 429.0, 0.0, 384.0, 45.0)])
    assert learned.factor == pytest.approx(1.0)
    assert learned.settings.waste_share == pytest.approx(0.10)
    assert learn([]).words == ""
    assert learn([]).settings == MixSettings()


@pytest.mark.parametrize(
    ("mixed", "left", "message"),
    [
        (0.0, 0.0, "log of 'sea': mixed is 0 ml; give more than 0"),
        (50.0, 60.0, "log of 'sea': 60 ml are left of 50 ml mixed; give 0 to 50"),
        (50.0, -1.0, "log of 'sea': -1 ml are left"),
    ],
)
def test_a_log_that_cannot_be_is_told(mixed: float, left: float, message: str) -> None:
    mix = plan_mix("sea", RESIN, [Fill("1", 1000.0, 100.0, 10.0)])
    with pytest.raises(SettingsError, match=message):
        log_entry(mix, mixed, left)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(1, 900), st.floats(0, 1), st.floats(1, 900), st.floats(0, 90)),
        max_size=6,
    )
)
def test_it_never_leaves_its_bounds(rows: list[tuple[float, float, float, float]]) -> None:
    entries = [
        LogEntry("x", mixed, mixed * left, pocket, extra) for mixed, left, pocket, extra in rows
    ]
    learned = learn(entries)
    assert 0.5 <= learned.factor <= 2.0
    assert 0.05 <= learned.settings.waste_share <= 0.2
    assert 0.05 <= learned.settings.soak_mm <= 0.2
