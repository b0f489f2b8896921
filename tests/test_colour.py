"""Colour arithmetic against published values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.colour import (
    ciede2000,
    hex_from_rgb,
    lab_from_srgb,
    linear_from_srgb,
    oklab_from_srgb,
    rgb_from_hex,
    srgb_from_linear,
)
from img2pour.colours.names import css_colours, nearest_name, tell_apart
from img2pour.errors import SettingsError

# Sharma, Wu and Dalal, "The CIEDE2000 color-difference formula: implementation notes,
# supplementary test data, and mathematical observations", Color Res. Appl. 30(1), 2005, Table 1.
CIEDE2000_PAIRS = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0010 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""


def test_ciede2000_gives_the_published_differences() -> None:
    table = np.array([line.split() for line in CIEDE2000_PAIRS.split("\n") if line], dtype=float)
    assert table.shape == (34, 7)
    found = ciede2000(table[:, :3], table[:, 3:6])
    np.testing.assert_allclose(found, table[:, 6], atol=1e-4)
    np.testing.assert_allclose(ciede2000(table[:, 3:6], table[:, :3]), found, atol=1e-12)


def test_ciede2000_broadcasts() -> None:
    lab = lab_from_srgb([[255, 0, 0], [0, 255, 0], [0, 0, 255]])
    gaps = ciede2000(lab[:, None], lab[None])
    assert gaps.shape == (3, 3)
    np.testing.assert_allclose(np.diag(gaps), 0, atol=1e-12)


# IEC 61966-2-1:1999, computed from its formula.
@pytest.mark.parametrize(
    ("encoded", "linear"),
    [
        (0, 0.0),
        (1, 0.000303527),
        (10, 0.003035270),
        (11, 0.003346536),
        (50, 0.031896033),
        (118, 0.181164244),
        (128, 0.215860500),
        (188, 0.502886458),
        (254, 0.991102097),
        (255, 1.0),
    ],
)
def test_srgb_decodes_as_the_standard_says(encoded: int, linear: float) -> None:
    assert linear_from_srgb(encoded) == pytest.approx(linear, abs=1e-9)
    assert srgb_from_linear(linear) == pytest.approx(encoded, abs=2e-4)


def test_half_the_light_of_white_is_level_188() -> None:
    assert round(float(srgb_from_linear(0.5))) == 188


# CIELAB of the sRGB primaries under D65, ISO/CIE 11664-4; computed with coloraide 8.13.
@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        ((255, 0, 0), (53.24, 80.09, 67.20)),
        ((0, 255, 0), (87.74, -86.18, 83.18)),
        ((0, 0, 255), (32.30, 79.19, -107.86)),
        ((255, 255, 0), (97.14, -21.56, 94.48)),
        ((0, 255, 255), (91.11, -48.08, -14.13)),
        ((255, 0, 255), (60.32, 98.24, -60.83)),
        ((119, 119, 119), (50.034, 0, 0)),
        ((128, 128, 128), (53.585, 0, 0)),
        ((255, 255, 255), (100, 0, 0)),
        ((0, 0, 0), (0, 0, 0)),
    ],
)
def test_lab_of_primaries_and_greys(
    rgb: tuple[int, int, int], lab: tuple[float, float, float]
) -> None:
    np.testing.assert_allclose(lab_from_srgb(rgb), lab, atol=0.01)


# OKLab of the sRGB primaries (Ottosson 2020), computed with coloraide 8.13.
@pytest.mark.parametrize(
    ("rgb", "oklab"),
    [
        ((255, 0, 0), (0.6280, 0.2249, 0.1258)),
        ((0, 255, 0), (0.8664, -0.2339, 0.1795)),
        ((0, 0, 255), (0.4520, -0.0325, -0.3115)),
        ((255, 255, 0), (0.9680, -0.0714, 0.1986)),
        ((255, 255, 255), (1.0, 0.0, 0.0)),
    ],
)
def test_oklab_of_primaries(rgb: tuple[int, int, int], oklab: tuple[float, float, float]) -> None:
    np.testing.assert_allclose(oklab_from_srgb(rgb), oklab, atol=1e-4)


@given(st.tuples(*[st.integers(0, 255)] * 3))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_codes_and_light_return_what_went_in(rgb: tuple[int, int, int]) -> None:
    assert rgb_from_hex(hex_from_rgb(rgb)) == rgb
    np.testing.assert_allclose(srgb_from_linear(linear_from_srgb(rgb)), rgb, atol=1e-9)


def test_hex_takes_the_short_form_and_rounds() -> None:
    assert rgb_from_hex("#0Af") == (0.0, 170.0, 255.0)
    assert rgb_from_hex(" 0b1f3a ") == (11.0, 31.0, 58.0)
    assert hex_from_rgb((10.6, 300.0, -4.0)) == "#0bff00"


@pytest.mark.parametrize("text", ["", "#12", "#12345g", "navy", "#1234567", "#12345\n6"])
def test_a_wrong_code_is_one_clear_line(text: str) -> None:
    with pytest.raises(SettingsError, match="is no colour code") as caught:
        rgb_from_hex(text)
    assert "\n" not in str(caught.value)


def test_names_are_those_of_css() -> None:
    # CSS Color 4 lists 148 names for 139 colours: aqua and fuchsia, and seven greys, twice.
    named = dict(css_colours())
    assert len(named) == len(set(named.values())) == 139
    assert named["rebeccapurple"] == "#663399"
    assert named["darkslategrey"] == "#2f4f4f"
    for name, code in named.items():
        assert nearest_name(rgb_from_hex(code)) == name
    assert nearest_name((2, 1, 126)) == "navy"


def test_equal_names_are_told_apart() -> None:
    assert tell_apart(["navy", "sand", "navy"]) == ("navy", "sand", "navy 2")
    assert tell_apart(["navy", "Navy", "navy 2", "navy"]) == ("navy", "Navy 3", "navy 2", "navy 4")


@given(st.lists(st.sampled_from(["a", "A", "a 2", "b", "a 3", ""]), max_size=8))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_told_names_always_differ(names: list[str]) -> None:
    told = tell_apart(names)
    assert len({name.casefold() for name in told}) == len(names)
