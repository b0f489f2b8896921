"""Stage drawings: arcs found again among chords, layers in the order of the work."""

from __future__ import annotations

from io import BytesIO

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from img2pour.write.chords import LEAST_PIECE_MM, polygons_in, shape_outlines
from img2pour.write.dxf import DxfSettings
from img2pour.write.outlines import Outline
from img2pour.write.pictures import RIM_PX, look_png
from img2pour.write.stage_drawings import (
    PocketDrawing,
    StageDrawing,
    stage_dxf,
    stage_layer_names,
    stages_dxf,
)
from img2pour.write.values import Board, Mark
from tests.drawing_readers import even_odd_area, rings_by_layer
from tests.maps import HOSTILE_NAMES

BOARD = Board(120, 100)
DISC = shapely.Point(50, 50).buffer(30, quad_segs=48)
ROUNDED = shapely.box(10, 10, 60, 40).buffer(-4).buffer(4, quad_segs=24)


def walked(outline: Outline, steps: int = 24) -> np.ndarray:
    """Return points along an outline by ezdxf's own arithmetic for bulges."""
    points = []
    ends = np.roll(outline.vertices, -1, axis=0)
    for start, end, bulge in zip(outline.vertices, ends, outline.bulges.tolist(), strict=True):
        if bulge == 0:
            points += (start + (end - start) * np.linspace(0, 1, steps)[:-1, None]).tolist()
            continue
        centre, first, last, radius = ezdxf.math.bulge_to_arc(start, end, bulge)
        angles = np.linspace(first, last if last > first else last + 2 * np.pi, steps)
        arc = np.array([centre.x, centre.y]) + radius * np.column_stack(
            [np.cos(angles), np.sin(angles)]
        )
        points += (arc if bulge > 0 else arc[::-1])[:-1].tolist()
    return np.array(points)


def test_disc_is_two_half_circles_of_its_radius():
    (outline,) = shape_outlines(DISC)
    assert outline.bulges == pytest.approx([1, 1], abs=1e-9)
    assert np.hypot(*(outline.vertices[0] - outline.vertices[1])) == pytest.approx(60, abs=1e-9)


def test_rounded_rectangle_is_four_lines_and_four_quarter_circles():
    (outline,) = shape_outlines(ROUNDED)
    # tan(90 degrees / 4)
    assert sorted(outline.bulges) == pytest.approx([0] * 4 + [np.sqrt(2) - 1] * 4, abs=1e-6)


def test_square_and_hexagon_stay_as_they_are():
    """Corners of a square lie on a circle, but nobody drew one."""
    for count in (3, 4, 6, 12):
        angles = np.arange(count) * 2 * np.pi / count
        polygon = shapely.Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * 20)
        (outline,) = shape_outlines(polygon)
        assert len(outline.vertices) == count
        assert not outline.bulges.any()


def test_vertices_on_a_line_are_left_out():
    dense = shapely.segmentize(shapely.box(0, 0, 50, 30), 0.5)
    (outline,) = shape_outlines(dense)
    assert len(outline.vertices) == 4


