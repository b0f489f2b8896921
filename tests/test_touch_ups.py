"""The reserve for pinholes, worked out by hand."""

from __future__ import annotations

import pytest

from img2pour.pours.mixes import Fill, plan_mix
from img2pour.pours.resins import find_resin, standard_resins
from img2pour.pours.totals import product_totals
from img2pour.pours.touch_ups import plan_touch_ups

TABLE = standard_resins()
ONE = find_resin(TABLE, "table-top 1:1")
MEDIUM = find_resin(TABLE, "medium casting 2:1")


def test_ten_ml_of_one_to_one_is_five_and_five() -> None:
    (touch_up,) = plan_touch_ups([("sea", ONE, True)], 10.0)
    measure = touch_up.measure
    assert (measure.a_ml, measure.b_ml) == (5.5, 5.5)
    # The smaller part must weigh 5 g: B of 0.98 g/ml or less needs a little more than 5 ml of it.
    assert min(measure.a_g, measure.b_g) >= 5.0
    assert measure.total_ml == 11.0
    assert touch_up.cost == pytest.approx(11.0 * ONE.price_per_litre / 1000)
    assert measure.pigment_g == pytest.approx(measure.total_g * ONE.pigment_share, abs=0.05)


def test_a_lean_part_is_never_too_little_to_weigh() -> None:
    (touch_up,) = plan_touch_ups([("sea", MEDIUM, False)], 3.0)
    assert min(touch_up.measure.a_g, touch_up.measure.b_g) >= 5.0
    assert touch_up.measure.pigment_g == 0.0


def test_each_coloured_resin_once_and_none_without_a_reserve() -> None:
    casts = [("white", ONE, True), ("navy", ONE, True), ("white", ONE, True)]
    assert [one.name for one in plan_touch_ups(casts, 10.0)] == ["white", "navy"]
    assert plan_touch_ups(casts, 0.0) == ()


def test_the_totals_count_it() -> None:
    mix = plan_mix("sea", ONE, [Fill("1", 100_000.0, 10_000.0, 10.0)])
    (reserve,) = plan_touch_ups([("sea", ONE, True)], 10.0)
    (bare,), (whole,) = product_totals([mix]), product_totals([mix], [(ONE, reserve.measure)])
    assert whole.pours == ("sea",)
    assert whole.total_ml - bare.total_ml == pytest.approx(reserve.measure.total_ml)
    assert whole.a_g - bare.a_g == pytest.approx(reserve.measure.a_g)
    assert whole.cost - bare.cost == pytest.approx(reserve.cost)
