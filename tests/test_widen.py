"""Widening and walls: the tiling holds, and what was too thin is not so any more."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.carve.walls import WallLimits, thin_walls
from img2pour.carve.widen import merge_walls, thicken_walls, widen_strokes

BOARD = shapely.box(0, 0, 100, 80)
BIT = 3.275


def tiling(*shapes, board=BOARD):
    """Lay shapes one over the other on wood (colour 0)."""
    tiles, rest = {}, board
    for colour, shape in reversed(list(enumerate(shapes, start=1))):
        tiles[colour] = shapely.intersection(shape, rest)
        rest = shapely.difference(rest, shape)
    tiles[0] = rest
    return tiles


def assert_tiles(shapes, board=BOARD):
    """Gaps and overlaps below 1e-9 of the board."""
    parts = list(shapes.values())
    assert all(shapely.is_valid(part) for part in parts)
    total = sum(part.area for part in parts)
    covered = shapely.union_all(parts)
    assert abs(total - covered.area) < 1e-9 * board.area
    assert shapely.symmetric_difference(covered, board).area < 1e-9 * board.area


def uncuttable_share(shape, width):
    opened = shape.buffer(-width / 2, quad_segs=32).buffer(width / 2, quad_segs=32)
    return 1 - opened.intersection(shape).area / shape.area


def stroke(points, width):
    return shapely.LineString(points).buffer(width / 2, quad_segs=16)


def test_a_thin_stroke_becomes_as_wide_as_asked():
    shapes = tiling(stroke([(20, 40), (80, 40)], 1.0))
    found = widen_strokes(shapes, {1: BIT}, ())
    assert_tiles(found.shapes)
    assert found.shapes[1].area == pytest.approx(60 * BIT + math.pi * (BIT / 2) ** 2, rel=0.02)
    assert uncuttable_share(found.shapes[1], BIT - 0.02) < 0.01
    assert [(c.kind, c.colour) for c in found.changes] == [("widened", 1)]
    assert found.changes[0].was_mm == pytest.approx(1.0, abs=0.02)
    gained = found.shapes[1].area - shapes[1].area
    assert found.changes[0].area_mm2 == pytest.approx(gained, rel=1e-6)


def test_a_dot_and_a_neck_are_widened_too():
    dot = shapely.Point(80, 60).buffer(0.5)
    neck = shapely.union_all(
        [shapely.box(10, 10, 30, 30), shapely.box(29, 19.5, 51, 20.5), shapely.box(50, 10, 70, 30)]
    )
    found = widen_strokes(tiling(shapely.union(dot, neck)), {1: BIT}, ())
    assert_tiles(found.shapes)
    assert len(found.changes) == 2
    assert uncuttable_share(found.shapes[1], BIT - 0.02) < 0.01
    assert len(shapely.get_parts(found.shapes[1])) == 2


def test_wide_strokes_and_other_colours_stay():
    shapes = tiling(stroke([(20, 40), (80, 40)], 6.0), stroke([(20, 60), (80, 60)], 1.0))
    found = widen_strokes(shapes, {1: BIT}, ())
    assert found.changes == ()
    assert shapely.equals(found.shapes[1], shapes[1])
    assert shapely.equals(found.shapes[2], shapes[2])


def test_nothing_is_taken_from_outside():
    thin = stroke([(20, 40), (80, 40)], 1.0)
    shapes = tiling(thin)
    shapes[-1] = shapely.intersection(shapes[0], shapely.box(0, 40, 100, 80))
    shapes[0] = shapely.difference(shapes[0], shapes[-1])
    found = widen_strokes(shapes, {1: BIT}, (-1,))
    assert shapely.equals(found.shapes[-1], shapes[-1])
    assert_tiles(found.shapes)


def test_a_rest_that_cannot_be_widened_goes_to_its_neighbour():
    """Two lines 1 mm apart both want the same room; one of them loses pieces."""
    first, second = stroke([(20, 40), (80, 40)], 0.8), stroke([(20, 41.2), (60, 41.2)], 0.8)
    found = widen_strokes(tiling(first, second), {1: BIT, 2: BIT}, ())
    assert_tiles(found.shapes)
    for colour in (1, 2):
        for part in shapely.get_parts(found.shapes[colour]):
            assert not part.buffer(-BIT / 2 + 0.02).is_empty


@settings(max_examples=8, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(
            st.lists(
                st.tuples(st.floats(5, 95), st.floats(5, 75)), min_size=2, max_size=4, unique=True
            ),
            st.floats(0.6, 7.0),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_the_tiling_holds_whatever_is_widened(strokes):
    shapes = tiling(*(stroke(points, width) for points, width in strokes))
    widths = {colour: BIT for colour in shapes if colour > 0}
    assert_tiles(widen_strokes(shapes, widths, ()).shapes)


def two_pockets(gap):
    return tiling(shapely.box(20, 20, 80, 40 - gap / 2), shapely.box(20, 40 + gap / 2, 80, 60))


@pytest.mark.parametrize("gap", [0.3, 0.9, 1.4])
def test_a_wall_is_thickened(gap):
    shapes = two_pockets(gap)
    found = thicken_walls(shapes, (0,), WallLimits(), ())
    assert_tiles(found.shapes)
    assert [change.kind for change in found.changes] == ["thickened"]
    wood = np.array(shapely.get_parts(found.shapes[0]), dtype=object)
    assert thin_walls(wood, WallLimits()) == ()
    between = shapely.box(30, 30, 70, 50).intersection(found.shapes[0])
    assert between.area == pytest.approx(40 * 1.52, rel=0.02)


def test_a_wall_is_merged_into_the_pocket_it_touches_most():
    shapes = tiling(shapely.box(20, 20, 80, 40), shapely.box(30, 41, 70, 60))
    found = merge_walls(shapes, (0,), WallLimits(), ())
    assert_tiles(found.shapes)
    assert [(change.kind, change.colour) for change in found.changes] == [("merged", 0)]
    wood = np.array(shapely.get_parts(found.shapes[0]), dtype=object)
    assert thin_walls(wood, WallLimits()) == ()
    assert found.changes[0].area_mm2 == pytest.approx(40.0, rel=0.05)


def test_sound_walls_stay():
    shapes = two_pockets(2.0)
    for change in (thicken_walls, merge_walls):
        found = change(shapes, (0,), WallLimits(), ())
        assert found.changes == ()
        assert found.shapes[0].equals(shapes[0])
