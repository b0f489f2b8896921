"""The verdict: its word, its table, and advice that can be worked out by hand."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from img2pour.carve.advice import (
    BitGain,
    best_gain,
    ground_of,
    kept_share,
    ladder_widths,
    largest_flat_mm,
    most_factor,
    rung,
    whole_factor,
)
from img2pour.carve.pockets import PocketSettings
from img2pour.carve.verdict import CheckSettings, Design, Shelf, check
from img2pour.carve.work import work_of_bits
from img2pour.errors import SettingsError
from img2pour.job.bits import Bit
from tests.stars import stars

EIGHTH = Bit("flat 1/8 in", "flat", 3.175)
SIXTEENTH = Bit("flat 1/16 in", "flat", 1.5875)
VEE = Bit("vee 30", "vee", 12.7, angle_deg=30)
LEAST_DEPTH = 25.4 / 16
FRAME = shapely.box(0, 0, 100, 80)


def several(*polygons):
    return np.array(polygons, dtype=object)


def ground(*polygons, bits=(EIGHTH,)):
    return ground_of(several(*polygons), bits, LEAST_DEPTH)


def design(*polygons, colours=None):
    wood = FRAME - shapely.union_all(polygons)
    return Design(
        several(*polygons),
        np.array(colours or [0] * len(polygons)),
        np.array(shapely.get_parts(wood), dtype=object),
        FRAME,
    )


def judge(*polygons, bits=(EIGHTH,), accept=0.0, spare=(), colours=None):
    rules = CheckSettings(accept_loss_share=accept, common_widths_mm=(50.0, 200.0, 400.0))
    return check(design(*polygons, colours=colours), Shelf(bits, {}, spare), rules)


def channel(width):
    left, right = shapely.box(20, 20, 30, 40), shapely.box(50, 20, 60, 40)
    return shapely.union_all([left, right, shapely.box(29, 30 - width / 2, 51, 30 + width / 2)])


def test_a_square_is_carvable_with_round_corners_apart():
    found = judge(shapely.box(20, 20, 40, 40))
    assert (found.word, found.is_carvable, found.findings) == ("carvable", True, ())
    assert found.lost_share == 0.0
    line = found.colours[0]
    assert line.reach.corners_mm2 == pytest.approx((4 - math.pi) * 1.5875**2, rel=0.01)
    assert line.volume_mm3 == pytest.approx(1263.13, rel=1e-3)


def test_a_lost_channel_makes_losses():
    found = judge(channel(0.5))
    assert found.word == "carvable with losses"
    assert [f.kind for f in found.findings] == ["neck"]
    assert found.colours[0].reach.thinnest_mm == pytest.approx(0.5, abs=0.02)
    assert found.lost_share == pytest.approx(20 * 0.5 / (400 + 10), rel=0.03)


def test_accepting_a_loss_moves_the_line():
    assert judge(channel(0.5), accept=0.05).word == "carvable"
    assert judge(channel(0.5), accept=0.01).word == "carvable with losses"


def test_a_colour_that_is_lost_whole_is_not_for_this_size():
    dot, block = shapely.Point(70, 60).buffer(1), shapely.box(10, 10, 60, 50)
    found = judge(block, dot, colours=[0, 1])
    assert found.word == "not at this size"
    assert found.findings[0].region == 1
    assert found.colours[1].reach.kept_share == pytest.approx(0.0, abs=1e-9)


def test_a_short_neck_that_loses_nothing_is_listed_but_carvable():
    waist = shapely.union(shapely.Point(40, 40).buffer(5), shapely.Point(49.9, 40).buffer(5))
    found = judge(waist)
    assert [f.kind for f in found.findings] == ["neck"]
    assert found.word == "carvable"


def test_thin_walls_and_posts_are_losses():
    two = (shapely.box(20, 20, 60, 35), shapely.box(20, 36, 60, 50))
    found = judge(*two, colours=[0, 1])
    assert found.word == "carvable with losses"
    assert [wall.kind for wall in found.walls] == ["wall"]
    assert [line.thinnest_wall_mm for line in found.colours] == pytest.approx([1.0, 1.0], abs=0.02)
    post = judge(shapely.box(20, 20, 60, 60) - shapely.box(40, 40, 41.5, 41.5))
    assert [wall.kind for wall in post.walls] == ["alone"]


def test_no_bits_are_refused():
    with pytest.raises(SettingsError, match="no bits"):
        judge(channel(4), bits=())


def test_a_colour_can_have_bits_of_its_own():
    shelf = Shelf((EIGHTH,), {1: (VEE,)})
    strokes = [shapely.box(20, 20, 60, 22), shapely.box(20, 40, 60, 42)]
    found = check(design(*strokes, colours=[0, 1]), shelf, CheckSettings())
    assert [len(line.reach.findings) for line in found.colours] == [1, 0]


@pytest.mark.parametrize(("side", "share"), [(20.0, 0.995), (8.0, 0.99), (40.0, 0.999)])
def test_the_smallest_board_for_a_square(side, share):
    """Truth: s = (r / a) sqrt((4 - pi) / (1 - share)), from the loss in four corners."""
    expected = 1.5875 / side * math.sqrt((4 - math.pi) / (1 - share))
    found = most_factor([ground(shapely.box(0, 0, side, side))], share)
    assert found == pytest.approx(max(expected, 1 / 3), rel=0.01)


@pytest.mark.parametrize("width", [0.5, 1.5, 2.5, 4.0, 8.0])
def test_the_board_on_which_a_channel_is_just_kept(width):
    assert whole_factor([ground(channel(width))]) == pytest.approx(3.175 / width, rel=0.02)


def test_boards_that_may_shrink_are_searched_down_to_a_third():
    assert whole_factor([ground(shapely.box(0, 0, 60, 60))]) == pytest.approx(1 / 3)
    assert whole_factor([]) == pytest.approx(1 / 3)


def test_a_dot_decides_the_board():
    found = whole_factor([ground(shapely.box(0, 0, 60, 60), shapely.Point(90, 9).buffer(0.5, 64))])
    assert found == pytest.approx(3.175 / 1.0, rel=0.02)


def test_the_largest_flat_bit_for_a_square():
    """Truth: (4 - pi) r^2 = 1 % of a^2."""
    found = largest_flat_mm([ground(shapely.box(0, 0, 20, 20), bits=(VEE,))])
    assert found == pytest.approx(2 * 20 * math.sqrt(0.01 / (4 - math.pi)), rel=0.01)


def test_the_bit_to_add_is_the_sturdiest_that_wins_nearly_as_much():
    finest = Bit("flat 1/32 in", "flat", 0.79375)
    found = judge(channel(1.8), spare=(finest, SIXTEENTH)).advice.gain
    assert found.bit == "flat 1/16 in"
    assert found.slenderness == pytest.approx(2.0)
    assert found.kept_after > found.kept_before + 0.07
    assert judge(shapely.box(20, 20, 60, 60), spare=(EIGHTH,)).advice.gain is None


def test_nothing_is_proposed_where_nothing_is_won():
    assert best_gain([]) is None
    assert best_gain([BitGain("fine", 0.9, 0.9001, 3.0)]) is None


def test_advice_names_boards():
    advice = judge(channel(1.5)).advice
    assert advice.whole_width_mm == pytest.approx(100 * 3.175 / 1.5, rel=0.02)
    assert [step.width_mm for step in advice.ladder] == [50, 200, 400]
    assert [step.necks for step in advice.ladder] == [1, 1, 0]


def test_a_rung_scales_volume_by_area():
    one = [ground(shapely.box(0, 0, 20, 20))]
    step = rung(one, 200.0, 100.0, PocketSettings(3.175, 0.0))
    expected = 3.175 * (1600 - (4 - math.pi) * 1.5875**2)
    assert step.volume_mm3 == pytest.approx(expected, rel=1e-3)
    assert (step.islands, step.necks) == (0, 0)
    assert step.minutes > 0


@pytest.mark.parametrize("factor", [0.4, 0.6, 0.85, 1.7, 3.0])
def test_a_rung_takes_as_long_as_the_same_board_cut_at_that_size(factor):
    """A plate with a narrow arm and a disc, cut by three bits."""
    plate = shapely.union(shapely.box(0, 0, 30, 20), shapely.box(30, 8, 60, 12))
    shapes = [plate, shapely.Point(20, 50).buffer(12, quad_segs=64)]
    bits = (Bit("quarter", "flat", 6.35), EIGHTH, VEE)
    settings = PocketSettings(3.0, 0.5)
    grown = several(*(affinity.scale(s, factor, factor, origin=(0, 0)) for s in shapes))
    works = work_of_bits(grown, bits, settings)
    step = rung([ground(*shapes, bits=bits)], 100.0 * factor, 100.0, settings)
    assert step.minutes == pytest.approx(sum(one.minutes for one in works), rel=0.03)
    assert step.volume_mm3 == pytest.approx(sum(one.removed_mm3 for one in works), rel=0.01)


def test_ladder_widths_surround_the_board():
    common = (100.0, 200.0, 300.0, 400.0, 500.0)
    assert ladder_widths(250.0, common) == (200.0, 300.0, 400.0)
    assert ladder_widths(90.0, common) == (100.0, 200.0, 300.0)
    assert ladder_widths(900.0, common) == (300.0, 400.0, 500.0)
    assert ladder_widths(300.0, common) == (200.0, 400.0, 500.0)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(stars(4.0, 9.0), st.floats(0.4, 3.0), st.floats(1.02, 2.0))
def test_what_is_kept_never_shrinks_with_the_board(polygon, factor, growth):
    one = [ground(polygon)]
    # Chords for arcs: a corner is exact to a few thousandths of the bit's own area.
    allowance = 0.003 * math.pi * (1.5875 / factor) ** 2 / polygon.area
    assert kept_share(one, factor * growth) >= kept_share(one, factor) - allowance


@settings(max_examples=30, deadline=None, derandomize=True)
@given(stars(4.0, 9.0))
def test_on_the_board_that_is_just_enough_nothing_is_lost(polygon):
    factor = whole_factor([ground(polygon)])
    grown = affinity.scale(polygon, 1.01 * factor, 1.01 * factor, origin=(0, 0))
    again = ground(grown)
    assert whole_factor([again]) <= 1.0
