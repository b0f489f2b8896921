"""Several pieces on one board, through the whole way: areas by closed forms."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from img2pour.errors import Img2PourError
from img2pour.job import make_job
from img2pour.pipeline import convert
from img2pour.plane import trace as tracing
from img2pour.plane.regionmap import face_areas
from img2pour.results import Result
from tests.art.degrade import png
from tests.test_compose_words import built_font

SAND = (236, 214, 169)
GROUND = {"palette": "#ecd6a9=sand", "wood": "sand"}


def composed(base: Path | None = None, **pieces: object) -> Result:
    """Return pieces on a plain board of 200 x 100 mm."""
    ground = png(np.full((100, 200, 3), SAND, np.uint8))
    job = make_job(size={"width": "200 mm"}, colours=GROUND, carving={"small": "keep"}, **pieces)
    return convert(ground, job, base=base)


def test_places_of_the_verdict_name_their_piece() -> None:
    """A disc of 40 mm holds no place; a star's five points of 3 mm are too fine for the bits."""
    ground = png(np.full((100, 200, 3), SAND, np.uint8))
    disc = {"kind": "disc", "colour": "#153c78=navy", "width": "40 mm", "at": "50mm+50mm"}
    star = disc | {"kind": "star", "points": 5, "width": "3 mm", "at": "150mm+50mm"}
    job = make_job(
        size={"width": "200 mm"}, colours=GROUND, bits={"use": ["flat 1/8 in"]}, shape=(disc, star)
    )
    places = convert(ground, job, extent="judged").report["verdict"]["places"]
    assert places
    assert {place["piece"] for place in places} == {"shape star"}


def area(result: Result, name: str) -> float:
    return next(row["area_mm2"] for row in result.report["colours"] if row["name"] == name)


def test_disc_and_star_have_the_areas_of_the_formulas() -> None:
    """Disc pi r^2; five-pointed star of circumradius R: 1.1225699 R^2."""
    result = composed(
        shape=(
            {"kind": "disc", "colour": "#153c78=navy", "width": "60 mm", "at": "50mm+50mm"},
            {
                "kind": "star",
                "colour": "#f0be48=gold",
                "width": "80 mm",
                "points": 5,
                "at": "150mm+50mm",
            },
        )
    )
    assert area(result, "navy") == pytest.approx(math.pi * 30**2, rel=1e-9)
    assert area(result, "gold") == pytest.approx(1.1225699 * 40**2, rel=1e-7)
    whole = face_areas(result.design.region_map).sum()
    assert whole == pytest.approx(200 * 100, rel=1e-12)


def test_moat_of_wood_keeps_two_pieces_apart() -> None:
    """A disc of 40 mm with a moat of 5 mm in a square of 80 mm: pi (25^2 - 20^2) of wood."""
    square = {"kind": "rectangle", "colour": "#153c78=navy", "width": "80 mm", "height": "80 mm"}
    disc = {"kind": "disc", "colour": "#be2832=red", "width": "40 mm", "moat": "5 mm"}
    result = composed(shape=(square, disc))
    assert area(result, "red") == pytest.approx(math.pi * 20**2, rel=1e-9)
    assert area(result, "navy") == pytest.approx(80**2 - math.pi * 25**2, rel=1e-9)


def test_same_colour_flows_together_unless_it_shall_not() -> None:
    square = {"kind": "rectangle", "colour": "#153c78=navy", "width": "80 mm", "height": "80 mm"}
    bar = {"kind": "rectangle", "colour": "navy", "width": "150 mm", "height": "20 mm"}
    joined = composed(shape=(square, bar))
    assert area(joined, "navy") == pytest.approx(80**2 + 70 * 20)
    regions = {row["name"]: row["regions"] for row in joined.report["colours"]}
    assert regions["navy"] == 1


def test_picture_on_top_shows_the_ground_where_it_is_clear(tmp_path: Path) -> None:
    """A picture of a red square on white, its white left clear."""
    pixels = np.full((60, 60, 3), 255, np.uint8)
    pixels[15:45, 15:45] = (190, 40, 50)
    (tmp_path / "crest.png").write_bytes(png(pixels))
    piece = {
        "file": "crest.png",
        "width": "60 mm",
        "at": "60mm+50mm",
        "colours": "#ffffff=white,#be2832=red",
        "clear": "white",
    }
    result = composed(tmp_path, art=(piece,))
    assert area(result, "red") == pytest.approx(900, rel=1e-3)
    x, y = result.regions["red"].centroid.coords[0]
    assert (x, y) == pytest.approx((60, 50), abs=0.05)


