"""What each bit removes and leaves, and the time it takes, by hand."""

import math

import numpy as np
import pytest
import shapely

from img2pour.carve.pockets import PocketSettings
from img2pour.carve.work import minutes_of_bits, work_of_bits
from img2pour.job.bits import Bit

QUARTER = Bit("quarter", "flat", 6.35, feed_mm_min=1000, plunge_mm_min=100, stepover_share=0.5)
EIGHTH = Bit("eighth", "flat", 3.175)
VEE = Bit("vee", "vee", 20.0, angle_deg=60)
PLAIN = PocketSettings(3.0, 0.0)


def square(side):
    return np.array([shapely.box(0, 0, side, side)], dtype=object)


def corner_loss(diameter):
    return (4 - math.pi) * (diameter / 2) ** 2


def test_each_bit_removes_what_the_one_before_left():
    first, second = work_of_bits(square(20), [QUARTER, EIGHTH], PLAIN)
    assert first.removed_mm3 == pytest.approx(3 * (400 - corner_loss(6.35)), rel=1e-3)
    between = corner_loss(6.35) - corner_loss(3.175)
    assert first.left_mm3 == pytest.approx(3 * between, rel=0.01)
    assert second.removed_mm3 == pytest.approx(3 * between, rel=0.01)
    assert second.area_mm2 == pytest.approx(between, rel=0.01)
    assert second.left_mm3 == 0.0
    assert first.removed_share + second.removed_share == pytest.approx(1.0)


def test_the_time_of_a_flat_bit():
    """Two passes of 1.5 mm, each (area / 3.175 + edge) / 1000, and one plunge of 3 mm at 100."""
    found = work_of_bits(square(20), [QUARTER], PLAIN)[0]
    edge = 80 - 8 * 3.175 + 2 * math.pi * 3.175
    way = (400 - corner_loss(6.35)) / 3.175 + edge
    assert (found.passes, found.stepover_mm) == (2, 3.175)
    assert found.way_mm == pytest.approx(way, rel=1e-3)
    assert found.minutes == pytest.approx(2 * way / 1000 + 0.03, rel=1e-3)


def test_a_bit_that_finds_nothing_left_has_nothing_to_do():
    found = work_of_bits(square(20), [EIGHTH, QUARTER], PLAIN)[1]
    assert (found.removed_mm3, found.removed_share) == (0.0, 0.0)
    assert found.area_mm2 == pytest.approx(0.0, abs=1e-9)


def test_with_sloped_walls_the_flat_bit_stays_on_the_floor():
    """The floor of a 60 degree vee is 3 tan(30 deg) inside the outline on every side."""
    side = 20 - 2 * 3 * math.tan(math.radians(30))
    flat, vee = work_of_bits(square(20), [QUARTER, VEE], PocketSettings(3.0, 0.0, "sloped"))
    assert flat.removed_mm3 == pytest.approx(3 * (side**2 - corner_loss(6.35)), rel=1e-3)
    frustum = 3 / 3 * (400 + 20 * side + side**2)
    assert vee.removed_mm3 == pytest.approx(frustum - flat.removed_mm3, rel=1e-2)
    assert vee.left_mm3 == pytest.approx(0.0, abs=1e-6)


def test_pockets_that_no_bit_enters_take_no_time():
    found = work_of_bits(square(2), [QUARTER], PLAIN)[0]
    assert (found.minutes, found.removed_share, found.area_mm2) == (0.0, 0.0, 0.0)


def test_the_time_alone_is_the_sum_of_the_bits_times():
    bits = [QUARTER, EIGHTH, VEE]
    for walls in ("upright", "sloped"):
        settings = PocketSettings(3.0, 0.5, walls)
        works = work_of_bits(square(20), bits, settings)
        assert minutes_of_bits(square(20), bits, settings) == sum(work.minutes for work in works)
