"""DXF files, read back by GDAL, by ezdxf and by their group codes."""

from __future__ import annotations

import re

import ezdxf
import ezdxf.colors
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.errors import GeometryError
from img2pour.plane.regionmap import colour_areas
from img2pour.write.dxf import DxfLayer, DxfSettings, drawing_dxf, regions_dxf
from img2pour.write.layers import colour_layers, index_colours, layer_colour, layer_names
from img2pour.write.outlines import face_outlines, without_short_pieces
from img2pour.write.values import Board, Mark
from tests.drawing_readers import (
    even_odd_area,
    group_codes,
    header_variables,
    records,
    rings_by_layer,
    signed_area,
)
from tests.maps import HOSTILE_NAMES, disc_map, patchwork, placed_labels, with_arc

HEXES = ("#0b1f3a", "#e9d8a6", "#aa2211", "#228833")
LAYERS = colour_layers(("navy", "sand", "red", "green"), HEXES)
VERSIONS = {"R12": "AC1009", "R2000": "AC1015", "R2010": "AC1024", "R2018": "AC1032"}
BOARD = Board(100, 90)


@pytest.fixture(params=list(VERSIONS))
def version(request) -> str:
    return request.param


def written(tmp_path, data: bytes):
    path = tmp_path / "drawing.dxf"
    path.write_bytes(data)
    return path


def test_areas_by_layer_agree_with_gdal_on_straight_outlines(tmp_path, version):
    board_map = placed_labels(patchwork(3), 3.1, 7.0, 5.0)
    data = regions_dxf(board_map, LAYERS, BOARD, DxfSettings(version=version))
    found = rings_by_layer(written(tmp_path, data))
    areas = colour_areas(board_map, 4)
    for layer, area in zip(LAYERS, areas, strict=True):
        assert even_odd_area(found[layer.name]) == pytest.approx(area, rel=1e-9)
    assert even_odd_area(found["BOARD"]) == pytest.approx(9000, rel=1e-12)
    assert set(found) == {"BOARD", "NAVY", "SAND", "RED", "GREEN"}


def test_areas_of_arcs_agree_with_gdal(tmp_path, version):
    board_map = disc_map(80, 20)
    data = regions_dxf(board_map, LAYERS[:2], Board(80, 80), DxfSettings(version=version))
    found = rings_by_layer(written(tmp_path, data))
    disc = np.pi * 400
    assert even_odd_area(found["SAND"]) == pytest.approx(disc, rel=1e-5)
    assert even_odd_area(found["NAVY"]) == pytest.approx(6400 - disc, rel=1e-5)
    assert len(found["NAVY"]) == 2


def test_outer_rings_turn_anticlockwise_and_holes_clockwise(tmp_path):
    data = regions_dxf(disc_map(80, 20), LAYERS[:2], Board(80, 80))
    found = rings_by_layer(written(tmp_path, data))
    assert sorted(signed_area(ring) > 0 for ring in found["NAVY"]) == [False, True]
    assert signed_area(found["SAND"][0]) > 0


def test_outside_has_no_layer(tmp_path):
    board_map = placed_labels(patchwork(5, outside=True), 2.0)
    assert (board_map.face_colours == -1).any()
    data = regions_dxf(board_map, LAYERS, BOARD)
    found = rings_by_layer(written(tmp_path, data))
    total = sum(even_odd_area(found[layer.name]) for layer in LAYERS)
    assert total == pytest.approx(colour_areas(board_map, 4).sum(), rel=1e-9)
    assert set(found) <= {"BOARD", *(layer.name for layer in LAYERS)}


def test_ezdxf_finds_nothing_to_mend(tmp_path, version):
    data = regions_dxf(
        placed_labels(patchwork(1)), LAYERS, BOARD, DxfSettings(version=version), MARKS
    )
    document = ezdxf.readfile(written(tmp_path, data))
    audit = document.audit()
    assert audit.errors == []
    assert audit.fixes == []
    assert document.dxfversion == VERSIONS[version]


MARKS = [Mark(1, "lost", (20, 30), 5.0), Mark(1234567890, "neck", (60, 40), 0.8)]


