"""Cut-outs around the copies of a piece, pins in the waste beside them, and both in the files."""

from __future__ import annotations

import io
import json

import ezdxf
import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw

from img2pour.compose import plain
from img2pour.compose.cut_outs import CUTTER_MM, cut_out, cut_out_shape
from img2pour.cutting_out import cut_pieces
from img2pour.job.reading import read_job
from img2pour.pipeline import convert
from img2pour.plane.overlay import FillLayer, MapLayer, paint
from img2pour.write.outlines import Outline
from img2pour.write.values import Board
from tests.test_compose_board import composed

DISC = '[[shape]]\nkind = "disc"\nwidth = "30 mm"\ncolour = "#cc0000=red"\n'


def area(outlines) -> float:
    return sum(Outline(vertices, bulges).area_mm2 for vertices, bulges in outlines)


def test_around_a_disc_it_is_a_disc() -> None:
    found = cut_out([FillLayer([plain.disc(30)], 0, 1)], 3.0)
    assert len(found) == 1
    assert area(found) == pytest.approx(np.pi * 18**2, rel=1e-9)
    assert (found[0][1] > 0).all()
    assert len(found[0][1]) <= 4


def test_around_a_rectangle_its_corners_are_round() -> None:
    layers = [FillLayer([plain.rectangle(40, 20)], 0, 1)]
    assert area(cut_out(layers, 0.0)) == pytest.approx(800, rel=1e-9)
    grown = 800 + 2 * 60 * 5 + np.pi * 25
    assert area(cut_out(layers, 5.0)) == pytest.approx(grown, rel=1e-9)


def test_holes_are_left_out_and_parts_apart_are_cut_apart() -> None:
    ring = [FillLayer(plain.ring(40, 5), 0, 1, "evenodd")]
    assert area(cut_out(ring, 0.0)) == pytest.approx(np.pi * 400, rel=1e-9)
    moved = (plain.disc(10)[0] + [50, 0], plain.disc(10)[1])
    apart = [FillLayer([plain.disc(10), moved], 0, 1)]
    assert len(cut_out(apart, 5.0)) == 2
    assert len(cut_out(apart, 21.0)) == 1


def test_what_is_outside_of_a_picture_is_not_around_it() -> None:
    square = (plain.rectangle(100, 100)[0] + 50, np.zeros(4))
    disc = (plain.disc(60)[0] + 50, np.ones(2))
    art = paint([FillLayer([disc], 1, 0), FillLayer([square], 2, 0)][:1], (0, 0, 100, 100))
    assert area(cut_out([MapLayer(art, 1)], 0.0)) == pytest.approx(np.pi * 900, rel=1e-9)
    layers = [MapLayer(art, 1), FillLayer([square], 2, 0)]
    assert area(cut_out(layers, 0.0)) == pytest.approx(10_000, rel=1e-9)


def test_each_copy_has_its_own() -> None:
    text = DISC + 'grid = "2x2"\nstep_x = "42 mm"\nstep_y = "42 mm"\nmoat = "1 mm"\n'
    board = composed(text + 'cut_out = "2 mm"')
    assert [one.number for one in board.cut_outs] == [1, 2, 3, 4]
    assert {one.piece for one in board.cut_outs} == {"shape disc"}
    for one in board.cut_outs:
        assert area(one.outlines) == pytest.approx(np.pi * 18**2, rel=1e-9)
    middles = [cut_out_shape(one.outlines).centroid for one in board.cut_outs]
    assert [(round(p.x), round(p.y)) for p in middles] == [(24, 24), (66, 24), (24, 66), (66, 66)]
    # 42 mm apart, 36 mm wide: 6 mm, less than the cutter.
    assert sum("6.00 mm apart" in line for line in board.findings) == 4
    assert composed(text).cut_outs == ()


def test_overlapping_ones_and_those_beyond_the_board_are_named() -> None:
    text = DISC + 'copies = 3\nradius = "35 mm"\ncut_out = "20 mm"'
    said = " ".join(composed(text).findings)
    assert "shape disc, copy 1, and shape disc, copy 2: their cut-outs overlap" in said
    assert "shape disc, copy 1: its cut-out reaches beyond the board" in said


