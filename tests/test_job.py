"""The job: read, checked, written, and merged with options."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from img2pour.errors import SettingsError
from img2pour.job import Job, JobError, load_job, make_job, merge_options, read_job, write_job
from img2pour.job.carve_sections import Carving, Override
from img2pour.job.options import OPTION_PATHS
from img2pour.job.picture_sections import Size
from img2pour.job.toml_lines import line_index
from img2pour.job.writing import point_at

PROPERTY = settings(derandomize=True, max_examples=100, deadline=None)

LENGTHS = st.sampled_from(["32.5mm", "14 1/4 in", "7/8in", "9cm", '7"', "2 ft 1/2 in", ".5in"])
NAMES = (
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
    .map(str.strip)
    .filter(lambda x: x and x.lower() not in {"auto", "none"} and not x.startswith("#"))
)
HOSTILE = (
    '=2+2"\n\r\t\x00\x1b[31m',
    "</script>&lt;",
    "']]>\\u0041",
    "a=b,c",
    "\u2028\u202e\ufeffx",
)


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Jobs of every kind, with names of every kind."""
    names = draw(st.lists(NAMES, max_size=4, unique=True))
    listed = [f"#0000{i:02x}={name}" for i, name in enumerate(names)]
    known = names or ["navy"]
    sizes: dict[str, Any] = {draw(st.sampled_from(["width", "height"])): draw(LENGTHS)}
    if draw(st.booleans()):
        sizes = {"board": "21x14.25in", "margin": draw(st.sampled_from(["0mm", "1/2in"]))}
    return make_job(
        artwork={"file": draw(st.sampled_from(["a.png", "../ü b/x.tif", 'q"\\.png']))},
        size=draw(st.sampled_from([{}, {"scale": "dpi"}, sizes])),
        colours={
            "palette": draw(st.sampled_from(["auto", 5, listed or "auto"])),
            "wood": draw(st.sampled_from(["auto", "none", known[0]])),
        },
        carving={"depth": draw(st.sampled_from(["1/8in", "4 mm"])), "small": "keep"},
        tracing={"tolerance": draw(st.sampled_from(["auto", "0.05 mm"]))},
        limits={"accept_loss": draw(st.sampled_from(["0 %", "1%", "33.3 %"]))},
        machine={"feed": "1500 mm/min", "stepover": draw(st.sampled_from(["40%", "12.5 %"]))},
        override=[{"colour": name, "role": "wood"} for name in dict.fromkeys(known)],
    )


@PROPERTY
@given(jobs())
def test_a_written_job_reads_back_the_same(job: Job) -> None:
    text = write_job(job)
    assert read_job(text) == job
    assert write_job(read_job(text)) == text


def test_a_written_job_is_complete_and_plain() -> None:
    text = write_job(make_job(size={"width": "12in"}))
    data = tomllib.loads(text)
    for name, field in Job.model_fields.items():
        assert f"[{name}]" in text
        for key in getattr(field.annotation, "model_fields", {}):
            assert f"\n{key} = " in text or f"\n# {key} = " in text
    assert data["size"] == {"width": "12 in"}
    assert max(map(len, text.splitlines())) <= 92


def test_the_commented_lines_are_right_examples() -> None:
    """Taking the # off any one setting that is left out gives a job that is read."""
    lines = write_job(make_job(size={"board": "21x14.25in"})).splitlines()
    body = lines.index("# [[override]]")
    freed = 0
    for i, line in enumerate(lines[:body]):
        key = line.removeprefix("# ").split(" = ")[0]
        taken = key in {"width", "height", "scale", "pin_x", "pin_y"}  # these exclude others
        if line.startswith("# ") and " = " in line and key.isidentifier() and not taken:
            read_job("\n".join([*lines[:i], line[2:], *lines[i + 1 :]]))
            freed += 1
    assert freed >= 7
    override = [line[2:] for line in lines[body:] if " = " in line or "[[" in line]
    assert read_job("\n".join(lines[:body] + override)).override[0].colour == "navy"


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_safe(name: str) -> None:
    job = make_job(
        colours={"palette": [f"#112233={name}"], "wood": name.strip()},
        override=[{"colour": name, "role": "pour"}],
    )
    text = write_job(job)
    assert read_job(text) == job
    assert all(line.isprintable() for line in text.splitlines())
    assert read_job(text).override_for(name.strip(), "#112233") is not None