def test_only_kinds_that_every_reader_keeps(tmp_path, version):
    data = regions_dxf(disc_map(80, 20), LAYERS[:2], BOARD, DxfSettings(version=version), MARKS)
    kinds = {e.dxftype() for e in ezdxf.readfile(written(tmp_path, data)).modelspace()}
    assert kinds == {"POLYLINE" if version == "R12" else "LWPOLYLINE"}


@pytest.mark.parametrize(("units", "code", "metric"), [("mm", "4", "1"), ("in", "1", "0")])
def test_header_tells_version_and_unit(version, units, code, metric):
    chosen = DxfSettings(version=version, units=units)
    pairs = group_codes(regions_dxf(disc_map(80, 20), LAYERS[:2], Board(80, 80), chosen))
    variables = header_variables(pairs)
    assert variables["$ACADVER"] == [VERSIONS[version]]
    scale = 25.4 if units == "in" else 1.0
    assert [float(v) for v in variables["$EXTMAX"]] == pytest.approx([80 / scale] * 2 + [0], 1e-5)
    if version == "R12":
        assert "$INSUNITS" not in variables
    else:
        assert variables["$INSUNITS"] == [code]
        assert variables["$MEASUREMENT"] == [metric]


def test_file_name_of_r12_carries_the_unit():
    assert DxfSettings("R12", "in").file_name("regions") == "regions-in.dxf"
    assert DxfSettings("R12", "mm").file_name("regions") == "regions-mm.dxf"
    assert DxfSettings("R2010", "in").file_name("regions") == "regions.dxf"


def test_inches_times_25_4_are_millimetres(tmp_path):
    board_map = placed_labels(patchwork(2), 3.0)
    mm = rings_by_layer(written(tmp_path, regions_dxf(board_map, LAYERS, BOARD)))
    settings_in = DxfSettings(units="in")
    inch = rings_by_layer(written(tmp_path, regions_dxf(board_map, LAYERS, BOARD, settings_in)))
    for layer, rings in mm.items():
        for ring, small in zip(rings, inch[layer], strict=True):
            np.testing.assert_allclose(small[:, :2] * 25.4, ring[:, :2], atol=2e-6)


def test_zero_at_the_centre_moves_everything(tmp_path):
    board = Board(80, 60)
    centred = DxfSettings(zero_mm=board.zero_point("centre"))
    found = rings_by_layer(written(tmp_path, regions_dxf(disc_map(60, 9), LAYERS, board, centred)))
    low, high = found["BOARD"][0].min(axis=0)[:2], found["BOARD"][0].max(axis=0)[:2]
    assert low.tolist() == [-40, -30]
    assert high.tolist() == [40, 30]
    assert board.zero_point("corner") == (0.0, 0.0)


def test_closed_flag_without_repeated_first_vertex(version):
    pairs = group_codes(
        regions_dxf(disc_map(80, 20), LAYERS[:2], BOARD, DxfSettings(version=version))
    )
    if version == "R12":
        assert all((70, "1") in tags for tags in records(pairs, "POLYLINE"))
        assert len(records(pairs, "VERTEX")) == 4 + 4 + 2 + 2
        return
    counts = []
    for tags in records(pairs, "LWPOLYLINE"):
        assert (70, "1") in tags
        points = [v for code, v in tags if code == 10]
        assert (90, str(len(points))) in tags
        counts.append(len(points))
    assert sorted(counts) == [2, 2, 4, 4]


def test_true_colour_and_index(version, tmp_path):
    names = ("navy", "black", "white", "red")
    layers = colour_layers(names, ("#0b1f3a", "#000000", "#fdfdfd", "#ff0000"))
    data = regions_dxf(disc_map(80, 20), layers, BOARD, DxfSettings(version=version))
    table = {dict(tags)[2]: dict(tags) for tags in records(group_codes(data), "LAYER")}
    has_true = version in ("R2010", "R2018")
    # Red x 65536 + green x 256 + blue.
    assert table["NAVY"].get(420) == (str(0x0B1F3A) if has_true else None)
    assert table["RED"].get(420) == (str(0xFF0000) if has_true else None)
    assert table["RED"][62] == "1"
    # 7 is shown in black on white and in white on black.
    for name in ("BLACK", "WHITE"):
        assert (table[name][62], table[name].get(420)) == ("7", None)
    document = ezdxf.readfile(written(tmp_path, data))
    assert document.layers.get("NAVY").is_on()


