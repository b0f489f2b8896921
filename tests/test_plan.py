"""The whole plan of a small board, with real bits, against figures worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from img2pour.errors import SettingsError
from img2pour.job.bits import Bit
from img2pour.pours.fills import stage_fills, volumes_of_bits
from img2pour.pours.geometry import union
from img2pour.pours.look import reach_of_bits
from img2pour.pours.mixes import MixSettings
from img2pour.pours.plan import PlanSettings, PourPlan, Tools, is_fine, plan_pours
from img2pour.pours.pour import Pour
from img2pour.pours.roles import Layout
from img2pour.pours.seals import SealSettings
from img2pour.pours.stages import BitChoice, StageSettings
from img2pour.pours.underlap import UnderlapSettings

EIGHTH = Bit("flat 1/8 in", "flat", 3.175)
QUARTER = Bit("flat 1/4 in", "flat", 6.35)
VEE = Bit("vee 60 deg", "vee", 25.0, angle_deg=60.0)
BOARD = box(0, 0, 300, 200)
FIELD, SUN = box(50, 40, 250, 160), Point(150, 100).buffer(30, quad_segs=128)
POURS = (
    Pour("sea", "blue", ("sea",), FIELD.difference(SUN), 30.0),
    Pour("sun", "gold", ("sun",), SUN, 85.0),
)
LAYOUT = Layout(
    POURS,
    {"sea": "table-top 1:1", "sun": "table-top 1:1"},
    {"sea": True, "sun": True},
    BOARD.difference(FIELD),
    shapely.MultiPolygon(),
)
TOOLS = Tools(
    BitChoice((EIGHTH,), seal=(QUARTER,)),
    machine_hours=lambda stage: 1.0,
    reach=reach_of_bits(0.5),
    volumes=volumes_of_bits(0.5),
)
SETTINGS = PlanSettings(
    stage=StageSettings(underlap=UnderlapSettings(2.0, 1.5)), cut_width_mm=3.275
)


def planned(**changes: object) -> PourPlan:
    return plan_pours(LAYOUT, BOARD, TOOLS, replace(SETTINGS, **changes))  # type: ignore[arg-type]


def test_the_order_and_the_stages() -> None:
    plan = planned()
    assert [(stage.name, stage.kind) for stage in plan.stages] == [
        ("clear", "seal"),
        ("sea", "pour"),
        ("sun", "pour"),
    ]
    assert "what encloses comes before what it encloses" in plan.choice.why
    assert [len(look.names) for look in plan.looks] == [1, 2, 3]
    assert plan.schedule.steps[-1].what == "cut out the piece"


def test_the_resin_is_the_sum_of_the_pockets_by_closed_forms() -> None:
    plan = planned(seal_kind="none")
    sea, sun = (of_stage[0] for of_stage in plan.mixes)
    # Sea: 200 x 120 less a disc of 28 mm (30 less the underlap of 2), 3.175 deep, its four corners
    # rounded by a bit of 1.5875 mm: (4 - pi) r^2.
    corners = (4 - math.pi) * 1.5875**2
    sea_mm3 = (200 * 120 - math.pi * 28**2 - corners) * 3.175
    # Sun: a disc of 30 mm, 0.4 mm shallower.
    sun_mm3 = math.pi * 30**2 * 2.775
    assert sea.volume_ml == pytest.approx(sea_mm3 / 1000, rel=1e-3)
    assert sun.volume_ml == pytest.approx(sun_mm3 / 1000, rel=1e-3)
    (total,) = plan.totals
    mixed = sum(batch.measure.total_ml for mix in (sea, sun) for batch in mix.batches)
    reserve = sum(one.measure.total_ml for one in plan.touch_ups)
    assert total.total_ml == pytest.approx(mixed + reserve)
    assert mixed > (sea_mm3 + sun_mm3) / 1000


def test_a_vee_leaves_sloped_walls_and_needs_less() -> None:
    tools = replace(TOOLS, bits=BitChoice((VEE,)))
    plan = plan_pours(LAYOUT, BOARD, tools, replace(SETTINGS, seal_kind="none"))
    sun = plan.mixes[1][0]
    # A cone's frustum: at the carved face 30 + 0.5 tan 30 deg, at the floor 2.775 tan 30 less.
    slope = math.tan(math.radians(30))
    top = 30 + 0.5 * slope
    bottom = top - 2.775 * slope
    frustum = math.pi * 2.775 / 3 * (top**2 + top * bottom + bottom**2)
    assert sun.volume_ml == pytest.approx(frustum / 1000, rel=1e-3)


def test_bare_wood_drinks_and_cured_resin_does_not() -> None:
    plan = planned(seal_kind="none")
    sea, sun = (of_stage[0].batches[0] for of_stage in plan.mixes)
    # Sea: floor 24000 - pi 28^2, walls 640 and 2 pi 28 mm long, 3.175 deep; 0.1 mm soaks in.
    walls = (640 + 2 * math.pi * 28) * 3.175
    assert sea.soak_ml == pytest.approx((24000 - math.pi * 28**2 + walls) * 1e-4, rel=1e-3)
    # Sun: only the core of 28 mm is bare wood, all its walls are cured resin.
    assert sun.soak_ml == pytest.approx(math.pi * 28**2 * 1e-4, rel=1e-3)
    brushed = planned(seal_kind="brush")
    assert [of_stage[0].batches[0].soak_ml for of_stage in brushed.mixes] == [0.0, 0.0]


def test_seals_are_compared_and_the_chosen_one_is_used() -> None:
    plan = planned()
    assert [option.seal.kind for option in plan.seal_options] == [
        "band",
        "flood",
        "flood board",
        "brush",
        "none",
    ]
    by_kind = {option.seal.kind: option for option in plan.seal_options}
    assert by_kind["band"].volume_ml < by_kind["flood"].volume_ml
    assert by_kind["flood"].volume_ml < by_kind["flood board"].volume_ml
    assert plan.seal is by_kind["band"]
    assert plan.mixes[0][0].volume_ml == pytest.approx(by_kind["band"].volume_ml, rel=1e-9)
    # 640 mm of edge, 6.6 mm wide less corners, 3.675 deep, the bit's outer corners rounded.
    assert by_kind["band"].volume_ml == pytest.approx(640 * 6.6 * 3.675 / 1000, rel=0.05)
    assert plan.totals[0].pours == ("clear", "sea", "sun")
    brushed = planned(seal_kind="brush")
    assert brushed.totals[0].pours == ("seal", "sea", "sun")


def test_losses_are_the_rounded_corners_only() -> None:
    plan = planned()
    sea, sun = plan.losses
    assert sea.lost_mm2 == pytest.approx((4 - math.pi) * 1.5875**2, rel=0.02)
    assert sun.lost_mm2 == pytest.approx(0.0, abs=0.01)
    assert plan.lines == ()


def test_a_given_order_and_stages_that_are_done() -> None:
    plan = planned(wanted_order=("sun", "sea"))
    assert [stage.name for stage in plan.stages] == ["clear", "sun", "sea"]
    assert plan.choice.given
    done = planned(done_pours=(("sun",),), done=2)
    assert [stage.name for stage in done.stages] == ["clear", "sun", "sea"]
    assert {step.stage for step in done.schedule.steps} == {0, 3}
    named = planned(done_pours=(("sun",),))
    assert {step.stage for step in named.schedule.steps} == {0, 3}
    sealed = planned(done=1)
    assert {step.stage for step in sealed.schedule.steps} == {0, 2, 3}
    with pytest.raises(SettingsError, match="done is 1, but the seal and 1 named stages make 2"):
        planned(done_pours=(("sun",),), done=1)
    with pytest.raises(SettingsError, match="done: there is no pour 'moon'; there are: sea, sun"):
        planned(done_pours=(("moon",),))
    with pytest.raises(SettingsError, match="done: 'sun' is there twice"):
        planned(done_pours=(("sun",), ("sun",)))


def test_findings_and_warnings_carry_figures() -> None:
    thin = replace(SETTINGS.stage, blank_mm=5.4)
    plan = planned(stage=thin, bed_mm=(200.0, 200.0))
    assert {finding.kind for finding in plan.findings} >= {"floor", "bed", "movement"}
    assert any(
        "sun is lighter, 2.27 mm thick, and lies over the darker sea" in warning
        for warning in plan.warnings
    )


def test_settings_reach_the_mixes() -> None:
    plan = planned(mixing=MixSettings(overfill_mm=0.0), seal_kind="none")
    assert plan.mixes[0][0].batches[0].overfill_ml == 0
    wide = planned(seal=SealSettings(border_mm=1.2))
    assert wide.seal.seal.border_mm == (1.2,)


def test_a_pocket_that_runs_over_the_edge_needs_a_dam() -> None:
    shore = Pour("shore", "blue", (), box(0, 50, 40, 90), 30.0)
    layout = Layout(
        (shore,),
        {"shore": "table-top 1:1"},
        {"shore": True},
        BOARD.difference(shore.shape),
        shapely.MultiPolygon(),
    )
    plan = plan_pours(layout, BOARD, TOOLS, replace(SETTINGS, seal_kind="none"))
    ((fill,),) = (mix.fills for mix in plan.mixes[0])
    assert fill.dam_mm == pytest.approx(40.0, abs=0.01)
    ((fills,),) = stage_fills(plan.stages, BOARD)
    assert fills[0].bare_wall_mm2 == pytest.approx(3 * 40 * 3.175, rel=1e-4)


def test_fills_are_numbered_from_the_top_left() -> None:
    dots = [Point(x, y).buffer(8) for x, y in ((40, 40), (40, 160), (200, 40), (200, 160))]
    pour = Pour("dots", "blue", (), shapely.MultiPolygon(dots), 30.0)
    layout = Layout(
        (pour,),
        {"dots": "table-top 1:1"},
        {"dots": True},
        BOARD.difference(pour.shape),
        shapely.MultiPolygon(),
    )
    plan = plan_pours(layout, BOARD, TOOLS, replace(SETTINGS, seal_kind="none"))
    assert [share.place for share in plan.mixes[0][0].fills] == ["1", "2", "3", "4"]


@pytest.mark.parametrize(
    ("bit", "fine"),
    [
        (EIGHTH, False),
        (Bit("flat 1 mm", "flat", 1.0), True),
        (Bit("v", "vee", 6.0, angle_deg=30.0), False),  # the usual bit for edges
        (Bit("v", "vee", 6.0, angle_deg=15.0), True),
        (Bit("t", "taper", 6.0, angle_deg=12.4, ball_radius_mm=0.5), True),
        (Bit("t", "taper", 6.0, angle_deg=12.4, ball_radius_mm=1.0), False),
        (Bit("b", "ball", 3.0, ball_radius_mm=1.5), False),
        (Bit("b", "ball", 1.0, ball_radius_mm=0.5), True),
    ],
)
def test_which_bits_are_fine(bit: Bit, fine: bool) -> None:
    assert is_fine(bit, 1.6) is fine


def test_resin_cures_longer_before_a_fine_bit() -> None:
    slender = Bit("taper 12.4 deg", "taper", 6.0, angle_deg=12.4, ball_radius_mm=0.5)
    tools = replace(TOOLS, bits=BitChoice((EIGHTH,), {"sun": (slender,)}, (QUARTER,)))
    plan = plan_pours(LAYOUT, BOARD, tools, SETTINGS)
    waits = {s.stage: s.wait_hours for s in plan.schedule.steps if s.kind == "cure"}
    assert waits == {1: 48.0, 2: 72.0, 3: 48.0}


def test_a_board_without_pours_is_just_cut_out() -> None:
    layout = Layout((), {}, {}, BOARD, shapely.MultiPolygon())
    plan = plan_pours(layout, BOARD, TOOLS, SETTINGS)
    assert plan.stages == ()
    assert plan.totals == ()
    assert [step.what for step in plan.schedule.steps][-1] == "cut out the piece"


def test_a_seal_that_does_not_reach_everywhere_is_told() -> None:
    reeds = Pour("reeds", "green", (), box(20, 20, 22, 180), 40.0)
    layout = Layout(
        (reeds,),
        {"reeds": "table-top 1:1"},
        {"reeds": True},
        BOARD.difference(reeds.shape),
        shapely.MultiPolygon(),
    )
    plan = plan_pours(layout, BOARD, TOOLS, SETTINGS)
    assert any(
        "324 of 324 mm of edge between pours and wood stay unsealed" in w for w in plan.warnings
    )
    leaning = replace(SETTINGS, seal=SealSettings(bit_slope=0.2))
    plan = plan_pours(LAYOUT, BOARD, TOOLS, leaning)
    # 0.8 mm less 0.2 x 2.675 mm: 0.265 mm at the floor.
    assert any("0.80 mm at the face but 0.27 mm at the floor" in w for w in plan.warnings)
    both = replace(TOOLS, bits=BitChoice((VEE,), seal=(QUARTER,)))
    assert not any("at the floor" in w for w in plan_pours(LAYOUT, BOARD, both, leaning).warnings)


def test_thin_wood_left_by_the_seal_is_listed() -> None:
    pair = tuple(
        Pour(name, name, (), box(x, 50, x + 60, 150), 40.0) for name, x in (("a", 60), ("b", 123))
    )
    layout = Layout(
        pair,
        {"a": "table-top 1:1", "b": "table-top 1:1"},
        {"a": True, "b": True},
        BOARD.difference(shapely.union(pair[0].shape, pair[1].shape)),
        shapely.MultiPolygon(),
    )
    plan = plan_pours(layout, BOARD, TOOLS, replace(SETTINGS, least_wall_mm=2.0))
    # 3 mm between them, less two borders of 0.8 mm.
    assert plan.thin_wood[0].width_mm == pytest.approx(1.4, abs=0.02)
    assert plan.thin_wood[0].at_mm[0] == pytest.approx(121.5, abs=0.1)
    assert plan_pours(layout, BOARD, TOOLS, replace(SETTINGS, least_wall_mm=1.3)).thin_wood == ()


def random_layout(seed: int) -> Layout:
    """Return up to four pours and wood: the cells of random points, coloured at random."""
    random = np.random.default_rng(seed)
    points = shapely.MultiPoint(random.uniform((5, 5), (295, 195), (30, 2)))
    cells = shapely.get_parts(shapely.voronoi_polygons(points, extend_to=BOARD))
    cells = shapely.intersection(cells, BOARD)
    colours = random.integers(0, 5, len(cells))
    pours = tuple(
        Pour(f"p{k}", f"p{k}", (), shapely.union_all(cells[colours == k]), 20.0 * k)
        for k in range(4)
        if (colours == k).any()
    )
    wood = BOARD.difference(shapely.union_all([pour.shape for pour in pours]))
    products = {pour.name: "table-top 1:1" for pour in pours}
    return Layout(pours, products, dict.fromkeys(products, True), wood, shapely.MultiPolygon())


@settings(derandomize=True, max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["band", "flood", "flood board", "brush", "none"]))
def test_any_board_gets_a_whole_plan(seed: int, kind: str) -> None:
    layout = random_layout(seed)
    plan = plan_pours(layout, BOARD, TOOLS, replace(SETTINGS, seal_kind=kind))  # type: ignore[arg-type]
    names = [
        pocket.pour for stage in plan.stages for pocket in stage.pockets if stage.kind == "pour"
    ]
    assert sorted(names) == sorted(pour.name for pour in layout.pours)
    shown = plan.looks[-1]
    total = shown.wood.area + sum(shape.area for shape in shown.shapes)
    assert total == pytest.approx(BOARD.area, rel=1e-9)
    for mix, pocket in zip(
        (mix for of_stage in plan.mixes for mix in of_stage),
        (pocket for stage in plan.stages for pocket in stage.pockets),
        strict=True,
    ):
        # Independent: a flat bit opens the outline less its rounded corners, upright.
        opened = pocket.outline.buffer(-1.5875, quad_segs=64).buffer(1.5875, quad_segs=64)
        if pocket.pour != "clear":
            assert mix.volume_ml == pytest.approx(opened.area * pocket.depth_mm / 1000, rel=1e-3)


def test_a_taper_leaves_a_round_floor_and_sloped_walls() -> None:
    # A disc of 10 mm cut 3.175 mm deep with a ball of 0.5 mm and 12.4 degrees included:
    # pi (c^2 D + 2 c I1 + I2) with c = 10 - r(D), r(D) 0.79354, I1 1.930447 and I2 1.226289 the
    # integrals of the bit's radius and its square over the height: 960.953 mm3.
    taper = Bit("taper 12.4 deg", "taper", 6.0, angle_deg=12.4, ball_radius_mm=0.5)
    dot = Pour("dot", "blue", (), Point(150, 100).buffer(10, quad_segs=128), 30.0)
    layout = Layout(
        (dot,), {"dot": "table-top 1:1"}, {"dot": True}, BOARD.difference(dot.shape), union([])
    )
    tools = replace(TOOLS, bits=BitChoice((taper,)), volumes=volumes_of_bits(0.0))
    level = replace(SETTINGS, seal_kind="none", stage=replace(SETTINGS.stage, surface_mm=0.0))
    plan = plan_pours(layout, BOARD, tools, level)
    assert plan.mixes[0][0].volume_ml == pytest.approx(0.96095347, rel=3e-3)
