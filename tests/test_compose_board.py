"""Whole boards from job sections: areas by arithmetic, colours, findings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from img2pour.compose import plain
from img2pour.compose.board import ComposedBoard, compose_board, in_order
from img2pour.compose.palette import Colours
from img2pour.compose.pieces import Table, TracedArt
from img2pour.errors import SettingsError
from img2pour.job.piece_sections import ArtPiece
from img2pour.job.reading import read_job
from img2pour.plane.overlay import FillLayer, paint
from img2pour.plane.regionmap import RegionMap, colour_areas, face_areas
from img2pour.plane.shapes import colour_shapes
from tests.test_compose_words import built_font

KNOWN = (("navy", "#0b1f3a"), ("sand", "#e9d8a6"))


def stripes(count: int = 9, side: float = 90.0) -> RegionMap:
    wide = side / count
    fills = [
        FillLayer(
            [(plain.rectangle(wide, side)[0] + [(k + 0.5) * wide, side / 2], np.zeros(4))], k % 2, 0
        )
        for k in range(count)
    ]
    return paint(fills, (0.0, 0.0, side, side))


def crest(_piece: ArtPiece) -> TracedArt:
    """Return a white square of 100 px with a red disc of radius 40 px, y down."""
    disc = (plain.disc(80)[0] + 50, np.ones(2))
    square = (plain.rectangle(100, 100)[0] + 50, np.zeros(4))
    fills = [FillLayer([square], 0, 0), FillLayer([disc], 1, 0)]
    return TracedArt(paint(fills, (0, 0, 100, 100)), (("white", "#ffffff"), ("red", "#c80000")))


def composed(
    text: str,
    ground: RegionMap | None = None,
    board_mm: tuple[float, float] = (90.0, 90.0),
    base: Path = Path(),
    pin_mm: float = 0.0,
    **options,
) -> ComposedBoard:
    job = read_job(text)
    table = Table(board_mm, Colours(KNOWN, 1, "#c8a06a"), base, crest, pin_mm)
    pieces = in_order(job.art, job.shape, job.text)
    options = {"least_wall_mm": 0.8, "merge_thin": False} | options
    return compose_board(stripes() if ground is None else ground, pieces, table, **options)


def areas(board: ComposedBoard) -> dict[str, float]:
    found = colour_areas(board.region_map, len(board.colours))
    return {name: float(area) for (name, _), area in zip(board.colours, found, strict=True)}


def test_art_with_a_clear_background() -> None:
    board = composed('[[art]]\nfile = "c.png"\nwidth = "50 mm"\nclear = "white"')
    found = areas(board)
    assert found["red"] == pytest.approx(np.pi * 400, rel=1e-9)
    assert found["navy"] + found["sand"] == pytest.approx(8100 - np.pi * 400, rel=1e-9)
    assert "white" not in found
    assert board.names == ("artwork", "art 'c.png'")
    red = [name for name, _ in board.colours].index("red")
    assert set(board.face_pieces[board.region_map.face_colours == red].tolist()) == {1}


def test_moat_of_wood_around_art() -> None:
    board = composed('[[art]]\nfile = "c.png"\nwidth = "50 mm"\nclear = "white"\nmoat = "5 mm"')
    inner = composed('[[art]]\nfile = "c.png"\nwidth = "50 mm"\nclear = "white"')
    assert areas(board)["red"] == pytest.approx(areas(inner)["red"], rel=1e-9)
    # Within 25 mm of the middle nothing navy is left: the moat is wood, the artwork's sand.
    ring = composed('[[shape]]\nkind = "disc"\nwidth = "50 mm"\ncolour = "sand"')
    assert areas(board)["navy"] == pytest.approx(areas(ring)["navy"], rel=1e-9)


def test_ring_flows_into_stripes_of_its_colour_or_stays_apart() -> None:
    ring = '[[shape]]\nkind = "ring"\nwidth = "80 mm"\nband = "8 mm"\ncolour = "navy"\n'
    flowing, apart = composed(ring), composed(ring + "join = false")
    assert areas(flowing) == pytest.approx(areas(apart), rel=1e-9)

    def regions(board: ComposedBoard) -> int:
        return int((board.region_map.face_colours == 0).sum())

    # Five navy stripes (0..10, 20..30, ...) and the ring are one region; apart there are the ring,
    # the outer stripes whole beside it, and the others above, inside and below it.
    assert regions(flowing) == 1
    assert regions(apart) == 1 + 2 + 3 * 3


def test_layers_order_levels_and_new_colours() -> None:
    text = """
    [[shape]]
    kind = "rectangle"
    width = "40 mm"
    height = "20 mm"
    colour = "#336633=green"
    [[shape]]
    kind = "disc"
    width = "10 mm"
    colour = "#FFAA00"
    level = -1
    """
    board = composed(text)
    assert [name for name, _ in board.colours] == ["navy", "sand", "#ffaa00", "green"]
    assert areas(board)["green"] == pytest.approx(800)
    assert areas(board)["#ffaa00"] == 0


def test_pieces_beyond_the_artwork_lie_on_bare_wood() -> None:
    text = '[[shape]]\nkind = "disc"\nwidth = "20 mm"\ncolour = "navy"\nat = "100mm+45mm"'
    board = composed(text, board_mm=(120.0, 90.0))
    assert board.region_map.bounds == (0.0, 0.0, 120.0, 90.0)
    assert face_areas(board.region_map).sum() == pytest.approx(120 * 90, rel=1e-12)
    assert areas(board)["navy"] == pytest.approx(5 * 900 + np.pi * 100, rel=1e-9)


def test_copies_in_a_grid_and_on_a_circle() -> None:
    star = '[[shape]]\nkind = "star"\npoints = 5\nwidth = "12 mm"\ncolour = "#cc0000=red"\n'
    one = areas(composed(star))["red"]
    grid = composed(star + 'grid = "3x2"\nstep_x = "20 mm"\nstep_y = "20 mm"')
    assert areas(grid)["red"] == pytest.approx(6 * one, rel=1e-9)
    around = composed(star + 'copies = 7\nradius = "30 mm"')
    assert areas(around)["red"] == pytest.approx(7 * one, rel=1e-9)
    assert set(around.face_pieces.tolist()) == {0, 1}


def test_copies_nested_in_rows() -> None:
    text = """
    [[shape]]
    kind = "disc"
    width = "30 mm"
    colour = "#cc0000=red"
    at = "rows"
    copies = 5
    [[art]]
    file = "c.png"
    width = "50 mm"
    clear = "white"
    at = "rows"
    """
    board = composed(text, board_mm=(140.0, 160.0))
    # The crest has another red, which came first and keeps its name.
    assert areas(board)["red 2"] == pytest.approx(5 * np.pi * 225, rel=1e-9)
    assert areas(board)["red"] == pytest.approx(np.pi * 400, rel=1e-9)
    red, crest_red = ([n for n, _ in board.colours].index(x) for x in ("red 2", "red"))
    assert (board.region_map.face_colours == red).sum() == 5
    assert (board.region_map.face_colours == crest_red).sum() == 1
    with pytest.raises(SettingsError, match="need a blank"):
        composed(text.replace("copies = 5", "copies = 50"))


def test_words(tmp_path) -> None:
    built_font(tmp_path / "own.ttf", cubic=False)
    text = """
    [[text]]
    words = "IO"
    font = "own.ttf"
    height = "14 mm"
    colour = "#cc0000=red"
    at = "lower"
    """
    board = composed(text, base=tmp_path)
    ring = np.pi * (49 - 4.2**2)
    assert areas(board)["red"] == pytest.approx(2.8 * 14 + ring, rel=0.15)
    red = board.region_map.face_colours == 2
    assert red.sum() == 2


def extent(board: ComposedBoard, name: str) -> list[float]:
    """Return x0, y0, x1, y1 of a colour."""
    index = [known for known, _ in board.colours].index(name)
    shape = colour_shapes(board.region_map, len(board.colours), 1e-5)[index]
    return list(shapely.bounds(shape))


@pytest.mark.parametrize(
    ("at", "touches"),
    [
        ("lower-left", [0, 0, None, None]),
        ("upper", [None, None, None, 90]),
        ("right", [None, None, 90, None]),
        ("centre", [None] * 4),
    ],
)
def test_what_is_seen_touches_the_edge(tmp_path, at: str, touches: list[float | None]) -> None:
    """A hexagon turned by 10 degrees is neither as wide nor as high as its circle."""
    hexagon = '[[shape]]\nkind = "polygon"\npoints = 6\nwidth = "20 mm"\ncolour = "#cc0000=red"\n'
    found = extent(composed(f'{hexagon}turn = "10 deg"\nat = "{at}"'), "red")
    for value, wanted in zip(found, touches, strict=True):
        assert wanted is None or value == pytest.approx(wanted, abs=1e-4)
    middle = [(found[0] + found[2]) / 2, (found[1] + found[3]) / 2]
    if touches[0] is None is touches[2]:
        assert middle[0] == pytest.approx(45, abs=0.2)
    if touches[1] is None is touches[3]:
        assert middle[1] == pytest.approx(45, abs=0.2)


def test_drawings_lie_at_their_own_size(tmp_path) -> None:
    (tmp_path / "a.svg").write_text(
        '<svg width="40mm" height="20mm" viewBox="0 0 80 40"><rect width="80" height="40" '
        'fill="#0b1f3a"/><circle cx="40" cy="20" r="10" fill="gold"/></svg>'
    )
    board = composed('[[art]]\nfile = "a.svg"\nat = "lower left"', base=tmp_path)
    assert areas(board)["gold"] == pytest.approx(np.pi * 25, rel=1e-9)
    twice = composed('[[art]]\nfile = "a.svg"\nwidth = "80 mm"', base=tmp_path)
    assert areas(twice)["gold"] == pytest.approx(np.pi * 100, rel=1e-9)


def test_slivers_are_listed_or_merged() -> None:
    text = """
    [[shape]]
    kind = "rectangle"
    width = "59 mm"
    height = "90 mm"
    colour = "#cc0000=red"
    at = "40.1mm+45mm"
    """
    listed = composed(text)
    # The rectangle reaches from 10.6 to 69.6 mm, the stripes change at every 10 mm.
    said = " ".join(listed.findings)
    assert "artwork: a sliver of sand was left, 0.60 mm wide at 10.3, " in said
    assert "artwork: a sliver of navy was left, 0.40 mm wide at 69.8, " in said
    assert "shape rectangle" not in said
    merged = composed(text, merge_thin=True)
    assert merged.region_map.face_count == listed.region_map.face_count - 2
    assert face_areas(merged.region_map).sum() == pytest.approx(8100, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[[art]]\nfile = "c.png"', "its width or its height"),
        ('[[art]]\nfile = "c.png"\nwidth = "5 mm"\nclear = "pink"', "no colour 'pink'"),
        ('[[art]]\nfile = "none.svg"', "cannot be read"),
        ('[[art]]\nfile = "bare.svg"', "art 'bare.svg' tells no unit"),
        ('[[shape]]\nkind = "disc"\nwidth = "5 mm"\ncolour = "mauve"', "navy, sand"),
        ('[[shape]]\nkind = "ring"\nwidth = "5 mm"\nband = "4 mm"\ncolour = "navy"', "narrower"),
    ],
)
def test_pieces_that_cannot_be_used(tmp_path, text: str, says: str) -> None:
    (tmp_path / "bare.svg").write_text('<svg viewBox="0 0 9 9"><rect width="5" height="5"/></svg>')
    with pytest.raises(SettingsError, match=says):
        composed(text, base=tmp_path)


def test_the_wood_is_added_where_there_is_none() -> None:
    colours = Colours((("navy", "#0b1f3a"),), None, "#c8a06a")
    assert colours.wood_if_any is None
    assert colours.of_piece(None) == 1
    assert colours.all[1] == ("wood", "#c8a06a")
    assert colours.of_hex("#0b1f3a", "other") == 0
    assert colours.of_hex("#ffffff", "navy") == 2
    assert colours.all[2] == ("navy 2", "#ffffff")


def test_a_pictures_colour_that_no_eye_tells_from_another_is_it() -> None:
    colours = Colours(KNOWN, 1, "#c8a06a")
    assert colours.of_picture("#0c1f3b", "midnightblue") == 0
    assert colours.of_picture("#0b1f3a", "midnightblue") == 0
    assert colours.of_picture("#203a60", "slate") == 2
    assert colours.of_hex("#0c1f3b", "midnightblue") == 3  # what is typed is meant
    assert Colours((), None, "#c8a06a").of_picture("#000000", "black") == 0


def test_pieces_of_one_name_are_told_apart_and_folders_are_not_named(tmp_path) -> None:
    (tmp_path / "a.svg").write_text(
        '<svg width="4mm" height="4mm"><rect width="4" height="2" fill="navy"/><text>a</text></svg>'
    )
    two = '[[art]]\nfile = "../{0}/a.svg"\nat = "left"\n[[art]]\nfile = "../{0}/a.svg"\n'
    board = composed(two.format(tmp_path.name), base=tmp_path)
    assert board.names == ("artwork", "art 'a.svg'", "art 'a.svg' 2")
    assert any(line.startswith("art 'a.svg' 2: the text 'a'") for line in board.findings)


def test_slivers_of_arcs_that_run_close_together_are_measured() -> None:
    """A lune 0.02 mm wide: its chords cross, and what is left of it is no polygon any more."""
    disc = '[[shape]]\nkind = "disc"\nwidth = "{0} mm"\ncolour = "{1}"\nat = "{2}mm+45mm"\n'
    text = disc.format(40, "#cc0000=red", 45) + disc.format(40, "#336633=green", 45.02)
    said = [line for line in composed(text).findings if "red" in line]
    assert len(said) == 1
    assert "shape disc: a sliver of red was left, 0.0" in said[0]