def test_colours_of_pieces_can_be_overridden() -> None:
    disc = {"kind": "disc", "colour": "#153c78=navy", "width": "60 mm"}
    result = composed(shape=(disc,), override=({"colour": "navy", "role": "wood"},))
    row = next(row for row in result.report["colours"] if row["name"] == "navy")
    assert row["role"] == "wood"


def test_missing_file_of_a_piece_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(Img2PourError) as caught:
        composed(tmp_path, art=({"file": "nothing.png", "width": "10 mm"},))
    assert "nothing.png" in str(caught.value)
    assert "\n" not in str(caught.value)


TEXT = {"words": "IO", "font": "own.ttf", "height": "7 mm", "colour": "#153c78=navy"}


def test_letters_are_told_first_and_their_strokes_stand_in_the_report(tmp_path: Path) -> None:
    built_font(tmp_path / "own.ttf", cubic=False)
    result = composed(tmp_path, text=(TEXT,))
    (row,) = result.report["texts"]
    assert row["piece"] == "text 'IO'"
    assert [one["letter"] for one in row["strokes"]] == ["I", "O"]
    # Bars of 1.4 mm; the finest bit of the default shelf cuts less.
    assert row["strokes"][0]["stroke_mm"] == pytest.approx(1.4, abs=0.1)
    assert row["bit_mm"] < 1.4
    assert not [line for line in result.warnings if "letters" in line]
    small = composed(tmp_path, text=(TEXT | {"height": "3 mm"},))
    assert small.warnings[0].startswith("text 'IO': letters 3.0 mm high are too small")


def test_a_font_that_will_not_do_is_told_before_anything_is_traced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    traced = count_traces(monkeypatch)
    with pytest.raises(Img2PourError, match="cannot be read"):
        composed(tmp_path, text=(TEXT,))
    assert traced == []


def count_traces(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, ...]]:
    """Return a list that will hold the size in pixels of every picture that is traced."""
    seen: list[tuple[int, ...]] = []
    trace = tracing.trace

    def counted(pixels: np.ndarray, *args: Any, **options: Any) -> Any:
        seen.append(pixels.shape[:2])
        return trace(pixels, *args, **options)

    monkeypatch.setattr(tracing, "trace", counted)
    return seen


def test_each_artwork_is_traced_once_whatever_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = count_traces(monkeypatch)
    art = np.full((40, 60, 3), 255, np.uint8)
    art[10:30, 10:50] = (200, 0, 0)
    (tmp_path / "a.png").write_bytes(png(art))
    ground = png(np.full((100, 200, 3), SAND, np.uint8))
    kept: dict[str, Any] = {}

    def laid(*pieces: dict[str, object]) -> None:
        own = tuple({"file": "a.png", "width": "30 mm"} | piece for piece in pieces)
        job = make_job(size={"width": "200 mm"}, colours=GROUND, art=own)
        convert(ground, job, base=tmp_path, kept=kept)

    grid = {"grid": "3x2", "step_x": "40 mm", "step_y": "30 mm"}
    laid({"at": "left"}, {"at": "right", "turn": "30 deg"}, grid | {"level": 1})
    assert seen == [(100, 200), (40, 60)]
    laid({"at": "50mm+50mm"}, {"at": "upper", "mirror": True, "moat": "2 mm", "width": "50 mm"})
    assert len(seen) == 2


def test_the_tolerance_counts_at_the_size_of_the_piece(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted: list[float | None] = []
    trace = tracing.trace

    def noted(*args: Any, **options: Any) -> Any:
        wanted.append(options["tolerance_px"])
        return trace(*args, **options)

    monkeypatch.setattr(tracing, "trace", noted)
    art = np.full((40, 60, 3), 255, np.uint8)
    art[10:30, 10:50] = (200, 0, 0)
    (tmp_path / "a.png").write_bytes(png(art))
    piece = {"file": "a.png", "width": "30 mm"}
    composed(tmp_path, art=(piece,), tracing={"tolerance": "0.2 mm"})
    # A pixel is 1 mm of the board and 0.5 mm of the piece.
    assert wanted == [pytest.approx(0.2), pytest.approx(0.4)]


def test_what_was_removed_names_its_piece() -> None:
    disc = {"kind": "disc", "colour": "#153c78=navy", "width": "40 mm", "at": "50mm+50mm"}
    dot = disc | {"width": "0.4 mm", "at": "150mm+50mm"}
    ground = png(np.full((100, 200, 3), SAND, np.uint8))
    job = make_job(size={"width": "200 mm"}, colours=GROUND, shape=(disc, dot))
    report = convert(ground, job).report
    assert [row["piece"] for row in report["removed"]] == ["shape disc 2"]