def test_nested_ones_leave_room_for_the_cutter_and_pins() -> None:
    board = composed(
        DISC + 'at = "rows"\ncopies = 4\ncut_out = "2 mm"', board_mm=(120.0, 120.0), pin_mm=6.0
    )
    shapes = [cut_out_shape(one.outlines) for one in board.cut_outs]
    assert len(shapes) == 4
    gaps = [shapely.distance(a, b) for i, a in enumerate(shapes) for b in shapes[:i]]
    assert min(gaps) >= 6 + 2 * CUTTER_MM
    assert not [line for line in board.findings if "cut-out" in line]


def test_pins_stand_in_the_waste() -> None:
    text = DISC + 'grid = "3x2"\nstep_x = "52 mm"\nstep_y = "52 mm"\ncut_out = "2 mm"'
    board = composed(text, board_mm=(170.0, 120.0))
    job = read_job(text)
    shapes = [cut_out_shape(one.outlines) for one in board.cut_outs]
    carved = shapely.union_all([shapely.buffer(shape, -1) for shape in shapes])
    found = cut_pieces(board.cut_outs, carved, Board(170, 120), job)
    assert found.notes == ()
    assert [len(piece.pins) for piece in found.pieces] == [2] * 6
    radius = job.blank.pin_width.mm / 2
    discs = [shapely.buffer(shapely.Point(x, y), radius, quad_segs=64) for x, y, _ in found.pins]
    blank = shapely.box(0, 0, 170, 120).buffer(25.4, join_style="mitre")
    for k, disc in enumerate(discs):
        assert shapely.distance(shapely.union_all(shapes), disc) >= CUTTER_MM + 1.4
        assert blank.contains(disc)
        assert all(shapely.distance(disc, other) > radius for other in discs[:k])
    for piece in found.pieces:
        (ax, ay, _), (bx, by, _) = piece.pins
        centre = piece.shape.centroid
        # Turned by half a circle it must not fit: it does not lie half way between its pins.
        assert np.hypot((ax + bx) / 2 - centre.x, (ay + by) / 2 - centre.y) > 1


def test_no_pins_where_there_is_no_room_or_none_are_wanted() -> None:
    text = DISC + 'grid = "2x2"\nstep_x = "43 mm"\nstep_y = "43 mm"\ncut_out = "2 mm"\n'
    board = composed(text)
    carved = shapely.box(-30, -30, 120, 120)
    found = cut_pieces(board.cut_outs, carved, Board(90, 90), read_job(text))
    assert found.pins == ()
    assert len(found.notes) == 1
    assert "no room for two pins 1/4 in wide beside shape disc, copy 1" in found.notes[0]
    none = cut_pieces(board.cut_outs, carved, Board(90, 90), read_job("[blank]\npins = false"))
    assert (none.pins, none.notes) == ((), ())
    assert len(none.outlines) == 4


def test_a_set_of_coasters_in_all_files(tmp_path) -> None:
    art = Image.new("RGB", (200, 200), "white")
    ImageDraw.Draw(art).ellipse([10, 10, 189, 189], fill="#c80000")
    art.save(tmp_path / "coaster.png")
    ground = io.BytesIO()
    Image.new("RGB", (320, 210), "#c8a06a").save(ground, "PNG")
    text = """
    [size]
    board = "320x210mm"
    [[art]]
    file = "coaster.png"
    width = "90 mm"
    clear = "white"
    grid = "3x2"
    step_x = "100 mm"
    step_y = "100 mm"
    cut_out = "3 mm"
    """
    result = convert(ground.getvalue(), read_job(text), base=tmp_path, extent="all")
    files = result.files()
    report = json.loads(files["report.json"])
    assert [row["copy"] for row in report["cut_outs"]] == [1, 2, 3, 4, 5, 6]
    assert report["cut_outs"][0]["at_mm"] == pytest.approx([60, 55], abs=0.1)
    assert all(len(row["pins_mm"]) == 2 for row in report["cut_outs"])
    # One sheet, one mix for the whole set.
    assert len([mix for stage in report["stages"] for mix in stage["mixes"]]) == 2
    for name in ("carve/all-stages.dxf", "carve/stage-2-firebrick.dxf", "design/regions.dxf"):
        drawing = ezdxf.read(io.StringIO(files[name].decode("ascii"))).modelspace()
        cuts = drawing.query('LWPOLYLINE[layer=="CUT_OUT"]')
        assert len(cuts) == 6
        assert all(cut.closed for cut in cuts)
        pins = 0 if name.startswith("design") else 2 + 12
        assert len(drawing.query('CIRCLE[layer=="PINS"]')) == pins
    assert files["design/regions.svg"].count(b'<g id="CUT_OUT"') == 1
