"""The report as data, as JSON and as a table of colours."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from img2pour.errors import GeometryError, SettingsError
from img2pour.write.report import ColourRow, RemovedRow, ReportFacts, report_data
from img2pour.write.tables import colours_csv, report_json
from img2pour.write.text import cell_text, one_line, xml_text
from img2pour.write.values import Board
from tests.maps import HOSTILE_NAMES

NAVY = ColourRow("navy", "#0b1f3a", "pour", "NAVY", 1000 / 3, 25.0, 29.5735295625, 3)
OAK = ColourRow("oak", "#c8a06a", "wood", "OAK", 1000.0, 75.0, None, 1)
FACTS = ReportFacts(
    version="0.1.0",
    input_sha256="ab" * 32,
    board=Board(533.4, 361.95, 19.0),
    scale_mm_per_px=0.123456789012,
    image_to_mm=np.array([[0.123456789012, 0, 1], [0, -0.123456789012, 300], [0, 0, 1]]),
    colours=(NAVY, OAK),
    removed=(RemovedRow("navy", "narrower than the bit", 0.5, (12.0, 34.0)),),
    warnings=("one", "two\nlines"),
)


def test_keys_and_values():
    data = json.loads(report_json(report_data(FACTS)))
    assert data["board"] == {"width_mm": 533.4, "height_mm": 361.95, "thickness_mm": 19.0}
    assert data["scale_mm_per_px"] == 0.123456789012
    assert data["image_to_mm"][1] == [0.0, -0.123456789012, 300.0]
    assert data["lens"] is None
    assert data["stages"] == []
    assert data["removed"] == [
        {
            "colour": "navy",
            "reason": "narrower than the bit",
            "area_mm2": 0.5,
            "at_mm": [12.0, 34.0],
        }
    ]
    assert data["warnings"] == ["one", "two lines"]
    assert data["version"] == "0.1.0"
    assert data["input_sha256"] == "ab" * 32
    assert data["colours"][0]["area_mm2"] == pytest.approx(1000 / 3, rel=1e-11)
    assert data["colours"][1]["volume_ml"] is None


def test_fluid_ounces_are_those_of_the_us():
    # 1 US fl oz = 29.5735295625 mL exactly (NIST Handbook 44, appendix C).
    row = report_data(FACTS)["colours"][0]
    assert row["volume_fl_oz"] == pytest.approx(1.0, rel=1e-12)


def test_further_keys_join_but_never_replace():
    data = report_data(replace(FACTS, more={"tolerance_px": 0.1}))
    assert data["tolerance_px"] == 0.1
    with pytest.raises(ValueError, match="version"):
        report_data(replace(FACTS, more={"version": "9"}))


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -np.inf])
def test_figures_that_are_no_numbers_are_never_written(value):
    data = report_data(replace(FACTS, colours=(replace(NAVY, area_mm2=value),)))
    with pytest.raises(GeometryError, match=r"colours\[0\]\.area_mm2"):
        report_json(data)
    with pytest.raises(GeometryError, match="area_mm2"):
        colours_csv(data)


def test_numbers_of_arrays_are_plain_numbers():
    data = report_data(replace(FACTS, more={"n": np.int64(3), "f": np.float64(0.5), "b": True}))
    read = json.loads(report_json(data))
    assert (read["n"], read["f"], read["b"]) == (3, 0.5, True)


def test_same_facts_same_bytes():
    assert report_json(report_data(FACTS)) == report_json(report_data(FACTS))


def table(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode(), newline="")))


def test_table_of_colours():
    rows = table(colours_csv(report_data(FACTS)))
    assert rows[0] == {
        "name": "navy",
        "hex": "#0b1f3a",
        "role": "pour",
        "layer": "NAVY",
        "area_mm2": "333.333",
        "area_percent": "25.000",
        "regions": "3",
        "volume_ml": "29.57",
        "volume_fl_oz": "1.000",
    }
    assert rows[1]["volume_ml"] == ""
    assert colours_csv(report_data(FACTS)).count(b"\r\n") == 3


def test_hostile_names_in_tables():
    rows = tuple(replace(NAVY, name=name) for name in HOSTILE_NAMES)
    data = report_data(replace(FACTS, colours=rows))
    read = table(colours_csv(data))
    assert len(read) == len(HOSTILE_NAMES)
    assert colours_csv(data).count(b"\n") == len(HOSTILE_NAMES) + 1
    assert not any(row["name"].startswith(tuple("=+-@\t\r")) for row in read)
    assert read[0]["name"] == '\'=cmd|"/c calc"!A1'
    names = [row["name"] for row in json.loads(report_json(data))["colours"]]
    assert names[1] == 'navy" <script>alert(1)</script>&'
    assert names[5] == "bell"


@pytest.mark.parametrize(
    ("text", "line"),
    [("a\r\nb", "a b"), ("\ud800a\x1b[31m", "a [31m"), ("é 红", "é 红"), (" ", "")],
)
def test_one_line(text, line):
    assert one_line(text) == line


@pytest.mark.parametrize("text", ["\t=1", "\n@x", " -1", "＝1"])
def test_formulas_behind_blanks(text):
    assert cell_text(text).startswith("'")


def test_xml_text():
    assert xml_text("<a b=\"c\" d='e'>&") == "&lt;a b=&quot;c&quot; d=&#39;e&#39;&gt;&amp;"


@pytest.mark.parametrize("size", [0.0, -1.0, float("nan"), float("inf")])
def test_board_sizes_that_are_none(size):
    with pytest.raises(SettingsError, match="height_mm"):
        Board(100.0, size)
