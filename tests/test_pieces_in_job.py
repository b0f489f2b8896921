"""Pieces of art, shapes and texts in the job: read, written, typed on the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from img2pour.errors import SettingsError
from img2pour.job.model import Job
from img2pour.job.options import merge_options
from img2pour.job.places import read_over
from img2pour.job.reading import read_job
from img2pour.job.writing import point_at, write_job

FULL = """
[[art]]
file = "crest.png"
width = "120 mm"
at = "3in+4in"
by = "lower-left"
turn = "15 deg"
moat = "2 mm"
moat_colour = "#ffffff=white"
clear = "white"
grid = "3x2"
step_x = "4 in"
step_y = "5 in"

[[art]]
file = "name.dxf"
layers = ["NAME"]
level = 3

[[shape]]
kind = "star"
points = 5
width = "8 in"
colour = "#c80000=red"
copies = 6
radius = "5 in"

[[text]]
words = "Harbour House"
font = "font.ttf"
height = "1 in"
colour = "navy"
around = "4 in"
inside = true
"""


def test_pieces_are_read_and_written_back() -> None:
    job = read_job(FULL)
    assert [piece.file for piece in job.art] == ["crest.png", "name.dxf"]
    assert job.art[0].grid == (3, 2)
    assert job.art[0].moat_colour == ("#ffffff", "white")
    assert job.shape[0].colour == ("#c80000", "red")
    assert job.text[0].colour == ("", "navy")
    assert read_job(write_job(job)) == job
    assert read_job(write_job(Job())) == Job()


def test_paths_of_pieces_move_with_the_job() -> None:
    moved = point_at(read_job(FULL), Path("out"), base=Path())
    assert [piece.file for piece in moved.art] == ["../crest.png", "../name.dxf"]
    assert moved.text[0].font == "../font.ttf"


@pytest.mark.parametrize(
    ("section", "says"),
    [
        ('[[art]]\nwidth = "3 in"', "file"),
        ('[[art]]\nfile = "a.png"\nat = "nowhere"', "no place"),
        ('[[art]]\nfile = "a.png"\nturn = "15"', "not an angle"),
        ('[[art]]\nfile = "a.png"\ngrid = "3"', "columns x rows"),
        ('[[art]]\nfile = "a.png"\ngrid = "3x2"', "step_x"),
        ('[[art]]\nfile = "a.png"\ncopies = 3', "radius"),
        ('[[art]]\nfile = "a.png"\nmoat_colour = "white"', "without a moat"),
        ('[[shape]]\nkind = "star"\ncolour = "red"\nwidth = "3 in"', "points"),
        ('[[shape]]\nkind = "cloud"\ncolour = "red"', "kind"),
        ('[[text]]\nwords = "A"\nfont = "a.ttf"\ncolour = "red"', "height"),
        ('[[text]]\nwords = "A"\nfont = "a.ttf"\nheight = "1"\ncolour = "red"', "no unit"),
    ],
)
def test_faults_are_named_with_their_line(section: str, says: str) -> None:
    with pytest.raises(SettingsError, match=says) as caught:
        read_job(section)
    assert "line" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("crest.png@centre,120mm", {"file": "crest.png", "at": "centre", "width": "120 mm"}),
        ("a@b.png@top left,4 in", {"file": "a@b.png", "at": "top left", "width": "4 in"}),
        (
            "a.png@3in+4 1/2in,height 2in,turn -15deg,mirror,moat 2mm,clear Off white",
            {
                "file": "a.png",
                "at": "3in+4 1/2in",
                "height": "2 in",
                "turn": "-15deg",
                "mirror": True,
                "moat": "2 mm",
                "clear": "Off white",
            },
        ),
    ],
)
def test_art_on_the_command_line(text: str, wanted: dict[str, object]) -> None:
    assert read_over(text) == wanted
    (piece,) = merge_options(Job(), {"over": (text,)}).art
    assert piece.file == wanted["file"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("crest.png", "names no file and place"),
        ("@centre", "names no file and place"),
        ("a.png@nowhere", "is no place"),
        ("a.png@centre,width", "width"),
        ("a.png@centre,turn 15", "not an angle"),
    ],
)
def test_faults_on_the_command_line(text: str, says: str) -> None:
    with pytest.raises(SettingsError, match=says):
        merge_options(Job(), {"over": (text,)})


def test_font_and_cut_out_of_art_on_the_command_line() -> None:
    assert read_over("a.svg@lower,height 2in,font own.ttf,cut_out 0 mm") == {
        "file": "a.svg",
        "at": "lower",
        "height": "2 in",
        "font": "own.ttf",
        "cut_out": "0 mm",
    }
    with pytest.raises(SettingsError, match="cut_out"):
        read_over("a.svg@lower,cut_out -1mm")