def test_index_colours_are_those_of_ezdxf():
    for index, rgb in index_colours().items():
        known = ezdxf.colors.aci2rgb(index)
        assert max(abs(a - b) for a, b in zip(rgb, known, strict=True)) <= 1


@given(st.integers(0, 0xFFFFFF))
@settings(derandomize=True, max_examples=200, deadline=None)
def test_no_layer_vanishes_on_black_or_white(value):
    index, true = layer_colour(f"#{value:06x}")
    assert index not in (0, 250, 255)
    for shown in [index_colours().get(index), true and ezdxf.colors.int2rgb(true)]:
        if shown:
            assert max(shown) > 20
            assert min(shown) < 246


@given(st.lists(st.text(max_size=50), max_size=12))
@settings(derandomize=True, max_examples=200, deadline=None)
def test_layer_names_are_safe_and_differ(names):
    layers = layer_names(names)
    assert len(set(layers)) == len(names)
    assert all(re.fullmatch(r"[A-Z0-9_-]{1,31}", name) for name in layers)
    assert not {"0", "DEFPOINTS", "BOARD", "MARKS"} & set(layers)


def test_layer_names_by_example():
    names = ["Émail", "email", "sea green!", "x" * 40, "x" * 50, "红", "тёмно-синий", "Øl", "!?"]
    assert layer_names(names) == (
        "EMAIL",
        "EMAIL_2",
        "SEA_GREEN",
        "X" * 31,
        "X" * 29 + "_2",
        "HONG",
        "TEMNO-SINIY",
        "OL",
        "COLOUR",
    )


def test_hostile_names_cannot_change_the_file(tmp_path, version):
    count = len(HOSTILE_NAMES)
    labels = np.repeat(np.repeat([np.arange(count)], 4, axis=0), 4, axis=1)
    layers = colour_layers(HOSTILE_NAMES, ["#aa2211"] * count)
    data = regions_dxf(placed_labels(labels), layers, BOARD, DxfSettings(version=version))
    found = rings_by_layer(written(tmp_path, data))
    assert set(found) == {"BOARD", *(layer.name for layer in layers)}
    assert all(even_odd_area(found[layer.name]) == pytest.approx(16) for layer in layers)


def test_same_map_same_bytes(version):
    chosen = DxfSettings(version=version)
    made = [regions_dxf(placed_labels(patchwork(4)), LAYERS, BOARD, chosen) for _ in range(2)]
    assert made[0] == made[1]


def test_marks_are_rings_and_digits(tmp_path):
    data = regions_dxf(disc_map(80, 20), LAYERS[:2], BOARD, DxfSettings(), MARKS)
    found = rings_by_layer(written(tmp_path, data))
    boxes = [(ring.min(axis=0)[:2], ring.max(axis=0)[:2]) for ring in found["MARKS"]]
    centres = [tuple(np.round((low + high) / 2, 6)) for low, high in boxes]
    assert (20, 30) in centres
    assert (60, 40) in centres
    lines = ezdxf.readfile(tmp_path / "drawing.dxf").query('*[layer=="MARKS"]')
    # Strokes: two rings; 1; and 1 2 3(2) 4(2) 5 6 7 8(2) 9 0.
    assert len(lines) == 2 + 1 + 13


def test_circles_for_pins(tmp_path, version):
    pins = DxfLayer("PINS", 3, None, circles=[(10, 20, 3.0)])
    data = drawing_dxf([pins], DxfSettings(version=version, units="in"))
    (circle,) = ezdxf.readfile(written(tmp_path, data)).modelspace()
    assert circle.dxftype() == "CIRCLE"
    assert circle.dxf.radius == pytest.approx(3 / 25.4, abs=1e-7)
    assert tuple(circle.dxf.center)[:2] == pytest.approx((10 / 25.4, 20 / 25.4), abs=1e-7)


def test_drawing_without_anything(tmp_path, version):
    path = written(tmp_path, drawing_dxf([], DxfSettings(version=version)))
    assert len(ezdxf.readfile(path).modelspace()) == 0


