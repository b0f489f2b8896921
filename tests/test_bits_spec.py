"""Bits as people type them, and the tables that complete them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.errors import SettingsError
from img2pour.job import JobError, gather_bits, make_job, settle_walls
from img2pour.job.bit_spec import parse_bit_spec
from img2pour.job.bit_table import load_bit_table, read_bit_table, shipped_bits
from img2pour.job.bits import BIT_EXAMPLES, Bit, flank_height_mm
from img2pour.job.shelf import Shelf, find_bit

PROPERTY = settings(derandomize=True, max_examples=200, deadline=None)
OWN = """
[[bit]]
name = "my engraver"
kind = "vee"
angle = "20 deg"
tip = "0.1 mm"
diameter = "4 mm"
shank = "4 mm"
feed = "40 in/min"
plunge = "300 mm/min"
stepover = "12 %"
depth_per_pass = "1 mm"
"""


@pytest.mark.parametrize(
    ("text", "name", "diameter_mm", "angle_deg", "tip_mm", "ball_mm", "shank_mm"),
    [
        ("flat 1/4in", "flat 1/4 in", 6.35, None, 0.0, None, 6.35),
        ('FLAT 1/8"', "flat 1/8 in", 3.175, None, 0.0, None, 3.175),
        ("flat 1/8 in", "flat 1/8 in", 3.175, None, 0.0, None, 3.175),
        ("vee 30deg", "vee 30 deg", 6.35, 30.0, 0.0, None, 6.35),
        ("vee 30°", "vee 30 deg", 6.35, 30.0, 0.0, None, 6.35),
        ("vee 15 deg/side", "vee 30 deg", 6.35, 30.0, 0.0, None, 6.35),
        ("vee 60deg tip 0.2mm", "vee 60 deg tip 0.2 mm", 6.35, 60.0, 0.2, None, 6.35),
        ("vee 1/2in 60deg", "vee 60 deg 1/2 in", 12.7, 60.0, 0.0, None, 6.35),
        (
            "taper 12.4deg r0.5mm shank 6mm",
            "taper 12.4 deg r 0.5 mm shank 6 mm",
            6.0,
            12.4,
            0.0,
            0.5,
            6.0,
        ),
        (
            "taper 6.2deg/side radius 0.5 mm shank 6mm",
            "taper 12.4 deg r 0.5 mm shank 6 mm",
            6.0,
            12.4,
            0.0,
            0.5,
            6.0,
        ),
        (
            "taper 6.2 deg per side, r 1/64in",
            "taper 12.4 deg r 1/64 in",
            6.0,
            12.4,
            0.0,
            0.396875,
            6.0,
        ),
        ("ball 3mm", "ball 3 mm", 3.0, None, 0.0, 1.5, 3.0),
        ("ball r1.5mm", "ball r 1.5 mm", 3.0, None, 0.0, 1.5, 3.0),
    ],
)
def test_a_typed_bit_becomes_a_whole_one(
    text: str,
    name: str,
    diameter_mm: float,
    angle_deg: float | None,
    tip_mm: float,
    ball_mm: float | None,
    shank_mm: float,
) -> None:
    bit = find_bit(text, shipped_bits())
    assert (bit.name, bit.diameter_mm, bit.angle_deg) == (name, diameter_mm, angle_deg)
    assert (bit.tip_mm, bit.ball_radius_mm, bit.shank_mm) == (tip_mm, ball_mm, shank_mm)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("drill 3mm", "starts with none of flat, vee, taper, ball"),
        ("falt 3mm", "did you mean flat?"),
        ("", "starts with none of"),
        ("vee 0deg", "an angle of 0 deg; it must be above 0 and below 180 deg"),
        ("vee 180deg", "an angle of 180 deg"),
        ("vee 90deg/side", "an angle of 180 deg"),
        ("vee -30deg", "an angle of -30 deg"),
        ("taper 0deg r0.5mm", "an angle of 0 deg"),
        ("vee 60deg 1mm tip 1mm", "a tip (1 mm) as wide as itself"),
        ("vee 60deg tip 9mm", "a tip of 9 mm, as wide as the bit itself (6.35 mm)"),
        ("taper 12deg r4mm shank 6mm", "a ball (r 4 mm) wider than 6 mm"),
        ("flat", "lacks its diameter"),
        ("vee", "lacks its angle"),
        ("vee 1/4in", "lacks its angle"),
        ("taper r0.5mm", "lacks its angle"),
        ("taper 12deg", "lacks the radius of its ball (r)"),
        ("ball", "needs either its diameter or its radius (r)"),
        ("ball 3mm r1mm", "needs either its diameter or its radius (r)"),
        ("flat 1/4", "has the bare number '1/4'; add deg for an angle, mm or in for a length"),
        ("vee 60", "has the bare number '60'"),
        ("flat 3mm 4mm", "gives its diameter twice"),
        ("flat 3mm 30deg", "gives its angle, which no flat bit has"),
        ("vee 30deg r1mm", "gives its ball radius, which no vee bit has"),
        ("flat 0mm", "must be above 0"),
        ("flat 1/0in", "divides by zero"),
        ("flat nan mm", "has 'nan', which cannot be read"),
        ("vee 30deg banana", "has 'banana', which cannot be read"),
    ],
)
def test_a_wrong_bit_gets_one_line_with_a_right_example(text: str, part: str) -> None:
    with pytest.raises(SettingsError) as caught:
        find_bit(text, shipped_bits())
    message = str(caught.value)
    assert part in message
    assert "\n" not in message
    assert any(example in message for example in BIT_EXAMPLES.values())


@pytest.mark.parametrize("example", BIT_EXAMPLES.values())
def test_the_examples_in_the_messages_are_right(example: str) -> None:
    assert find_bit(example, shipped_bits()).kind == example.split()[0]


def test_what_the_table_gave_is_told() -> None:
    assert find_bit("vee 30deg", shipped_bits()).assumed == (
        "diameter 6.35 mm (1/4 in) from 'vee 30 deg'",
    )
    assert find_bit("vee 25deg", shipped_bits()).assumed == (
        "diameter 6.35 mm (1/4 in) from 'vee 30 deg'",
        "shank 6.35 mm (1/4 in) from 'vee 30 deg'",
        "feeds and steps from 'vee 30 deg'",
    )
    assert find_bit("flat 1/4in", shipped_bits()).assumed == ()
    shelf = Shelf((find_bit("vee 30deg", shipped_bits()),))
    assert shelf.assumed == ("vee 30 deg: diameter 6.35 mm (1/4 in) from 'vee 30 deg'",)


def test_the_cutting_length_follows_the_flank() -> None:
    # A cone of included angle a has its full diameter d at the height d / (2 tan(a/2)).
    vee = find_bit("vee 90deg 10mm", shipped_bits())
    assert vee.cutting_length_mm == pytest.approx(5.0)
    tipped = find_bit("vee 90deg 10mm tip 2mm", shipped_bits())
    assert tipped.cutting_length_mm == pytest.approx(4.0)
    assert find_bit("flat 3mm cut 9mm", shipped_bits()).cutting_length_mm == 9.0


@PROPERTY
@given(st.floats(1.0, 170.0), st.floats(0.1, 2.0), st.floats(2.1, 10.0))
def test_a_tapers_flank_is_tangent_to_its_ball(
    angle_deg: float, ball_mm: float, radius_mm: float
) -> None:
    """The flank's line runs past the ball's centre (at height r) at the distance r."""
    height = flank_height_mm("taper", 2 * radius_mm, angle_deg, 0.0, ball_mm)
    half = math.radians(angle_deg) / 2
    along = (math.sin(half), math.cos(half))  # the flank's direction: outwards, upwards
    to_centre = (-radius_mm, ball_mm - height)
    distance = abs(along[0] * to_centre[1] - along[1] * to_centre[0])
    assert distance == pytest.approx(ball_mm, rel=1e-9)


@PROPERTY
@given(
    st.sampled_from(["1/4 in", "3 mm", "0.5in", "7 1/2 mm"]),
    st.sampled_from(["30 deg", "12.5deg", "6.2 deg/side"]),
    st.sampled_from(["", "tip 0.2mm", "tip 1/64 in"]),
    st.sampled_from(["", "shank 6 mm", "cut 9mm shank 1/4in"]),
)
def test_the_tidy_text_of_a_bit_reads_back(width: str, angle: str, tip: str, shank: str) -> None:
    spec = parse_bit_spec(f"vee {angle} {width} {tip} {shank}")
    assert parse_bit_spec(str(spec)) == spec
    assert str(parse_bit_spec(str(spec))) == str(spec)


def test_every_shipped_bit_answers_to_its_name() -> None:
    table = shipped_bits()
    assert len(table) > 10
    for bit in table:
        found = find_bit(bit.name, table)
        assert (found.name, found.diameter_mm, found.angle_deg, found.ball_radius_mm) == (
            bit.name,
            bit.diameter_mm,
            bit.angle_deg,
            bit.ball_radius_mm,
        )
        assert 0.25 <= bit.plunge_mm_min / bit.feed_mm_min <= 0.5  # common practice, no source
        assert bit.depth_per_pass_mm <= bit.diameter_mm


def test_a_table_of_ones_own_comes_first(tmp_path: Path) -> None:
    (tmp_path / "bits.toml").write_text(OWN)
    table = load_bit_table(tmp_path / "bits.toml")
    bit = find_bit("My  Engraver", table)
    assert bit == table[0]
    assert (bit.tip_mm, bit.feed_mm_min, bit.stepover_share) == (0.1, 1016.0, 0.12)
    assert bit.cutting_length_mm == pytest.approx((4 - 0.1) / 2 / math.tan(math.radians(10)))
    job = make_job(bits={"use": ["my engraver", "flat 1/8in"], "table": "bits.toml"})
    assert [bit.name for bit in gather_bits(job, tmp_path).bits] == ["my engraver", "flat 1/8 in"]


def test_a_row_of_ones_own_replaces_the_shipped_one(tmp_path: Path) -> None:
    (tmp_path / "b.toml").write_text(OWN.replace("my engraver", "vee 15 deg"))
    table = load_bit_table(tmp_path / "b.toml")
    assert [bit.tip_mm for bit in table if bit.name == "vee 15 deg"] == [0.1]


def test_all_faults_of_a_table_are_told_with_their_lines() -> None:
    text = OWN.replace("20 deg", "200 deg").replace("shank", "shnak").replace("12 %", "12")
    with pytest.raises(JobError) as caught:
        read_bit_table(text, "mine.toml")
    lines = str(caught.value).splitlines()
    assert lines[0].startswith("mine.toml, line 2: bit 1.shank: is missing")
    assert "mine.toml, line 5: bit 1.angle: a vee bit has an angle of 200 deg" in lines[1]
    assert "line 8: bit 1.shnak: 'shnak' is not known (did you mean shank?)" in lines[2]
    assert "line 11: bit 1.stepover: '12' is not a share" in lines[3]


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ('tip = "0.1 mm"', 'tip = "4 mm"', "a tip of 4 mm, as wide as the bit itself"),
        ('angle = "20 deg"', "", "a vee bit has no angle"),
        ('diameter = "4 mm"', "", "a vee bit needs its diameter"),
        ('kind = "vee"', 'kind = "flat"', "a flat bit needs its cutting_length"),
        ('angle = "20 deg"', 'angle = "20"', "bare number '20'"),
        ('feed = "40 in/min"', 'feed = "40 in"', "is not a speed; write it like 2000 mm/min"),
    ],
)
def test_a_row_that_makes_no_bit_is_refused(old: str, new: str, part: str) -> None:
    text = OWN.replace(old, new)
    if new.endswith('"flat"'):
        text = text.replace('tip = "0.1 mm"\n', "").replace('angle = "20 deg"\n', "")
    with pytest.raises(JobError) as caught:
        read_bit_table(text)
    assert part in str(caught.value)


def test_two_bits_of_one_name_are_refused() -> None:
    with pytest.raises(JobError, match="two bits are named 'my engraver'"):
        read_bit_table(OWN + OWN)


def test_the_machine_of_the_job_wins_over_the_table() -> None:
    machine = {"feed": "900 mm/min", "plunge": "200 mm/min", "stepover": "30 %"}
    job = make_job(machine={**machine, "depth_per_pass": "1 mm"})
    for bit in gather_bits(job).bits:
        assert (bit.feed_mm_min, bit.plunge_mm_min) == (900.0, 200.0)
        assert (bit.stepover_share, bit.depth_per_pass_mm) == (0.3, 1.0)


def test_a_colour_may_have_its_own_bits() -> None:
    job = make_job(override=[{"colour": "navy", "bits": ["vee 15deg"]}])
    shelf = gather_bits(job)
    assert [bit.name for bit in shelf.for_colour("navy", "#000080")] == ["vee 15 deg"]
    assert [bit.name for bit in shelf.for_colour("sand", "#e9d8a6")] == [
        "flat 1/4 in",
        "flat 1/8 in",
        "vee 30 deg",
    ]


def test_a_bit_that_cannot_reach_the_depth_is_refused() -> None:
    job = make_job(bits={"use": ["flat 1/16in"]}, carving={"depth": "1/2 in"})
    with pytest.raises(SettingsError, match=r"'flat 1/16 in' cuts 6\.35 mm deep at most, but the"):
        gather_bits(job)


def test_upright_walls_need_a_flat_bit_from_the_table_as_well(tmp_path: Path) -> None:
    (tmp_path / "bits.toml").write_text(OWN)
    job = make_job(
        bits={"use": ["my engraver"], "table": "bits.toml"}, carving={"walls": "upright"}
    )
    with pytest.raises(SettingsError, match="upright walls need a flat bit"):
        gather_bits(job, tmp_path)


@pytest.mark.parametrize(
    ("walls", "bits", "kind"),
    [
        ("auto", ["flat 1/8in", "vee 30deg"], "upright"),
        ("auto", ["vee 30deg"], "sloped"),
        ("sloped", ["flat 1/8in", "vee 30deg"], "sloped"),
        ("upright", ["flat 1/8in"], "upright"),
    ],
)
def test_walls_are_upright_when_a_flat_bit_is_given(walls: str, bits: list[str], kind: str) -> None:
    job = make_job(bits={"use": bits}, carving={"walls": walls})
    assert settle_walls(job, gather_bits(job).bits) == kind


@pytest.mark.parametrize(
    "change",
    [
        {"diameter_mm": 0.0},
        {"diameter_mm": math.nan},
        {"shank_mm": -1.0},
        {"cutting_length_mm": math.inf},
        {"stepover_share": 0.0},
        {"stepover_share": 1.5},
        {"depth_per_pass_mm": 0.0},
    ],
)
def test_an_impossible_bit_cannot_be_built(change: dict[str, float]) -> None:
    with pytest.raises(SettingsError, match="a flat bit has a"):
        Bit(**{"name": "x", "kind": "flat", "diameter_mm": 3.0, **change})  # type: ignore[arg-type]


@PROPERTY
@given(
    st.builds(
        " ".join,
        st.lists(
            st.sampled_from(
                ["flat", "vee", "taper", "ball", "1/4in", "30deg", "6.2°/side", "r0.5mm", "tip",
                 "shank 6mm", "cut", "-3mm", "1/0in", "=", "9", "mm", "r", "179.99deg", "1e9"]
            ),
            max_size=6,
        ),
    )
    | st.text(max_size=20)
)  # fmt: skip
def test_any_text_makes_a_sound_bit_or_one_line(text: str) -> None:
    said = ""
    bit = None
    try:
        bit = find_bit(text, shipped_bits())
    except SettingsError as error:
        said = str(error)
    assert len(said.splitlines()) == (1 if bit is None else 0)
    assert bit is None or (bit.diameter_mm > 0 and bit.cutting_length_mm > 0)