def test_holes_turn_the_other_way():
    ring = DISC.difference(shapely.box(45, 45, 55, 55))
    outer, hole = shape_outlines(ring)
    assert (outer.bulges > 0).all()
    x, y = hole.vertices.T
    assert (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2 == pytest.approx(-100)


@given(
    st.lists(
        st.tuples(st.floats(5, 95), st.floats(5, 95), st.floats(1, 20)), min_size=1, max_size=8
    ),
    st.floats(0.3, 3),
)
@settings(derandomize=True, max_examples=40, deadline=None)
def test_outlines_stay_within_tolerance(discs, rounding):
    shape = shapely.union_all([shapely.Point(x, y).buffer(r, quad_segs=32) for x, y, r in discs])
    shape = shape.buffer(-rounding / 2, quad_segs=32).buffer(rounding / 2, quad_segs=32)
    for outline, ring in zip(
        shape_outlines(shape, 0.02),
        [r for p in polygons_in(shape) for r in [p.exterior, *p.interiors]],
        strict=True,
    ):
        points = walked(outline)
        away = shapely.distance(shapely.points(points), shapely.LineString(ring))
        # The ring's vertices closer than the least piece are left out, hence the addition.
        assert away.max() <= 0.02 + LEAST_PIECE_MM
        sides = outline.vertices - np.roll(outline.vertices, 1, axis=0)
        assert np.hypot(*sides.T).min() >= LEAST_PIECE_MM
        assert np.abs(outline.bulges).max() <= 1


def test_nothing_gives_nothing():
    assert shape_outlines(shapely.Polygon()) == []
    line = shapely.LineString([(0, 0), (1, 1)])
    assert shape_outlines(shapely.GeometryCollection([line])) == []
    nested = shapely.GeometryCollection([shapely.MultiPolygon([ROUNDED]), line])
    assert len(shape_outlines(nested)) == 1


def stages(*titles: str) -> list[StageDrawing]:
    clear = StageDrawing(1, "clear", [PocketDrawing("clear", "#ffffff", ROUNDED)])
    shapes = [shapely.box(10 * i, 60, 10 * i + 8, 70) for i in range(len(titles))]
    pockets = [PocketDrawing(t, "#aa2211", s) for t, s in zip(titles, shapes, strict=True)]
    return [clear, StageDrawing(2, " + ".join(titles), pockets, [Mark(1, "neck", (5, 65), 1.0)])]


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010", "R2018"])
def test_all_stages_read_back(tmp_path, version):
    path = tmp_path / "all.dxf"
    made = stages("navy", "red")
    path.write_bytes(stages_dxf(made, BOARD, DxfSettings(version), [(60, 5, 6), (60, 95, 6)]))
    found = rings_by_layer(path)
    assert set(found) == {"BOARD", "PINS", "MARKS", "S01_CLEAR", "S02_NAVY", "S02_RED"}
    # Rounded rectangle: the corners lose (4 - pi) r^2.
    area = 50 * 30 - (4 - np.pi) * 16
    assert even_odd_area(found["S01_CLEAR"]) == pytest.approx(area, rel=1e-5)
    assert even_odd_area(found["S02_RED"]) == pytest.approx(80, rel=1e-9)
    assert even_odd_area(found["PINS"]) == pytest.approx(2 * np.pi * 9, rel=1e-4)
    audit = ezdxf.readfile(path).audit()
    assert audit.errors == audit.fixes == []


def test_one_stage_holds_its_own_pockets_only(tmp_path):
    (tmp_path / "one.dxf").write_bytes(stage_dxf(stages("navy")[0], BOARD, DxfSettings()))
    assert set(rings_by_layer(tmp_path / "one.dxf")) == {"BOARD", "S01_CLEAR"}


def test_names_sort_in_the_order_of_the_work_and_stay_safe():
    made = [
        StageDrawing(n, name, [PocketDrawing(name, "#aa2211", DISC)])
        for n, name in enumerate((*HOSTILE_NAMES, "z", "a"), start=1)
    ]
    names = stage_layer_names(made)
    assert list(names) == sorted(names)
    assert max(map(len, names)) <= 31
    assert names[6].startswith("S07_KRASNYY")
    assert all(
        set(stage.file_stem) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") for stage in made
    )
    assert stages("sea green")[1].file_stem == "stage-2-sea-green"


def test_two_pours_of_one_name_keep_two_layers():
    assert stage_layer_names(stages("navy", "Navy")) == ("S01_CLEAR", "S02_NAVY", "S02_NAVY_2")


def test_look_shows_shapes_where_they_lie():
    png = look_png([DISC], ["#000000"], BOARD, ground="#ffffff")
    picture = np.asarray(Image.open(BytesIO(png)).convert("L")).astype(float)
    inner = 1 - picture[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX] / 255
    scale = (2000 - 2 * RIM_PX) / 120
    assert inner.sum() / scale**2 == pytest.approx(DISC.area, rel=1e-5)
    rows, columns = np.indices(inner.shape) + 0.5
    assert (columns * inner).sum() / inner.sum() == pytest.approx(50 * scale, abs=0.02)
    assert (rows * inner).sum() / inner.sum() == pytest.approx(50 * scale, abs=0.02)


def test_look_of_neighbours_has_no_seam_and_empty_shapes_do_no_harm():
    left, right = shapely.box(10, 10, 50.3, 90), shapely.box(50.3, 10, 90, 90)
    shapes = [left, right, shapely.Polygon(), shapely.GeometryCollection()]
    png = look_png(shapes, ["#00ff00", "#00f000", "#ff0000", "#ff0000"], BOARD, ground="#ff00ff")
    picture = np.asarray(Image.open(BytesIO(png)).convert("RGB"))
    scale = (2000 - 2 * RIM_PX) / 120
    around = picture[800, int(45 * scale) : int(55 * scale)]
    assert around[:, 0].max() == 0
    assert around[:, 1].min() == 240
