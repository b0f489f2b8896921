"""Truth: the cells that the drawn curves enclose, by plane geometry."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from img2pour.errors import SettingsError
from img2pour.job import make_job
from img2pour.sketch import LineDrawing, cells_are_plain, even_lines, is_line_drawing, read_drawing
from img2pour.steps import Workbench
from img2pour.straighten import Straightened
from img2pour.table import STEPS
from tests.photos.linework import LineArt
from tests.photos.maker import Photo
from tests.photos.scenes import (
    as_picture,
    flat_even,
    line_even,
    line_photo,
    line_straight,
    output_points,
)

SIX = range(6)
BARE_MM = (6.0, 6.0)


def _read(number: int, **wishes: object) -> tuple[LineArt, Photo, Straightened, LineDrawing]:
    art, photo = line_photo(number)
    done = line_straight(number)
    found = read_drawing(line_even(number), close_px=2.0 / done.mm_per_px, **wishes)
    assert found is not None
    return art, photo, done, found


def _cell_at(found: LineDrawing, points: np.ndarray) -> list[int]:
    return [int(found.cell_of[int(y), int(x)]) for x, y in points]


def test_a_cell_outside_the_drawing_is_told_by_the_point_as_given() -> None:
    picture = as_picture(line_photo(0)[1].rgb)
    job = make_job(
        photo={"sheet": "a4"},
        drawing={"read": "on"},
        cell=[{"at": "9000,30", "colour": "#112233=navy"}],
    )
    with pytest.raises(SettingsError, match="no cell at 9000,30: that is outside the drawing"):
        Workbench(STEPS, picture, "photo", job, Path()).get("drawing")


@pytest.mark.parametrize("number", SIX)
def test_every_cell_is_found_and_none_invented(number: int) -> None:
    art, photo, done, found = _read(number)
    inside = [cell.buffer(-2.0).representative_point().coords[0] for cell in art.cells]
    numbers = _cell_at(found, output_points(photo, done, np.array([*inside, BARE_MM])))
    assert len(set(numbers)) == len(art.cells) + 1
    assert len(found.cells) == len(art.cells) + 1


@pytest.mark.parametrize("number", SIX)
def test_borders_run_along_the_middle_of_the_line(number: int) -> None:
    art, photo, done, found = _read(number)
    edge = np.ones(found.cell_of.shape, np.uint8)
    edge[:, 1:][found.cell_of[:, 1:] != found.cell_of[:, :-1]] = 0
    edge[1:][found.cell_of[1:] != found.cell_of[:-1]] = 0
    away = cv2.distanceTransform(edge, cv2.DIST_L2, 5)
    shares = np.linspace(0.02, 0.98, 60)
    middles = [line.interpolate(s, normalized=True) for line in art.middles.geoms for s in shares]
    spots = output_points(photo, done, np.array([(p.x, p.y) for p in middles])).astype(int)
    off = away[spots[:, 1], spots[:, 0]]
    assert np.percentile(off, 95) <= 1.0
    # Where two lines nearly touch, a gap may be bridged to the nearer one: once in these six.
    assert np.percentile(off, 99) <= 3
    assert off.max() < 10


def test_neighbours_differ_and_points_address_cells() -> None:
    _, _, _, found = _read(1)
    for cell in found.cells:
        x, y = cell.at_px
        assert found.cell_of[int(y), int(x)] == cell.number
    borders = (found.cell_of[:, 1:] != found.cell_of[:, :-1]).sum()
    same = (found.cell_of[:, 1:] != found.cell_of[:, :-1]) & (
        found.labels[:, 1:] == found.labels[:, :-1]
    )
    assert same.sum() < 0.01 * borders


def test_wished_colours_reach_the_cell_at_the_point() -> None:
    _, _, _, plain = _read(1)
    chosen = plain.cells[2]
    _, _, _, found = _read(1, wished={chosen.at_px: ("sea", "#1f6f8b")})
    x, y = chosen.at_px
    assert found.colours[found.labels[int(y), int(x)]] == ("sea", "#1f6f8b")
    assert (found.labels == found.labels[int(y), int(x)]).sum() == chosen.area_px2


@pytest.mark.parametrize("lines", ["keep", "stand"])
def test_kept_lines_are_a_colour_of_even_width(lines: str) -> None:
    art, _, done, found = _read(2, lines=lines, line_width_px=9.0)
    kept = found.labels == found.line_colour
    length_px = art.middles.length / done.mm_per_px
    assert kept.sum() / length_px == pytest.approx(9.0, rel=0.12)


def test_even_lines_have_the_width_that_was_asked() -> None:
    cell_of = np.ones((60, 80), np.int32)
    cell_of[:, 40:] = 2
    kept = even_lines(cell_of, 6.0)
    assert kept[30].sum() == 6
    assert kept[30, 37:43].all()


def test_line_drawings_are_told_from_flat_art() -> None:
    for number in (0, 1, 2):
        assert is_line_drawing(line_even(number))
        assert not is_line_drawing(flat_even(number))


@pytest.mark.parametrize(("words", "thick"), [("BOATHOUSE", 20), ("OTTER CABIN", 14)])
@pytest.mark.parametrize("framed", [True, False])
def test_lettering_is_no_line_drawing(words: str, thick: int, framed: bool) -> None:
    """Letters have closed bowls and a frame a cell, yet as cells their strokes would be lost."""
    font = cv2.FONT_HERSHEY_SIMPLEX
    page = np.full((900, 1800, 3), 255, np.uint8)
    (wide, high), _ = cv2.getTextSize(words, font, 7.0, thick)
    at = ((1800 - wide) // 2, (900 + high) // 2)
    cv2.putText(page, words, at, font, 7.0, (79, 48, 18), thick, cv2.LINE_AA)
    if framed:
        cv2.rectangle(page, (60, 60), (1740, 840), (79, 48, 18), thick, cv2.LINE_AA)
    assert not is_line_drawing(as_picture(page))


def _ring_page(fill: tuple[int, int, int] | None = None) -> np.ndarray:
    page = np.full((500, 700, 3), 250, np.uint8)
    for x, colour in ((200, fill), (480, None)):
        if colour is not None:
            cv2.circle(page, (x, 250), 120, colour, -1, cv2.LINE_AA)
        cv2.circle(page, (x, 250), 120, (40, 40, 44), 6, cv2.LINE_AA)
    return page


def test_cells_that_were_coloured_in_keep_their_colour() -> None:
    found = read_drawing(as_picture(_ring_page((214, 96, 60))), close_px=4)
    assert found is not None
    assert len(found.cells) == 3
    names = {found.colours[found.labels[250, x]][1] for x in (200, 480)}
    assert names == {"#d6603c", "#fafafa"}


def test_a_page_without_lines_is_no_drawing() -> None:
    blank = as_picture(np.full((300, 400, 3), 248, np.uint8))
    assert read_drawing(blank, close_px=3) is None
    assert not is_line_drawing(blank)


def test_broad_lines_that_cross_bound_cells() -> None:
    """Three circles, each crossing both others: 7 areas and the paper."""
    page = np.full((900, 1200, 3), 250, np.uint8)
    for x, y, radius in ((400, 450, 250), (750, 450, 250), (575, 300, 150)):
        cv2.circle(page, (x, y), radius, (20, 20, 20), 13, cv2.LINE_AA)
    found = read_drawing(as_picture(page), close_px=10)
    assert found is not None
    assert len(found.cells) == 8


def test_areas_of_colour_are_not_the_cells_of_a_drawing() -> None:
    page = _ring_page((214, 96, 60))
    found = read_drawing(as_picture(page), close_px=4)
    assert found is not None
    assert cells_are_plain(as_picture(page), found)
    page[300:460, 380:560] = (30, 90, 150)
    assert not cells_are_plain(as_picture(page), found)


def test_an_open_curve_makes_no_cell_and_says_so() -> None:
    page = np.full((400, 500, 3), 250, np.uint8)
    cv2.ellipse(page, (250, 200), (140, 110), 0, 0, 250, (40, 40, 44), 5, cv2.LINE_AA)
    found = read_drawing(as_picture(page), close_px=5)
    assert found is not None
    assert len(found.cells) == 1
    assert any("no cell" in note for note in found.notes)


def test_smudges_are_not_lines() -> None:
    page = _ring_page().astype(np.float32)
    y, x = np.mgrid[:500, :700]
    for place in ((200, 250), (480, 200), (340, 420)):
        page -= 45 * np.exp(-((x - place[0]) ** 2 + (y - place[1]) ** 2) / 900)[..., None]
    found = read_drawing(as_picture(np.clip(page, 0, 255).astype(np.uint8)), close_px=4)
    assert found is not None
    assert len(found.cells) == 3


@pytest.mark.parametrize(
    ("wish", "word"),
    [
        ({"lines": "drop"}, "shared, keep, stand"),
        ({"close_px": -1.0}, "cannot be closed"),
        ({"line_width_px": 0.0}, "not above zero"),
        ({"wished": {(9000.0, 3.0): ("a", "#112233")}}, "no cell at"),
    ],
)
def test_bad_wishes_are_refused(wish: dict, word: str) -> None:
    with pytest.raises(SettingsError, match=word):
        read_drawing(as_picture(_ring_page()), **{"close_px": 3.0, **wish})
