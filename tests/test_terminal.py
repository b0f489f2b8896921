"""Tables, progress and warnings in the terminal, from made-up reports."""

from __future__ import annotations

import io
import sys
from typing import Any

import pytest

from img2pour.errors import CancelledError
from img2pour.job.bit_table import shipped_bits
from img2pour.palette import Palette, PaletteColour
from img2pour.progress import Progress
from img2pour.terminal import (
    batch_table,
    bits_table,
    cut_out_lines,
    open_console,
    palette_table,
    progress_shown,
    show_report,
    show_verdict,
    show_warnings,
    shown_text,
    text_lines,
)

HOSTILE = "[red]=2+2[/red]\n\x1b[31m\u202e:smile:"


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def colour(name: str = "navy", **changes: Any) -> dict[str, Any]:
    row = {
        "name": name,
        "hex": "#0b1f3a",
        "role": "pour",
        "layer": "NAVY",
        "area_mm2": 645.16 * 10,
        "area_percent": 25.04,
        "regions": 3,
        "volume_ml": 29.5735295625,
    }
    return row | changes


def report(*colours: dict[str, Any], removed: int = 0) -> dict[str, Any]:
    rows = [
        {"colour": "navy", "reason": "too small", "area_mm2": float(i), "at_mm": [25.4, 12.7]}
        for i in range(removed)
    ]
    return {
        "board": {"width_mm": 304.8, "height_mm": 203.2, "thickness_mm": 19.05},
        "scale_mm_per_px": 0.1016,
        "colours": list(colours),
        "removed": rows,
        "warnings": [],
    }


def printed(data: dict[str, Any], units: Any = "in", screen: io.StringIO | None = None) -> str:
    stream = screen or io.StringIO()
    show_report(open_console(stream), data, units)
    return stream.getvalue()


def test_the_stages_and_what_they_come_to_stand_below_the_table() -> None:
    planned = report(colour()) | {
        "stages": [
            {"number": 1, "name": "clear", "done": True},
            {"number": 2, "name": HOSTILE, "done": False},
        ],
        "plan": {
            "schedule": {"days": 1, "machine_hours": 4.26},
            "total_ml": 295.735295625,
            "cost": 7.5,
        },
    }
    lines = printed(planned).splitlines()
    assert lines[3] == "Stages: 1 clear (done), 2 [red]=2+2[/red] [31m :smile:"
    assert lines[4] == (
        "In all: 1 day, 4.3 h at the machine, 296 ml (10.00 fl oz) of resin to mix, "
        "7.50 in your money"
    )


def test_the_report_is_one_table_with_its_figures() -> None:
    wood = colour("sand", role="wood", layer="SAND", volume_ml=None, hex="#e9d8a6")
    lines = [" ".join(line.split()) for line in printed(report(colour(), wood)).splitlines()]
    assert lines[0] == "Board 12 in x 8 in, 0.1016 mm a pixel"
    assert lines[1] == "Colour Hex Role Area Share Regions Resin"
    assert lines[2] == "navy #0b1f3a pour 10.00 sq in 25.0 % 3 1.00 fl oz"
    assert lines[3].endswith(" -")


def test_the_same_in_millimetres() -> None:
    text = printed(report(colour()), "mm")
    assert "Board 304.8 mm x 203.2 mm" in text
    assert "64.52 cm2" in text
    assert "29.6 ml" in text


def test_nothing_is_coloured_when_it_is_piped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    assert "\x1b" not in printed(report(colour(), removed=3))