BAD_FILES = [
    ("[size]\nwidth = 12", "job.toml, line 2: size.width: '12' has no unit; the units are in"),
    ('[size]\nwidth = "12"', "line 2: size.width: '12' has no unit"),
    ("[size]\nwidth = 12 in", "line 2: '12 in' is text and needs quotes; write width = \"12 in\""),
    ('[size]\nwidth = "-2in"', "line 2: size.width: '-2in' must be above 0"),
    ("[size]\nwidth = nan", "line 2: size.width: 'nan' is not a length"),
    ('[size]\nwidth = ["2in"]', 'is not text in quotes; write it like "14 1/4 in"'),
    ('[size]\nwidth = "2in"\nheight = "3in"', "line 3: size.height: width and height are given"),
    ('[size]\nwidth = "2in"\nmargin = "1in"', "line 3: size.margin: margin is 1 in, but no board"),
    ('[size]\nboard = "9x4in"\nmargin = "2in"', "line 3: size.margin: a margin of 2 in leaves"),
    ("[colours]\ntones = 1", "line 2: colours.tones: 1 tone cannot be made; ask for 2 to 12"),
    ("[colours]\ntones = 13", "line 2: colours.tones: 13 tones cannot be made; ask for 2 to 12"),
    ("[colours]\ntones = true", "line 2: colours.tones: 'True' is not a number"),
    ('[size]\nboard = "9in"', "line 2: size.board: '9in' is not a board; write width x height"),
    ('[size]\nscale = "DPI"', "line 2: size.scale: 'DPI' is not allowed; use dpi (did you mean"),
    ('[size]\nwdith = "2in"', "line 2: size.wdith: 'wdith' is not known (did you mean width?)"),
    ('[size]\ndepth = "2mm"', "line 2: size.depth: 'depth' is not known here; it belongs under [c"),
    ('[sise]\nwidth = "2in"', "line 1: sise: 'sise' is not known (did you mean size?)"),
    ('size = "2in"', "line 1: size: '2in' stands where a section belongs; write [size]"),
    ('[colours]\npalette = "six"', "line 2: colours.palette: 'six' is not a colour; use auto"),
    ("[colours]\npalette = 0", "line 2: colours.palette: 0 colours cannot be made; ask for 1 to"),
    ("[colours]\npalette = true", "colours.palette: 'True' is not auto, a number or a list"),
    ("[colours]\npalette = []", "colours.palette: 0 colours are listed; list 1 to 64"),
    ('[colours]\npalette = ["#12"]', "'#12' is not a colour; write # and six hex digits"),
    ('[colours]\npalette = ["#123=a", "#124=a"]', "'a' is listed twice; each colour once"),
    ('[colours]\npalette = ["#123=none"]', "a colour cannot be named 'none'"),
    ('[colours]\npalette = ["#123= "]', "the name of a colour is empty"),
    (
        '[colours]\npalette = ["#123=navy"]\nwood = "navi"',
        "line 3: colours.wood: 'navi' is none of",
    ),
    ('[bits]\nuse = "drill"', "line 2: bits.use 1: bit 'drill' starts with none of flat, vee"),
    ('[bits]\nuse = [\n"flat 3mm",\n"vee 0deg",\n]', "line 4: bits.use 2: a vee bit has an angle"),
    ("[bits]\nuse = []", "line 2: bits.use: no bits are listed; name at least one"),
    ("[bits]\nuse = 3", "line 2: bits.use: '3' is not a list"),
    ('[bits]\nuse = ["ball 3mm", "ball 3mm"]', "bits.use: 'ball 3mm' is listed twice"),
    ('[size]\nwidth="3mm"\n[bits]\nuse=["flat 3mm"]', "line 4: bits.use 1: the bit 'flat 3mm' is"),
    ('[carving]\ndepth = "15 mm"', "line 2: carving.depth: 15 mm is too deep for a board 3/4 in"),
    ('[carving]\ndepth = "1/16in"', "1/16 in less 0.5 mm of surface leaves 1.087 mm of colour"),
    ('[carving]\nsurface = "-1mm"', "line 2: carving.surface: '-1mm' must not be below 0"),
    ('[carving]\nsmall = "dorp"', "'dorp' is not allowed; use drop, widen or keep (did you mean d"),
    ('[carving]\nwalls = "upright"\n[bits]\nuse = ["vee 30deg"]', "upright walls need a flat bit"),
    ('[tracing]\ntolerance = "0mm"', "line 2: tracing.tolerance: '0mm' must be above 0"),
    ('[board]\ngrain = "sideways"', "use horizontal or vertical"),
    (
        "[limits]\naccept_loss = 1",
        "line 2: limits.accept_loss: '1' is not text in quotes; write it",
    ),
    ('[limits]\naccept_loss = "101 %"', "'101 %' is not between 0 % and 100 %"),
    ('[machine]\nstepover = "0 %"', "line 2: machine.stepover: a stepover of 0 % never ends"),
    ('[machine]\nfeed = "1500 mm"', "'1500 mm' is not a speed; write it like 2000 mm/min"),
    ('[output]\ndxf = "R14"', "line 2: output.dxf: 'R14' is not allowed; use R12, R2000, R2010 or"),
    ('[output]\nzero = "pin"', "line 2: output.zero: zero is at the pin, but its place is not"),
    ('[output]\npin_x = "1in"', 'line 2: output.pin_x: a pin is given, but zero is "corner"'),
    ('[artwork]\nmax_megapixels = "9"', "line 2: artwork.max_megapixels: '9' is not a number"),
    ("[artwork]\nmax_megapixels = 0", "'0' must be above 0"),
    ("[artwork]\nmax_megapixels = inf", "'inf' is not a finite number"),
    ("[artwork]\nmax_megapixels = 1e9", "'1000000000.0' must be at most 4000"),
    ('[artwork]\nfile = ""', "line 2: artwork.file: '' is no file name"),
    ("[artwork]\nfile = 3", "line 2: artwork.file: '3' is not text in quotes"),
    ('[[override]]\nrole = "pour"', "line 1: override 1.colour: is missing"),
    ('[[override]]\ncolour = "a"', "line 2: override 1.colour: nothing differs for this colour"),
    ('[override]\ncolour = "a"', "line 1: override: '{'colour': 'a'}' stands where a list of"),
    (
        '[[override]]\ncolour="a"\nrole="wood"\n[[override]]\ncolour="a"\nsmall="keep"',
        "line 5: override 2.colour: 'a' has an override already",
    ),
    (
        '[[override]]\ncolour="a"\nbits=["vee"]',
        "line 3: override 1.bits 1: bit 'vee' lacks its angle",
    ),
    ("[size\nwidth = 1", "line 1: this is not TOML: expected ']'"),
    ('[size]\nwidth = "1in"\nwidth = "2in"', "line 3: this is not TOML: cannot overwrite a value"),
    ('[size]\nwidth = "1in', "line 2: this is not TOML: "),
]