def _with_short_pieces():
    """Return a disc whose ends carry pieces of 4 and 2 micrometres."""
    board_map = disc_map(80, 20)
    (arc,) = [a for a in range(board_map.arc_count) if -1 not in board_map.arc_faces[a]]
    points, bulges = board_map.arc(arc)
    first, far = points[0], points[1]
    vertices = np.array([first, first, far, far, far, first])
    vertices[[1, 3, 4]] += [(0, 0.004), (0.002, 0), (0.004, 0)]
    return with_arc(board_map, arc, vertices, np.array([0, bulges[0], 0, 0, bulges[1]]))


def test_no_piece_is_shorter_than_a_hundredth(tmp_path):
    data = regions_dxf(_with_short_pieces(), LAYERS[:2], Board(80, 80))
    for tags in records(group_codes(data), "LWPOLYLINE"):
        points = np.array([float(v) for code, v in tags if code in (10, 20)]).reshape(-1, 2)
        assert np.hypot(*(points - np.roll(points, 1, axis=0)).T).min() >= 0.01
    found = rings_by_layer(written(tmp_path, data))
    assert even_odd_area(found["SAND"]) == pytest.approx(np.pi * 400, rel=1e-3)
    total = even_odd_area(found["SAND"]) + even_odd_area(found["NAVY"])
    assert total == pytest.approx(6400, rel=1e-9)


def test_short_arcs_join_their_nodes_and_the_tiling_holds():
    labels = np.zeros((21, 300), np.uint8)
    labels[10, 100:200] = 1
    labels[10, 150:] = 2
    labels[11:] = 3
    board_map = placed_labels(labels, 0.004)
    tidy = without_short_pieces(board_map, 0.01)
    lengths = np.hypot(*np.diff(tidy.vertices, axis=0).T)
    lengths[tidy.arc_offsets[1:-1] - 1] = 1.0
    assert ((lengths == 0) | (lengths >= 0.01)).all()
    # The strip of 0.004 mm is gone, its neighbours share the room.
    areas = colour_areas(tidy, 4)
    assert areas[[1, 2]] == pytest.approx([0, 0], abs=1e-12)
    assert areas.sum() == pytest.approx(300 * 21 * 0.004**2, rel=1e-9)
    assert {ring.colour for ring in face_outlines(board_map)} == {0, 3}


@given(st.integers(0, 10_000), st.floats(0.003, 0.02))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_tidy_maps_still_tile(seed, scale):
    """Dropping short pieces keeps every pair of neighbours on the same line."""
    tidy = without_short_pieces(placed_labels(patchwork(seed), scale), 0.01)
    outlines = face_outlines(placed_labels(patchwork(seed), scale))
    frame = np.ptp(tidy.vertices, axis=0).prod()
    assert colour_areas(tidy, 4).sum() == pytest.approx(frame, rel=0.2)
    for ring in outlines:
        points = ring.outline.vertices
        assert np.hypot(*(points - np.roll(points, 1, axis=0)).T).min() >= 0.01


def test_map_without_short_pieces_is_returned_as_it_is():
    board_map = placed_labels(patchwork(6))
    assert without_short_pieces(board_map, 0.01) is board_map


@pytest.mark.parametrize("bulge", [1.0001, -3.0, np.nan])
def test_faulty_maps_are_refused(bulge):
    board_map = disc_map(80, 20)
    (arc,) = [a for a in range(board_map.arc_count) if -1 not in board_map.arc_faces[a]]
    faulty = with_arc(board_map, arc, board_map.arc(arc)[0], np.array([bulge, 1.0]))
    with pytest.raises(GeometryError, match=r"half a circle|not a number"):
        regions_dxf(faulty, LAYERS[:2], BOARD)


def test_area_checker_sees_a_planted_fault():
    """The even-odd reader itself: a hole that is missing, or counted twice, shows."""
    square = np.array([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)], float)
    hole = square * 0.5 + 1
    island = square * 0.1 + 2
    assert even_odd_area([square, hole, island]) == pytest.approx(100 - 25 + 1)
    assert even_odd_area([square, island]) == pytest.approx(99)