def test_a_terminal_gets_a_swatch_unless_no_color_is_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLORTERM", "truecolor")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "\x1b[48;2;11;31;58m" in printed(report(colour()), screen=Screen())
    monkeypatch.setenv("NO_COLOR", "1")
    assert "48;2" not in printed(report(colour()), screen=Screen())


def test_hostile_names_stay_text() -> None:
    text = printed(report(colour(HOSTILE)))
    assert "[red]=2+2[/red] [31m :smile:" in text
    assert "\x1b" not in text
    assert shown_text(HOSTILE) == "[red]=2+2[/red] [31m :smile:"


def test_a_long_name_is_folded_not_cut() -> None:
    text = printed(report(colour("j" * 80)))
    assert text.count("j") == 80
    assert max(map(len, text.splitlines())) <= 120


def test_removed_regions_are_listed_the_largest_first() -> None:
    lines = printed(report(colour(), removed=11), "mm").splitlines()
    start = lines.index("Removed: 11 regions, the largest first")
    assert lines[start + 1] == "  navy, 10.00 mm2 at 25.4 mm, 12.7 mm: too small"
    assert lines[-1] == "  and 3 smaller ones; report.json lists all"
    assert len(lines) - start == 10
    assert "and 1 smaller one;" in printed(report(colour(), removed=9))
    assert "Removed: 1 region," in printed(report(colour(), removed=1))


def verdict() -> dict[str, Any]:
    row = {
        "name": "navy",
        "kept_percent": 98.76,
        "islands_lost": 2,
        "necks": 1,
        "thinnest_stroke_mm": 3.175,
        "thinnest_wall_mm": None,
    }
    step = {"width_mm": 304.8, "lost_percent": 1.2, "volume_ml": 29.5735295625, "minutes": 41.4}
    return {
        "word": "carvable with losses",
        "accepted": False,
        "colours": [row],
        "advice": ["take a board 14 in wide: everything is kept"],
        "ladder": [step],
    }


def test_the_verdict_is_a_word_a_table_advice_and_a_ladder() -> None:
    stream = io.StringIO()
    show_verdict(open_console(stream), {"verdict": verdict()}, "in")
    lines = [" ".join(line.split()) for line in stream.getvalue().splitlines()]
    assert lines == [
        "Verdict: carvable with losses",
        "Colour Kept Lost Necks Thinnest stroke Thinnest wall",
        "navy 98.8 % 2 1 1/8 in (0.125) -",
        "- take a board 14 in wide: everything is kept",
        "Width Lost Resin Minutes",
        "12 in 1.2 % 1.00 fl oz 41",
    ]


def test_warnings_go_to_standard_error(capsys: pytest.CaptureFixture[str]) -> None:
    show_warnings(["the lettering\n'\x1b[1mHELLO' is lost", "two alike"])
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "warning: the lettering ' [1mHELLO' is lost\nwarning: two alike\n"


def test_of_many_warnings_ten_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    show_warnings(f"number {i}" for i in range(13))
    lines = capsys.readouterr().err.splitlines()
    assert lines[:10] == [f"warning: number {i}" for i in range(10)]
    assert lines[10:] == ["and 3 more warnings; the report lists all"]


def test_the_palette_is_a_table() -> None:
    colours = (
        PaletteColour("navy", (11.0, 31.0, 58.0), "#0b1f3a", 0.625),
        PaletteColour("[b]sand", (233.0, 216.0, 166.0), "#e9d8a6", 0.375),
    )
    stream = io.StringIO()
    open_console(stream).print(palette_table(Palette(colours, 0.99, 0.5, 1.0)))
    lines = [line.split() for line in stream.getvalue().splitlines()]
    assert lines[1:] == [["navy", "#0b1f3a", "62.5", "%"], ["[b]sand", "#e9d8a6", "37.5", "%"]]


def test_the_table_of_bits_fits_its_lines() -> None:
    stream = io.StringIO()
    open_console(stream).print(bits_table(shipped_bits(), "in"))
    lines = stream.getvalue().splitlines()
    assert len(lines) == len(shipped_bits()) + 1
    assert lines[1].split()[:6] == ["flat", "1/4", "in", "flat", "1/4", "in"]
    assert "12.4 deg" in stream.getvalue()


def test_a_batch_is_a_table() -> None:
    row = {
        "picture": "a.png",
        "result": "failed",
        "colours": "",
        "regions": "",
        "removed": "",
        "volume_ml": "",
        "said": "cannot be read",
    }
    stream = io.StringIO()
    open_console(stream).print(batch_table([row]))
    assert stream.getvalue().splitlines()[1].split()[:4] == ["a.png", "failed", "-", "-"]


def test_texts_and_cut_outs_are_told_below_the_table() -> None:
    strokes = [{"letter": "r", "stroke_mm": 0.82, "widest_mm": 2.0}]
    texts = [
        {"piece": "text 'Har'", "height_mm": 14.0, "bit_mm": 0.95, "strokes": strokes},
        {"piece": "text ' '", "height_mm": 14.0, "bit_mm": 0.95, "strokes": []},
    ]
    assert text_lines(texts, "mm") == [
        "text 'Har': thinnest stroke 0.82 mm (r), the bit cuts 0.95 mm"
    ]
    row = {"piece": "art 'a.png'", "width_mm": 101.0, "height_mm": 90.5}
    rows = [row | {"pins_mm": [[1, 2], [3, 4]]}, row | {"pins_mm": []}]
    assert cut_out_lines(rows, "mm") == [
        "Cut out: 2 of art 'a.png', 101 mm x 90.5 mm, 1 of them with two pins in the waste"
    ]


def test_progress_is_silent_when_nobody_watches(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    with progress_shown() as progress:
        progress.at("read", 0.5)
    assert stream.getvalue() == ""


def test_progress_is_a_bar_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    with progress_shown() as progress:
        progress.at("read", 0.0)
        progress.at("[b]trace\x1b[0m", 0.25)
    for words in ("in all", "read", "[b]trace [0m"):  # of the whole, and of each step
        assert words in screen.getvalue()
    quiet = Screen()
    monkeypatch.setattr(sys, "stderr", quiet)
    with progress_shown(quiet=True) as progress:
        progress.at("trace", 0.5)
    assert quiet.getvalue() == ""


def test_cancelling_still_works_through_the_bar() -> None:
    with pytest.raises(CancelledError, match="before the step 'trace'"):
        Progress(is_cancelled=lambda: True).at("trace", 0.5)
