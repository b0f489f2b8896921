"""The limit: which islands go, where to, and that nothing is left to drop afterwards."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.carve.edges import carry_over
from img2pour.carve.inscribed import can_enter, inscribed_circles
from img2pour.carve.lettering import lettering_warnings, lost_lettering
from img2pour.carve.limit import Limit, limit, shared_lengths
from img2pour.plane.placement import picture_placement, place
from img2pour.plane.regionmap import RegionMap
from img2pour.plane.shapes import face_polygons
from img2pour.plane.walk import walk

MM_PER_PX = 0.5


def without_saddles(labels):
    """Fill diagonal contacts until there are none."""
    labels = labels.copy()
    for _ in range(labels.size):
        a, b, c, d = labels[:-1, :-1], labels[:-1, 1:], labels[1:, :-1], labels[1:, 1:]
        saddles = (a == d) & (b != a) & (c != a) | (b == c) & (a != b) & (d != b)
        rows, columns = np.nonzero(saddles)
        if len(rows) == 0:
            return labels
        labels[rows[0], columns[0] + 1] = labels[rows[0], columns[0]]
        labels[rows[0] + 1, columns[0]] = labels[rows[0], columns[0]]
    raise AssertionError("saddles do not go away")


def board_map(labels) -> RegionMap:
    walked = walk(np.asarray(labels, dtype=np.uint8)).region_map
    return place(walked, picture_placement(len(labels), MM_PER_PX))


def colours_after(region_map: RegionMap, found: Limit):
    """Return every colour's area after the merging, dissolved by shapely alone."""
    into = dict(found.pairs)
    colours = [int(region_map.face_colours[into.get(f, f)]) for f in range(region_map.face_count)]
    polygons = np.array(face_polygons(region_map, 0.01), dtype=object)
    return {
        colour: shapely.union_all(polygons[np.array(colours) == colour]) for colour in set(colours)
    }


def dots(diameters_px, ground=0, colour=1):
    """Draw discs of given diameters side by side, 20 px apart."""
    labels = np.full((60, 60 * len(diameters_px)), ground)
    y, x = np.mgrid[0:60, 0 : labels.shape[1]] + 0.5
    for i, diameter in enumerate(diameters_px):
        labels[(x - 30 - 60 * i) ** 2 + (y - 30) ** 2 < (diameter / 2) ** 2] = colour
    return labels


def test_entering_a_strip_is_decided_by_its_width():
    strips = np.array([shapely.box(0, 0, 30, width) for width in (2.9, 3.0, 3.02, 3.3)])
    assert can_enter(strips, 1.505).tolist() == [False, False, True, True]


def test_entering_a_ring_is_decided_by_the_width_of_its_band():
    disc = shapely.Point(0, 0)
    ring = disc.buffer(10, quad_segs=64) - disc.buffer(7, quad_segs=64)
    assert can_enter(np.array([ring, ring]), np.array([1.49, 1.51])).tolist() == [True, False]


def test_the_inscribed_circle_of_a_right_triangle():
    """A 30-40-50 triangle has the inscribed radius (30 + 40 - 50) / 2 = 10."""
    triangle = shapely.Polygon([(0, 0), (30, 0), (0, 40)])
    centres, radii = inscribed_circles(np.array([triangle]), 0.001)
    assert radii[0] == pytest.approx(10.0, abs=0.001)
    assert centres[0] == pytest.approx([10.0, 10.0], abs=0.2)


def test_islands_narrower_than_the_entry_go_and_are_described():
    region_map = board_map(dots([4, 6, 10, 20]))
    found = limit(region_map, 3.3, {1})
    assert [round(i.at_mm[0]) for i in found.removed] == [15, 45]
    first = found.removed[0]
    assert first.colour == 1
    assert first.into_colour == 0
    # 12 pixels have their centre within 2 px of a lattice point; each is 0.25 mm2.
    assert first.area_mm2 == pytest.approx(3.0)
    # Its reflex corners lie 1 px to the side and 1 px up from its centre.
    assert first.width_mm == pytest.approx(2 * 2**0.5 * MM_PER_PX, abs=0.02)
    assert "3.30" in first.reason


def test_wood_is_never_dropped():
    assert limit(board_map(dots([2, 4])), 10.0, {0}).removed == ()


def test_each_colour_has_its_own_entry():
    labels = np.hstack([dots([6]), dots([6], colour=2)])
    found = limit(board_map(labels), {1: 3.3, 2: 1.0}, {1, 2})
    assert [i.colour for i in found.removed] == [1]


def test_an_island_goes_to_the_neighbour_it_touches_most():
    labels = np.zeros((60, 60), int)
    labels[:, 30:] = 1
    labels[28:32, 27:32] = 2
    assert limit(board_map(labels), 3.3, {1, 2}).removed[0].into_colour == 0
    labels[28:32, 27:36] = 2
    assert limit(board_map(labels), 3.3, {1, 2}).removed[0].into_colour == 1


def test_outside_takes_an_island_only_if_nothing_else_touches_it():
    labels = np.full((60, 60), 255)
    labels[20:24, 20:24] = 1
    assert limit(board_map(labels), 3.3, {1}).removed[0].into_colour == -1
    labels[20:24, 24] = 0
    assert limit(board_map(labels), 3.3, {1}).removed[0].into_colour == 0


