"""Mixes against worked examples done by hand; the arithmetic stands beside each figure."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.pours.measures import measure_out, round_up
from img2pour.pours.mixes import Fill, MixSettings, join_warnings, plan_mix
from img2pour.pours.resins import Resin, find_resin, standard_resins
from img2pour.pours.totals import product_totals

MEDIUM = find_resin(standard_resins(), "medium casting 2:1")  # 2:1, 1.15 and 0.98 g/ml, 28 a litre
ONE_TO_ONE = find_resin(standard_resins(), "table-top 1:1")
ML_PER_FL_OZ = 29.5735295625  # NIST Handbook 44, appendix C: US gallon of 231 in3 / 128
ML_PER_IN3 = 16.387064  # exact: 2.54 cubed

# A pocket of 100 x 50 mm, 3.175 mm deep, upright walls, all of it bare wood:
# volume 100 x 50 x 3.175 = 15875 mm3; floor 5000 mm2; walls 300 x 3.175 = 952.5 mm2.
POCKET = Fill("1", 15875.0, 5000.0, 3.175, bare_floor_mm2=5000.0, bare_wall_mm2=952.5)


def test_a_small_pour_by_hand() -> None:
    mix = plan_mix("black", MEDIUM, [POCKET])
    (batch,) = mix.batches
    assert batch.volume_ml == pytest.approx(15.875)
    assert batch.overfill_ml == pytest.approx(2.0)  # 5000 mm2 x 0.4 mm = 2000 mm3
    assert batch.soak_ml == pytest.approx(0.59525)  # 5952.5 mm2 x 0.1 mm
    # Net 15.875 + 2 + 0.59525 = 18.47025; 10 % of it is 1.85, but a cup loses at least 10 ml.
    assert batch.waste_ml == pytest.approx(10.0)
    # 28.47025 ml is less than the least batch of 30 ml: 1.52975 ml more.
    assert batch.least_batch_ml == pytest.approx(1.52975)
    assert batch.total_ml == pytest.approx(30.0)
    # 2:1 by volume: 30 / 3 = 10, so 20 ml and 10 ml.
    assert (batch.measure.a_ml, batch.measure.b_ml) == (20.0, 10.0)
    # By weight it is not 2:1: 20 x 1.15 = 23.0 g and 10 x 0.98 = 9.8 g.
    assert (batch.measure.a_g, batch.measure.b_g) == (23.0, 9.8)
    assert batch.measure.pigment_g == 1.0  # 3 % of 32.8 g = 0.984 g
    assert mix.cost == pytest.approx(0.84)  # 0.030 l x 28


def test_a_large_pour_by_hand() -> None:
    # 300 x 200 x 6 mm: 360 ml. Overfill 60000 x 0.4 = 24 ml. No bare wood. Net 384, waste 38.4.
    mix = plan_mix("field", MEDIUM, [Fill("1", 360000.0, 60000.0, 6.0)], pigmented=False)
    (batch,) = mix.batches
    assert batch.waste_ml == pytest.approx(38.4)
    assert batch.least_batch_ml == 0
    assert mix.total_ml == pytest.approx(422.4)
    # Three parts of 140.8 ml, rounded up to marks of 5 ml: 145, so 290 + 145 = 435 ml.
    assert (batch.measure.a_ml, batch.measure.b_ml) == (290.0, 145.0)
    # In fluid ounces: 422.4 / 29.57353 = 14.2830; a third is 4.7610, up to 4.875.
    assert mix.total_fl_oz == pytest.approx(14.2830, abs=1e-4)
    assert (batch.measure.a_fl_oz, batch.measure.b_fl_oz) == (9.75, 4.875)
    # Weight: 281.6 ml x 1.15 = 323.84 g, up to 324 g; x 0.426087 = 138.05, so 138 g.
    assert (batch.measure.a_g, batch.measure.b_g) == (324.0, 138.0)
    assert batch.measure.pigment_g == 0


def test_a_deep_pour_is_made_in_layers() -> None:
    # 1:1 takes 8 mm at once. 100 x 100 x 12 mm and 0.4 proud = 12.4 mm: 2 layers of 6 mm, 60 ml.
    deep = Fill("deep", 120000.0, 10000.0, 12.0, bare_floor_mm2=10000.0, bare_wall_mm2=4800.0)
    shallow = Fill("shallow", 10000.0, 2500.0, 4.0)
    mix = plan_mix("sea", ONE_TO_ONE, [deep, shallow])
    first, last = mix.batches
    assert first.volume_ml == pytest.approx(60.0)
    assert last.volume_ml == pytest.approx(60.0 + 10.0)  # the shallow pocket joins the last layer
    assert first.overfill_ml == 0
    assert last.overfill_ml == pytest.approx(5.0)  # (10000 + 2500) mm2 x 0.4 mm
    assert first.soak_ml == pytest.approx(1.24)  # (10000 + 2400) mm2 x 0.1 mm
    assert last.soak_ml == pytest.approx(0.24)
    assert [share.layer_ml for share in mix.fills] == [
        pytest.approx((60.0, 64.0)),
        pytest.approx((11.0,)),
    ]
    assert "pour 2 layers" in mix.warnings[0]


@pytest.mark.parametrize(
    ("volume_mm3", "lower_share"),
    [
        (1200.0, 1 / 2),  # upright: half the height is half the volume
        (600.0, 1 / 4),  # a vee groove: V grows as h^2
        (400.0, 1 / 8),  # a cone: V grows as h^3
    ],
)
def test_layers_of_sloped_pockets(volume_mm3: float, lower_share: float) -> None:
    resin = replace(ONE_TO_ONE, greatest_depth_mm=7.0)
    mix = plan_mix("x", resin, [Fill("1", volume_mm3, 100.0, 12.0)], MixSettings(overfill_mm=0.0))
    first, last = mix.batches
    assert first.volume_ml * 1000 == pytest.approx(volume_mm3 * lower_share)
    assert (first.volume_ml + last.volume_ml) * 1000 == pytest.approx(volume_mm3)


def test_the_fill_map_names_syringes_and_dams() -> None:
    small = Fill("star", 500.0, 160.0, 3.175)  # 0.5 + 0.064 ml
    edge = Fill("shore", 9525.0, 3000.0, 3.175, open_mm=42.0)
    star, shore = plan_mix("gold", MEDIUM, [small, edge]).fills
    assert (star.syringe, star.dam_mm) == (True, 0.0)
    assert star.ml == pytest.approx(0.564)
    assert (shore.syringe, shore.dam_mm) == (False, 42.0)


def test_a_flood_of_a_board_in_fluid_ounces() -> None:
    # 21 x 14.25 in = 299.25 in2; at 1/8 in 37.40625 in3; / 1.8046875 in3 a US fl oz = 20.727.
    area_mm2 = 21 * 25.4 * 14.25 * 25.4
    mix = plan_mix("clear", MEDIUM, [Fill("board", area_mm2 * 3.175, area_mm2, 3.175)])
    assert mix.volume_ml / ML_PER_FL_OZ == pytest.approx(20.727, abs=1e-3)
    assert mix.volume_ml == pytest.approx(37.40625 * ML_PER_IN3, rel=1e-12)


def test_a_square_foot_at_an_eighth_is_ten_ounces() -> None:
    # 18 in3 / 1.8046875 = 9.974 fl oz (the shop's mental check).
    foot_mm2 = 304.8**2
    mix = plan_mix("x", MEDIUM, [Fill("1", foot_mm2 * 3.175, foot_mm2, 3.175)])
    assert mix.volume_ml / ML_PER_FL_OZ == pytest.approx(9.974, abs=5e-4)


def test_warnings_are_told_with_figures() -> None:
    shallow = plan_mix("p", find_resin(standard_resins(), "casting 2:1"), [POCKET])
    assert "3.2 mm is below the least depth of casting 2:1 (6 mm)" in shallow.warnings[0]
    large = plan_mix("p", MEDIUM, [Fill("1", 900000.0, 90000.0, 10.0)])
    # 900 + 36 ml, 10 % waste: 1029.6 ml x 1.0933 = 1126 g: three cups of at most 500 g.
    assert large.batches[0].cups == 3
    assert any("mix 3 cups" in warning for warning in large.warnings)
    # 15 ml at 2:1 are 5 ml of part B, x 0.98 = 4.9 g.
    little = MixSettings(least_batch_ml=15.0, least_waste_ml=1.0)
    tiny = plan_mix("p", MEDIUM, [Fill("1", 3000.0, 1000.0, 3.0)], little)
    assert any("weighs only 4.9 g" in warning for warning in tiny.warnings)


def test_totals_per_product_keep_resins_apart() -> None:
    mixes = [
        plan_mix("black", MEDIUM, [POCKET]),
        plan_mix("clear", ONE_TO_ONE, [POCKET], pigmented=False),
        plan_mix("white", MEDIUM, [POCKET]),
    ]
    medium, one = product_totals(mixes)
    assert medium.pours == ("black", "white")
    assert (medium.a_ml, medium.b_ml) == (pytest.approx(40.0), pytest.approx(20.0))
    assert medium.total_fl_oz == pytest.approx(60.0 / ML_PER_FL_OZ)
    assert medium.cost == pytest.approx(1.68)
    assert one.pours == ("clear",)
    assert one.pigment_g == 0


def test_nothing_to_fill_is_nothing_to_mix() -> None:
    mix = plan_mix("none", MEDIUM, [])
    assert (mix.batches, mix.total_ml, mix.cost, mix.warnings) == ((), 0.0, 0.0, ())


def test_an_odd_ratio_is_mixed_by_weight() -> None:
    # 100 : 45 by volume is not in small whole numbers: for 60 ml, 41.38 ml go up to 42, and
    # 42 x 0.45 = 18.9 ml is 19 on marks of 0.5 ml: 0.5 % off, good enough.
    odd = replace(MEDIUM, parts_a=100.0, parts_b=45.0)
    fine = measure_out(60.0, odd)
    assert (fine.a_ml, fine.b_ml) == (42.0, 19.0)
    # For 30 ml: 20.69 up to 21 ml, 9.45 ml: 9.5 on the marks, 0.5 %; for 5 ml: 3.448 up to 3.5,
    # 1.575 on marks of 0.5 is 1.5: 4.8 % off, so by weight only.
    assert measure_out(5.0, odd).a_ml is None
    assert measure_out(5.0, odd).a_g == pytest.approx(4.0)  # 3.448 x 1.15 = 3.966


@pytest.mark.parametrize(
    ("value", "step", "up"), [(2.0, 0.5, 2.0), (2.01, 0.5, 2.5), (0.1 + 0.2, 0.1, 0.3), (0, 1, 0)]
)
def test_rounding_goes_up_but_not_for_the_last_bits(value: float, step: float, up: float) -> None:
    assert round_up(value, step) == pytest.approx(up, abs=1e-12)


RESINS = st.builds(
    lambda a, b, da, db: replace(
        MEDIUM, parts_a=a, parts_b=b, density_a_g_per_ml=da, density_b_g_per_ml=db
    ),
    st.integers(1, 5),
    st.integers(1, 5),
    st.floats(0.9, 1.3),
    st.floats(0.9, 1.3),
)


@settings(derandomize=True, max_examples=150, deadline=None)
@given(RESINS, st.floats(30.0, 5000.0))
def test_what_is_measured_suffices_and_keeps_the_ratio(resin: Resin, total_ml: float) -> None:
    measure = measure_out(total_ml, resin)
    assert measure.a_ml is not None
    assert measure.b_ml is not None
    assert measure.a_ml / measure.b_ml == pytest.approx(resin.parts_a / resin.parts_b)
    assert measure.a_ml + measure.b_ml >= total_ml * (1 - 1e-9)
    grams = total_ml * resin.mixed_density_g_per_ml
    assert measure.a_g + measure.b_g >= grams * (1 - 1e-9)
    off_g = abs(measure.b_g - measure.a_g * resin.parts_b_by_weight / 100)
    assert off_g <= measure.scale_step_g / 2 + 1e-9


@settings(derandomize=True, max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.floats(10, 1e5), st.floats(0.5, 60), st.floats(0.3, 1)), max_size=6),
    st.floats(2, 50),
)
def test_the_batches_hold_every_pocket_exactly(
    pockets: list[tuple[float, float, float]], greatest_mm: float
) -> None:
    fills = [Fill(str(i), a * d * f, a, d, 0.2 * a, 0.1 * a) for i, (a, d, f) in enumerate(pockets)]
    mix = plan_mix("p", replace(MEDIUM, greatest_depth_mm=greatest_mm), fills)
    expected = math.fsum(fill.volume_mm3 for fill in fills) / 1000
    assert mix.volume_ml == pytest.approx(expected, rel=1e-9)
    assert math.fsum(b.soak_ml for b in mix.batches) == pytest.approx(
        math.fsum(0.03 * fill.area_mm2 for fill in fills) / 1000, rel=1e-9, abs=1e-12
    )
    poured = math.fsum(b.volume_ml + b.overfill_ml for b in mix.batches)
    assert math.fsum(share.ml for share in mix.fills) == pytest.approx(poured, rel=1e-9, abs=1e-12)
    assert all(batch.depth_mm <= greatest_mm + 1e-9 for batch in mix.batches)


def test_pours_too_shallow_for_one_resin_are_told_in_one_line() -> None:
    tail = "below the least depth of casting 2:1 (6 mm): it may stay soft"
    told = join_warnings(
        [f"a: 2.8 mm is {tail}", "a: mix it in 2 cups", f"b: 2.4 mm is {tail}", "b: weigh it"]
    )
    assert told == (f"a (2.8 mm), b (2.4 mm): {tail}", "a: mix it in 2 cups", "b: weigh it")
    assert join_warnings([f"a: 2.8 mm is {tail}"]) == (f"a: 2.8 mm is {tail}",)