@pytest.mark.parametrize(("text", "part"), BAD_FILES)
def test_a_bad_file_is_told_with_its_line(text: str, part: str) -> None:
    with pytest.raises(JobError) as caught:
        read_job(text)
    message = str(caught.value)
    assert part in message
    assert len(message.splitlines()) == len(caught.value.faults) == 1
    assert message.startswith("job.toml, line ")


def test_all_faults_are_told_at_once_in_the_order_of_the_lines() -> None:
    text = """\
[carving]
depth = 3in
smal = "drop"
[size]
heigth = "3in"
[colours]
palette = ["#12", "#345"]
[bits]
use = ["vee 30", "flat 1/8in"]
[[override]]
colour = "x"
role = "poor"
"""
    with pytest.raises(JobError) as caught:
        read_job(text, "mine.toml")
    places = [line.split(": ")[0] for line in str(caught.value).splitlines()]
    assert places == [f"mine.toml, line {n}" for n in (2, 3, 5, 7, 9, 12)]


def test_rules_between_sections_are_checked_beside_faulty_ones() -> None:
    with pytest.raises(JobError) as caught:
        make_job(size={"width": "3"}, carving={"depth": "3in"}, override=3)
    assert [fault.path for fault in caught.value.faults] == [
        ("size", "width"),
        ("override",),
        ("carving", "depth"),
    ]