def test_two_halves_joined_by_a_dropped_island_are_kept_together():
    """Strips of 4 px are too narrow for 2.3 mm alone; with the 2 px between them they are not."""
    labels = np.zeros((60, 60), int)
    labels[20:24, 10:50] = 1
    labels[24:26, 10:50] = 2
    labels[26:30, 10:50] = 1
    region_map = board_map(labels)
    found = limit(region_map, 2.3, {1, 2})
    assert [i.colour for i in found.removed] == [2]
    assert colours_after(region_map, found)[1].area == pytest.approx(400 * MM_PER_PX**2)


def test_shared_lengths_of_half_discs():
    """The two halves of a disc share its diameter; arcs of bulge 1 are half circles."""
    region_map = RegionMap(
        vertices=np.array([[0.0, 0], [6, 0], [6, 0], [0, 0], [0, 0], [6, 0]]),
        bulges=np.array([0.0, 0, 1, 0, 1, 0]),
        arc_offsets=np.array([0, 2, 4, 6]),
        arc_nodes=np.array([[0, 1], [1, 0], [0, 1]]),
        arc_faces=np.array([[0, 1], [0, 2], [1, 2]]),
        next_half=np.array([2, 5, 0, 4, 1, 3]),
        face_colours=np.array([0, 1, 2]),
        bounds=(0.0, 0.0, 6.0, 6.0),
    )
    shared = shared_lengths(region_map)
    assert shared[0][1] == pytest.approx(6.0)
    assert shared[0][2] == pytest.approx(3 * np.pi)
    assert shared[2][1] == pytest.approx(3 * np.pi)


@st.composite
def patchworks(draw):
    labels = np.zeros((40, 50), int)
    for _ in range(draw(st.integers(1, 14))):
        x, y = draw(st.integers(0, 48)), draw(st.integers(0, 38))
        width, height = draw(st.integers(1, 16)), draw(st.integers(1, 16))
        labels[y : y + height, x : x + width] = draw(st.sampled_from([0, 1, 2, 3, 255]))
    return without_saddles(labels)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(patchworks(), st.sampled_from([1.3, 2.6, 3.3]))
def test_after_dropping_nothing_is_left_to_drop(labels, entry_mm):
    region_map = board_map(labels)
    found = limit(region_map, entry_mm, {1, 2, 3})
    after = colours_after(region_map, found)
    everything = shapely.union_all(list(after.values()))
    assert everything.area == pytest.approx(labels.size * MM_PER_PX**2, rel=1e-12)
    for colour in {1, 2, 3} & set(after):
        for part in shapely.get_parts(after[colour]):
            alone = part.area == pytest.approx(everything.area, rel=1e-9)
            assert alone or not part.buffer(-entry_mm / 2 + 0.006).is_empty


@settings(max_examples=40, deadline=None, derandomize=True)
@given(patchworks())
def test_wood_and_outside_only_grow_and_pairs_lead_to_faces_that_stay(labels):
    region_map = board_map(labels)
    found = limit(region_map, 3.3, {1, 2, 3})
    into = dict(found.pairs)
    assert not set(into) & set(into.values())
    for face, target in found.pairs:
        assert found.targets(region_map.face_count)[face] == target
        if region_map.face_colours[face] in (0, -1):
            assert region_map.face_colours[target] == region_map.face_colours[face]


def test_a_row_of_small_islands_is_reported_as_lettering():
    labels = np.zeros((60, 300), int)
    for i in range(6):
        labels[20:30, 20 + 8 * i : 23 + 8 * i] = 1
    labels[50:53, 200:203] = 1
    lines = lost_lettering(limit(board_map(labels), 3.3, {1}).removed)
    assert [(line.letters, line.height_mm) for line in lines] == [(6, 5.0)]
    assert lines[0].bounds_mm == pytest.approx((10.0, 15.0, 31.5, 20.0))


def test_lettering_in_two_lines_is_one_warning_for_its_colour():
    labels = np.zeros((120, 300), int)
    for i in range(6):
        labels[20:30, 20 + 8 * i : 23 + 8 * i] = 1
        labels[80:94, 20 + 8 * i : 23 + 8 * i] = 1
    (line,) = lettering_warnings(limit(board_map(labels), 3.3, {1}).removed, ["wood", "red"], "mm")
    assert line.startswith("lettering is lost: 12 letters of red, up to 7 mm high, are too fine")


def test_scattered_islands_are_not_lettering():
    labels = dots([3, 3, 3, 3, 3])
    assert lost_lettering(limit(board_map(labels), 3.3, {1}).removed) == ()


def test_a_strip_along_the_edge_is_judged_as_it_is_cut():
    """2 mm wide, too narrow for a bit of 3 mm; past the board's edge the bit finds room."""
    labels = np.zeros((40, 60), dtype=np.uint8)
    labels[:4, 10:50] = 1
    placed = board_map(labels)
    polygons = np.array(face_polygons(placed, 0.01), dtype=object)
    frame = shapely.box(0, 0, 30, 20)
    (strip,) = np.flatnonzero(placed.face_colours == 1)
    assert limit(placed, 3.0, [1]).pairs != ()
    cut = polygons.copy()
    (cut[strip],) = carry_over([polygons[strip]], [1.5], frame, frame.buffer(10))
    assert limit(placed, 3.0, [1], list(polygons), (), cut).pairs == ()
    removed = limit(placed, 3.0, [1]).removed[0]
    assert removed.area_mm2 == pytest.approx(40, abs=0.1)
