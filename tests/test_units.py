"""Lengths as people type them, against exact definitions (NIST SP 811, NIST Handbook 44)."""

from __future__ import annotations

import unicodedata
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

from img2pour.errors import SettingsError
from img2pour.units import (
    ML_PER_FL_OZ,
    fl_oz_from_ml,
    format_area,
    format_length,
    format_volume,
    length_from_mm,
    ml_from_mm3,
    parse_board,
    parse_length,
    quoted,
)

PROPERTY = settings(derandomize=True, max_examples=200, deadline=None)


@pytest.mark.parametrize(
    ("text", "mm", "tidy"),
    [
        ("14 1/4 in", 361.95, "14 1/4 in"),
        ('14-1/4"', 361.95, "14 1/4 in"),
        ("0.125in", 3.175, "0.125 in"),
        ('1/8"', 3.175, "1/8 in"),
        ("3.2mm", 3.2, "3.2 mm"),
        ("9cm", 90.0, "9 cm"),
        ("1 1/2 in", 38.1, "1 1/2 in"),
        (".125 in", 3.175, "0.125 in"),
        ("14¼″", 361.95, "14 1/4 in"),
        ("⅛ inch", 3.175, "1/8 in"),
        ("1⁄8 in", 3.175, "1/8 in"),
        ("14 – 1/4 ”", 361.95, "14 1/4 in"),
        ("14\u00a01/4\u202fin", 361.95, "14 1/4 in"),
        ("2 ft 6 1/4 in", 768.35, "2 ft 6 1/4 in"),
        ("2' 6\"", 762.0, "2 ft 6 in"),
        ("2′6″", 762.0, "2 ft 6 in"),
        ("1.5 feet", 457.2, "1.5 ft"),
        ("  12   INCHES ", 304.8, "12 in"),
        ("3/2 in", 38.1, "3/2 in"),
        ("007 mm", 7.0, "7 mm"),
        ("3.200 mm", 3.2, "3.2 mm"),
        ("5.mm", 5.0, "5 mm"),
        ("3''", 76.2, "3 in"),
    ],
)
def test_a_typed_length_is_read(text: str, mm: float, tidy: str) -> None:
    length = parse_length(text)
    assert length.mm == mm
    assert length.text == tidy
    assert parse_length(length.text) == length


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("14", "has no unit; the units are in (or \"), ft (or '), mm, cm: write 14 in or 14 mm"),
        ("1/8", "has no unit"),
        ("14 1/4", "has no unit"),
        ("1/0 in", "divides by zero"),
        ("2 1/0 in", "divides by zero"),
        ("1//8 in", "is not a length"),
        ("nan mm", "is not a length"),
        ("inf in", "is not a length"),
        ("1e3 mm", "is not a length"),
        ("0x10 mm", "is not a length"),
        ("-3mm", "must be above 0"),
        ("−1/8 in", "must be above 0"),
        ("0 in", "must be above 0"),
        ("0/5 in", "must be above 0"),
        ("3,2 mm", "has a comma; write decimals with a point"),
        ("3 px", "'px', which is not known"),
        ("5 m", "'m', which is not known"),
        ("", "is empty"),
        ("   ", "is empty"),
        ("in", "is not a length"),
        ("1 5/4 in", "fraction that is not below 1"),
        ("14.5 1/4 in", "is not a length"),
        ("1 ft 6 mm", "after feet come inches"),
        ("9" * 60 + " mm", "has too many digits"),
        ("9" * 30 + " in", "is longer than 100 m"),
        ("12 in in", "is not a length"),
        ("٣ mm", "is not a length"),
        ("7\nin", "is not a length"),
        ("7²mm", "is not a length"),
    ],
)
def test_what_is_no_length_is_refused_in_one_line(text: str, part: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_length(text, name="width")
    message = str(caught.value)
    assert message.startswith("width: ")
    assert part in message
    assert "\n" not in message
    assert (caught.value.name, caught.value.value) == ("width", text)


@pytest.mark.parametrize(
    ("text", "sign", "mm"),
    [("0 mm", "not negative", 0.0), ("-2 mm", "any", -2.0), ("+2 mm", "positive", 2.0)],
)
def test_the_sign_can_be_chosen(text: str, sign: str, mm: float) -> None:
    assert parse_length(text, sign=sign).mm == mm  # type: ignore[arg-type]


def test_a_negative_length_keeps_its_sign_in_its_text() -> None:
    assert parse_length("-1/8 in", sign="any").text == "-1/8 in"
    assert parse_length("-0 in", sign="any").text == "0 in"
    with pytest.raises(SettingsError, match="must not be below 0"):
        parse_length("-1 mm", sign="not negative")


@PROPERTY
@given(st.fractions(min_value=0, max_value=1000, max_denominator=64))
def test_fractions_of_an_inch_are_exact(number: Fraction) -> None:
    whole, rest = divmod(number, 1)
    text = f"{whole} {rest.numerator}/{rest.denominator} in" if rest else f"{whole} in"
    assert parse_length(text, sign="not negative").mm == float(number * Fraction(254, 10))


@PROPERTY
@given(st.floats(min_value=-9e4, max_value=9e4, allow_nan=False), st.sampled_from(["in", "mm"]))
def test_any_length_is_spelt_so_that_it_reads_back_exactly(mm: float, unit: str) -> None:
    if mm == 0 or abs(mm) > 1e-6:
        assert length_from_mm(mm, unit).mm == mm  # type: ignore[arg-type]


@PROPERTY
@given(st.integers(min_value=1, max_value=64 * 300))
def test_a_64th_is_printed_as_itself(count: int) -> None:
    mm = count * 25.4 / 64
    shown = format_length(mm, "in")
    assert parse_length(shown.split(" (")[0].removesuffix(" in") + " in").mm == pytest.approx(mm)


@PROPERTY
@given(st.floats(min_value=0.01, max_value=9e4))
def test_a_printed_length_is_within_its_rounding(mm: float) -> None:
    in_mm = parse_length(format_length(mm, "mm")).mm
    assert abs(in_mm - mm) <= (0.0005 if mm < 10 else 0.005) + 1e-9
    shown = format_length(mm, "in")
    decimal = shown.split("(")[1].rstrip(")") if "(" in shown else shown.removesuffix(" in")
    assert abs(float(decimal) * 25.4 - mm) <= 0.00005 * 25.4 + 1e-9
    fraction = shown.split(" (")[0].removesuffix(" in")
    if "(" in shown:
        assert abs(parse_length(f"{fraction} in").mm - mm) <= 25.4 / 128 + 1e-9


@PROPERTY
@given(st.text(max_size=30) | st.text("0123456789 ./-\"'inmcft¼′", max_size=12))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    said = ""
    length = None
    try:
        length = parse_length(text)
    except SettingsError as error:
        said = str(error)
    assert len(said.splitlines()) == (1 if length is None else 0)
    assert length is None or (length.mm > 0 and parse_length(length.text) == length)


@pytest.mark.parametrize(
    ("mm", "inches", "metric"),
    [
        (361.95, "14 1/4 in (14.25)", "361.95 mm"),
        (3.175, "1/8 in (0.125)", "3.175 mm"),
        (3.2, "1/8 in (0.126)", "3.2 mm"),
        (25.4, "1 in", "25.4 mm"),
        (0.1, "0.0039 in", "0.1 mm"),
        (0.0, "0 in", "0 mm"),
        (-3.175, "-1/8 in (-0.125)", "-3.175 mm"),
    ],
)
def test_lengths_are_printed_in_both_units(mm: float, inches: str, metric: str) -> None:
    assert format_length(mm, "in") == inches
    assert format_length(mm, "mm") == metric


@pytest.mark.parametrize(
    ("text", "width_mm", "height_mm"),
    [
        ("21x14.25in", 533.4, 361.95),
        ("21in x 14 1/4 in", 533.4, 361.95),
        ('21 × 14-1/4"', 533.4, 361.95),
        ("50cm by 300mm", 500.0, 300.0),
        ("21 1/2 x 14 in", 546.1, 355.6),
    ],
)
def test_a_board_is_read(text: str, width_mm: float, height_mm: float) -> None:
    width, height = parse_board(text)
    assert (width.mm, height.mm) == (width_mm, height_mm)


@pytest.mark.parametrize("text", ["21x14", "21in", "21in x 14", "21in x -3in", "", "x", "1x2x3in"])
def test_what_is_no_board_is_refused(text: str) -> None:
    with pytest.raises(SettingsError, match="board: "):
        parse_board(text, name="board")


def test_volumes_follow_the_exact_definitions() -> None:
    # The inch is 25.4 mm (NIST SP 811, appendix B); the US gallon is 231 cubic inches and a fluid
    # ounce 1/128 of it (NIST Handbook 44, appendix C).
    assert pytest.approx(231 / 128 * 2.54**3, rel=1e-12) == ML_PER_FL_OZ
    assert pytest.approx(constants.fluid_ounce * 1e6, rel=1e-12) == ML_PER_FL_OZ
    imperial_ml = constants.fluid_ounce_imp * 1e6
    assert pytest.approx(1.0408, abs=1e-4) == ML_PER_FL_OZ / imperial_ml


def test_a_square_foot_at_an_eighth_is_ten_ounces() -> None:
    ml = ml_from_mm3(304.8 * 304.8 * 3.175)
    assert ml == pytest.approx(294.97, abs=0.005)
    assert fl_oz_from_ml(ml) == pytest.approx(9.974, abs=0.0005)
    assert format_volume(ml, "in") == "9.97 fl oz"
    assert format_volume(ml, "mm") == "295.0 ml"


def test_areas_are_printed_in_both_units() -> None:
    assert format_area(645.16 * 2, "in") == "2.00 sq in"
    assert format_area(6.4516, "in") == "0.0100 sq in"
    assert format_area(1234.0, "mm") == "12.34 cm2"
    assert format_area(12.34, "mm") == "12.34 mm2"


def test_a_quoted_value_stays_on_its_line_and_is_cut() -> None:
    assert quoted("a\nb\x1b[31m") == "'a\\nb\\x1b[31m'"
    assert quoted("x" * 100) == "'" + "x" * 37 + "...'"


def test_every_vulgar_fraction_is_read() -> None:
    for code in range(0x110000):
        value = unicodedata.normalize("NFKC", chr(code))
        if "⁄" in value and value[0] != "⁄" and value[-1] != "⁄":
            top, bottom = value.split("⁄")
            if top.isascii() and int(top):
                expected = float(Fraction(int(top), int(bottom)) * Fraction(254, 10))
                assert parse_length(f"{chr(code)} in").mm == expected