def test_a_job_file_that_cannot_be_read_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"job file '.*none.toml' cannot be read: no such file"):
        load_job(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SettingsError, match="it is not text in UTF-8"):
        load_job(tmp_path / "bad.toml")
    (tmp_path / "huge.toml").write_bytes(b"#" * 2_000_000)
    with pytest.raises(SettingsError, match="is too large for a job file"):
        load_job(tmp_path / "huge.toml")
    with pytest.raises(SettingsError, match="cannot be read: is a directory"):
        load_job(tmp_path)


def test_windows_line_ends_and_a_byte_order_mark_are_read(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes("\ufeff[size]\r\nwidth = '2in'\r\n".encode())
    job = load_job(tmp_path / "job.toml")
    assert job.size.width is not None
    assert job.size.width.mm == 50.8


LINES = """\
top = 1 # "not [a] key"
"a.b" = '''
[fake]
x = 1'''
[one]
  list = [ # [
    "a]", 'b#',
    [1, 2],
    {k = 1, m.n = "}"},
  ]
sub.key = "=\\"["
[one.two]
  date = 2026-01-01T00:00:00Z
[[many]]
x = 1
[[many]]
x = [
  2 ]
[many.inner]
y = \"\"\"
z = 1\"\"\"\"
[[many.deep]]
w = {}
"""


def test_the_line_of_every_value_is_found() -> None:
    tomllib.loads(LINES)
    assert line_index(LINES) == {
        ("top",): 1,
        ("a.b",): 2,
        ("one",): 5,
        ("one", "list"): 6,
        ("one", "list", 0): 7,
        ("one", "list", 1): 7,
        ("one", "list", 2): 8,
        ("one", "list", 2, 0): 8,
        ("one", "list", 2, 1): 8,
        ("one", "list", 3): 9,
        ("one", "list", 3, "k"): 9,
        ("one", "list", 3, "m"): 9,
        ("one", "list", 3, "m", "n"): 9,
        ("one", "sub"): 11,
        ("one", "sub", "key"): 11,
        ("one", "two"): 12,
        ("one", "two", "date"): 13,
        ("many",): 14,
        ("many", 0): 14,
        ("many", 0, "x"): 15,
        ("many", 1): 16,
        ("many", 1, "x"): 17,
        ("many", 1, "x", 0): 18,
        ("many", 1, "inner"): 19,
        ("many", 1, "inner", "y"): 20,
        ("many", 1, "deep"): 22,
        ("many", 1, "deep", 0): 22,
        ("many", 1, "deep", 0, "w"): 23,
    }


@PROPERTY
@given(jobs())
def test_the_lines_of_any_written_job_are_found(job: Job) -> None:
    text = write_job(job)
    lines = text.split("\n")
    index = line_index(text)
    for path in _paths(tomllib.loads(text)):
        line = lines[index[path] - 1]
        assert isinstance(path[-1], int) or str(path[-1]) in line


def _paths(data: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inner = data.items() if isinstance(data, dict) else enumerate(data)
    found = [(*path, key) for key, _ in inner]
    for key, value in data.items() if isinstance(data, dict) else enumerate(data):
        if isinstance(value, (dict, list)):
            found += _paths(value, (*path, key))
    return found


def test_options_are_laid_over_a_job() -> None:
    job = make_job(size={"board": "21x14.25in", "margin": "1/2in"}, override=[_navy("keep")])
    merged = merge_options(
        job,
        {
            "width": "9cm",
            "height": None,
            "bit": ("flat 1/8in", "vee 30deg"),
            "colours": "#0b1f3a=navy,#e9d8a6=sand",
            "wood": "sand",
            "role": ("navy=pour",),
            "bit_for": ("navy=vee 15deg", "navy=flat 1/16in"),
            "small_for": ("sand=keep",),
            "accept_loss": "1%",
        },
    )
    assert merged.size.given == ("width",)
    assert merged.size.margin is None
    assert merged.bits.use == ("flat 1/8in", "vee 30deg")
    assert merged.colours.palette == (("#0b1f3a", "navy"), ("#e9d8a6", "sand"))
    assert merged.limits.accept_loss == 0.01
    navy, sand = merged.override
    assert (navy.role, navy.bits, navy.small) == ("pour", ("vee 15deg", "flat 1/16in"), "keep")
    assert (sand.colour, sand.small) == ("sand", "keep")
    assert merge_options(job, {"bit": (), "depth": None}) == job


def _navy(small: str) -> dict[str, str]:
    return {"colour": "navy", "small": small}


def test_a_board_keeps_the_margin_of_the_job() -> None:
    job = make_job(size={"board": "21x14.25in", "margin": "1/2in"})
    size = merge_options(job, {"board": "10x10in"}).size
    assert size.margin is not None
    assert size.margin.mm == 12.7


def test_all_wrong_options_are_told_at_once_by_their_names() -> None:
    wrong = {"width": "9", "depth": "x", "walls": "up", "thin_walls": "go", "role": ("x", "a=b")}
    with pytest.raises(JobError) as caught:
        merge_options(Job(), wrong)
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "--role",
        "--width",
        "--depth",
        "--walls",
        "--thin-walls",
        "--role",
    ]


@pytest.mark.parametrize(
    ("options", "part"),
    [
        ({"width": "9in", "height": "3in"}, "--height: width and height are given together"),
        ({"margin": "1in"}, "--margin: margin is 1 in, but no board is given"),
        ({"depth": "1in"}, "--depth: 1 in is too deep for a board 3/4 in thick"),
        ({"bit": ("flat 9in",), "width": "3in"}, "--bit: the bit 'flat 9in' is wider than the pie"),
        ({"colours": "#123=a,#234=b", "wood": "c"}, "--wood: 'c' is none of the colours: 'a', 'b'"),
        ({"picture": "a\udcff.png"}, "the picture: 'a\\udcff.png' is no file name that a job can"),
        ({"zero": "pin"}, "--zero: zero is at the pin, but its place is not given"),
        ({"role": ("=wood",)}, "--role: '=wood' is not a colour and a value"),
    ],
)
def test_a_wrong_option_is_told_by_its_name(options: dict[str, Any], part: str) -> None:
    with pytest.raises(JobError) as caught:
        merge_options(Job(), options)
    assert part in str(caught.value)


def test_every_option_leads_to_a_setting() -> None:
    data = Job().model_dump()
    for section, key in OPTION_PATHS.values():
        assert key in data[section]


def test_a_job_cannot_be_changed_and_knows_no_other_names() -> None:
    with pytest.raises(ValidationError):
        Job().carving = Carving()
    with pytest.raises(ValidationError, match="extra"):
        Size(widht="2in")  # type: ignore[call-arg]
    with pytest.raises(ValidationError, match="too deep for a board"):
        Job(carving={"depth": "5in"})  # type: ignore[arg-type]
    assert hash(make_job(size={"width": "2in"})) == hash(make_job(size={"width": "2 in"}))


def test_without_a_size_the_job_asks() -> None:
    with pytest.raises(SettingsError, match=r"how large shall the piece be\? Give --width 12in"):
        Job().need_size()
    make_job(size={"scale": "dpi"}).need_size()


def test_without_a_picture_the_job_says_so() -> None:
    with pytest.raises(SettingsError, match="the job names no picture"):
        Job().artwork_path(Path())
    job = make_job(artwork={"file": "../a.png"})
    assert job.artwork_path(Path("jobs")) == Path("jobs/../a.png")


@pytest.mark.parametrize(
    ("sections", "units"),
    [
        ({"size": {"width": "12in"}}, "in"),
        ({"size": {"width": "2 ft"}}, "in"),
        ({"size": {"height": "9cm"}}, "mm"),
        ({"size": {"board": "300x200mm"}}, "mm"),
        ({"size": {"width": "12in"}, "output": {"units": "mm"}}, "mm"),
        ({"carving": {"depth": "3mm"}}, "mm"),
        ({}, "in"),
    ],
)
def test_lengths_are_shown_as_the_size_was_typed(sections: dict[str, Any], units: str) -> None:
    assert make_job(**sections).shown_units == units


def test_the_least_floor_is_a_third_of_a_thin_board() -> None:
    assert make_job(board={"thickness": "6mm"}, carving={"depth": "4mm"})
    with pytest.raises(JobError, match=r"2 mm must stay under it, so at most 4 mm"):
        make_job(board={"thickness": "6mm"}, carving={"depth": "4.1mm"})


@pytest.mark.parametrize(
    ("output", "zero_mm"),
    [
        ({}, (0.0, 0.0)),
        ({"zero": "centre"}, (150.0, 100.0)),
        ({"zero": "pin", "pin_x": "1/2in", "pin_y": "-3mm"}, (12.7, -3.0)),
    ],
)
def test_the_zero_of_the_files(output: dict[str, Any], zero_mm: tuple[float, float]) -> None:
    assert make_job(output=output).output.zero_mm(300.0, 200.0) == zero_mm


def test_paths_follow_the_job_file(tmp_path: Path) -> None:
    (tmp_path / "art").mkdir()
    job = make_job(artwork={"file": "sign.png"}, bits={"table": "bits.toml"})
    moved = point_at(job, tmp_path / "out", base=tmp_path / "art")
    assert (moved.artwork.file, moved.bits.table) == ("../art/sign.png", "../art/bits.toml")
    assert moved.artwork_path(tmp_path / "out").resolve() == tmp_path / "art" / "sign.png"


TOML_VALUES = st.recursive(
    st.none().map(lambda _: "x")
    | st.integers(-5, 5)
    | st.floats()
    | st.booleans()
    | st.text(max_size=5)
    | st.sampled_from(["3in", "auto", "pour", "flat 3mm", "#123=a", "40 %", "drop", "pin"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=4,
)
SETTINGS = [
    (name, key)
    for name, content in {**Job().model_dump(), "override": Override.model_fields}.items()
    for key in content
]


@settings(PROPERTY, max_examples=300)
@given(st.lists(st.tuples(st.sampled_from(SETTINGS), TOML_VALUES), max_size=5), st.booleans())
def test_any_data_makes_a_job_or_faults_of_one_line_each(
    given_values: list[tuple[tuple[str, str], Any]], whole: bool
) -> None:
    data: dict[str, Any] = {}
    for (section, key), value in given_values:
        if whole and section == "override":
            data[section] = [{key: value}]
        elif whole:
            data.setdefault(section, {})[key] = value
        else:
            data[section] = value
    try:
        job = make_job(**data)
    except JobError as error:
        lines = str(error).splitlines()
    else:
        lines = []
        assert read_job(write_job(job)) == job
    assert len(lines) <= 4 * len(given_values)
    assert all(lines)


@PROPERTY
@given(st.data())
def test_a_damaged_job_file_is_read_or_told_line_by_line(data: st.DataObject) -> None:
    text = list(write_job(make_job(size={"width": "12in"}, override=[_navy("keep")])))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        text[at : at + data.draw(st.integers(0, 2))] = data.draw(st.text("\"'[]{}=#.,\n\\ a1"))
    said = ""
    job = None
    try:
        job = read_job("".join(text))
    except JobError as error:
        said = str(error)
    assert all(line.startswith("job.toml") for line in said.splitlines())
    assert job is None or read_job(write_job(job)) == job
