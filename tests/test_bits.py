"""Bits as turned shapes: radii, their integrals, widths at a depth, checks."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from img2pour.carve.profile import Profile, check_depth, narrowest_width_mm, profile_of
from img2pour.errors import SettingsError
from img2pour.job.bits import Bit

INCH = 25.4
EIGHTH = INCH / 8


def vee(angle_deg, tip_mm=0.0):
    return Bit("vee", "vee", 60.0, angle_deg=angle_deg, tip_mm=tip_mm)


def taper(angle_deg, ball_radius_mm):
    return Bit("taper", "taper", 6.0, angle_deg=angle_deg, ball_radius_mm=ball_radius_mm)


@pytest.mark.parametrize(
    ("angle_deg", "width_mm"), [(12.4, 0.690), (15, 0.836), (30, 1.701), (60, 3.666), (90, 6.350)]
)
def test_width_of_a_vee_an_eighth_of_an_inch_deep(angle_deg, width_mm):
    """Authority: w = 2 d tan(a / 2), values worked out to three places."""
    assert narrowest_width_mm(profile_of(vee(angle_deg)), EIGHTH) == pytest.approx(
        width_mm, abs=5e-4
    )


@pytest.mark.parametrize(
    ("ball_radius_mm", "width_mm"), [(0.25, 1.138), (0.5, 1.587), (0.794, 2.115)]
)
def test_width_of_a_tapered_ball_an_eighth_of_an_inch_deep(ball_radius_mm, width_mm):
    """Truth: 2 [r cos h + (d - r (1 - sin h)) tan h] with h = 6.2 degrees."""
    profile = profile_of(taper(12.4, ball_radius_mm))
    assert narrowest_width_mm(profile, EIGHTH) == pytest.approx(width_mm, abs=6e-4)


@pytest.mark.parametrize(("angle_deg", "width_mm"), [(30, 0.851), (60, 1.833), (90, 3.175)])
def test_width_of_a_vee_at_the_least_depth(angle_deg, width_mm):
    assert narrowest_width_mm(profile_of(vee(angle_deg)), INCH / 16) == pytest.approx(
        width_mm, abs=6e-4
    )


def test_width_of_a_flat_and_of_a_tipped_vee():
    assert narrowest_width_mm(profile_of(Bit("flat", "flat", 6.35)), 1.0) == 6.35
    tipped = profile_of(vee(60, tip_mm=0.2))
    assert narrowest_width_mm(tipped, 2.0) == pytest.approx(0.2 + 4 * math.tan(math.radians(30)))


def test_a_ball_is_round_and_then_upright():
    profile = profile_of(Bit("ball", "ball", 3.0, ball_radius_mm=1.5))
    heights = np.array([-1.0, 0.0, 0.75, 1.5, 4.0])
    assert profile.radius_at(heights) == pytest.approx([0, 0, 1.5 * math.sqrt(0.75), 1.5, 1.5])


def test_the_flank_meets_the_ball_without_a_corner():
    profile = profile_of(taper(12.4, 0.5))
    at = profile.ball_height_mm
    below, above = profile.radius_at(np.array([at - 1e-6, at + 1e-6]))
    assert (above - below) / 2e-6 == pytest.approx(math.tan(math.radians(6.2)), rel=1e-4)


@pytest.mark.parametrize(
    ("angle_deg", "ball", "radius", "first", "second"),
    [
        (12.4, 0.5, 0.79354, 1.930447, 1.226289),
        (10.8, 0.79375, 1.02238, 2.661466, 2.314791),
    ],
)
def test_radius_and_integrals_of_tapered_balls(angle_deg, ball, radius, first, second):
    """Truth: worked out beforehand from the circle and the cone."""
    profile = profile_of(taper(angle_deg, ball))
    assert float(profile.radius_at(EIGHTH)) == pytest.approx(radius, abs=5e-6)
    assert profile.integrals(EIGHTH) == pytest.approx((first, second), abs=1e-6)


profiles = st.one_of(
    st.builds(lambda d: Profile(d, 0.0, 0.0, d), st.floats(0.2, 5)),
    st.builds(
        lambda tip, angle, more: Profile(tip, 0.0, angle, tip + more),
        st.floats(0.0, 1.0),
        st.floats(0.05, 1.2),
        st.floats(0.5, 5),
    ),
    st.builds(
        lambda ball, angle, more: Profile(0.0, ball, angle, ball + more),
        st.floats(0.1, 2.0),
        st.floats(0.0, 0.8),
        st.floats(0.0, 4.0),
    ),
)


@given(profiles, st.floats(0.1, 8.0))
def test_integrals_agree_with_a_sum_of_thin_slices(profile, depth_mm):
    heights = (np.arange(40000) + 0.5) / 40000 * depth_mm
    radii = profile.radius_at(heights)
    first, second = profile.integrals(depth_mm)
    assert radii.mean() * depth_mm == pytest.approx(first, rel=1e-4)
    assert (radii**2).mean() * depth_mm == pytest.approx(second, rel=1e-4)


@given(profiles, st.floats(0.01, 8.0))
def test_the_bit_fits_into_a_circle_down_to_its_height(profile, radius_mm):
    height = float(profile.height_at(radius_mm))
    if radius_mm < profile.tip_radius_mm:
        assert height == -math.inf
    elif height < 20.0:
        assert float(profile.radius_at(height)) == pytest.approx(radius_mm, abs=1e-6)
    else:
        assert float(profile.radius_at(20.0)) <= radius_mm


def test_a_depth_within_bits_and_board_passes():
    check_depth([vee(30)], 3.175, 18.0)


@pytest.mark.parametrize(
    ("bits", "depth_mm", "thickness_mm", "words"),
    [
        ([], 3.0, 18.0, "no bits given"),
        ([Bit("stub", "flat", 3.0, cutting_length_mm=4.0)], 5.0, 18.0, "4 mm deep at most"),
        ([vee(30)], 13.0, 18.0, "use at most 12 mm"),
        ([vee(30)], 7.0, 9.0, "use at most 6 mm"),
    ],
)
def test_a_depth_that_cannot_be_cut_is_refused(bits, depth_mm, thickness_mm, words):
    with pytest.raises(SettingsError, match=words):
        check_depth(bits, depth_mm, thickness_mm)
