"""Overlays against areas by arithmetic, and against shapely on chords."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.plane.overlay import NO_PIECE, FillLayer, MapLayer, lay, overlay, paint
from img2pour.plane.placement import Placement, place
from img2pour.plane.regionmap import RegionMap, colour_areas, face_areas, ring_areas, rings
from img2pour.plane.shapes import colour_shapes, face_polygons

FRAME = (0.0, 0.0, 100.0, 100.0)


def disc(x: float, y: float, r: float) -> tuple[np.ndarray, np.ndarray]:
    return np.array([[x - r, y], [x + r, y]]), np.ones(2)


def square(x: float, y: float, side: float) -> tuple[np.ndarray, np.ndarray]:
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * side + np.array([x, y])
    return corners, np.zeros(4)


def checker(count: int = 10, side: float = 10.0) -> RegionMap:
    fills = [
        FillLayer([square(i * side, j * side, side)], (i + j) % 2, 0)
        for i in range(count)
        for j in range(count)
    ]
    return paint(fills, (0.0, 0.0, count * side, count * side))


def turned(region_map: RegionMap, angle_deg: float, x: float, y: float, scale: float) -> RegionMap:
    c, s = scale * np.cos(np.radians(angle_deg)), scale * np.sin(np.radians(angle_deg))
    return place(region_map, Placement(np.array([[c, -s, x], [s, c, y], [0, 0, 1.0]])))


def check_tiling(made: RegionMap) -> None:
    """Each face is one simple outline with its holes, and together they fill the frame."""
    x0, y0, x1, y1 = made.bounds
    area = (x1 - x0) * (y1 - y0)
    found = rings(made)
    signed = ring_areas(made, found)
    outer = np.bincount(found.faces[(signed > 0) & (found.faces >= 0)], minlength=made.face_count)
    assert (outer == 1).all()
    assert face_areas(made).sum() == pytest.approx(area, rel=1e-9)
    assert face_areas(made).min() > 0
    polygons = face_polygons(made, 0.001)
    assert all(polygon.is_valid for polygon in polygons)
    assert sum(polygon.area for polygon in polygons) == pytest.approx(area, rel=1e-9)
    assert np.abs(made.bulges).max() <= 1


def test_disc_over_checker_has_areas_of_closed_form() -> None:
    board = checker()
    made = overlay(board, paint([FillLayer([disc(50, 50, 20)], 2, 1)], FRAME)).region_map
    check_tiling(made)
    areas = colour_areas(made, 3)
    # By symmetry the disc takes the same from both colours.
    assert areas[2] == pytest.approx(np.pi * 400, rel=1e-12)
    assert areas[:2] == pytest.approx([5000 - np.pi * 200] * 2, rel=1e-12)


def test_disc_stays_two_arcs_and_vertices_stay() -> None:
    board = checker()
    made = overlay(board, paint([FillLayer([disc(50, 50, 20)], 2, 1)], FRAME)).region_map
    bent = made.bulges != 0
    assert np.arctan(np.abs(made.bulges[bent])).sum() == pytest.approx(np.pi / 2, rel=1e-12)
    ends = np.concatenate([made.vertices[bent], made.vertices[np.flatnonzero(bent) + 1]])
    assert np.hypot(*(ends - 50).T) == pytest.approx(20, abs=1e-9)
    outside = board.vertices[np.hypot(*(board.vertices - 50).T) > 20]
    distance = np.abs(outside[:, None] - made.vertices[None]).sum(axis=2).min(axis=1)
    assert distance.max() < 1e-9


def test_what_is_outside_shows_the_lower_map() -> None:
    upper = paint([FillLayer([disc(50, 50, 40), disc(50, 50, 10)], 1, 0, "evenodd")], FRAME)
    made = overlay(paint([FillLayer([square(0, 0, 100)], 0, 0)], FRAME), upper)
    assert colour_areas(made.region_map, 2)[1] == pytest.approx(np.pi * 1500, rel=1e-12)
    assert made.region_map.face_count == 3
    assert sorted(made.face_pieces.tolist()) == [0, 0, 1]


def test_rules_of_filling() -> None:
    twice = [disc(40, 50, 20), disc(60, 50, 20)]
    lens = 2 * 400 * np.arccos(0.5) - 10 * np.sqrt(4 * 400 - 400)  # two circles, closed form
    union = paint([FillLayer(twice, 0, 0)], FRAME)
    assert colour_areas(union, 1)[0] == pytest.approx(2 * np.pi * 400 - lens, rel=1e-12)
    apart = paint([FillLayer(twice, 0, 0, "evenodd")], FRAME)
    assert colour_areas(apart, 1)[0] == pytest.approx(2 * np.pi * 400 - 2 * lens, rel=1e-12)
    check_tiling(apart)


def test_same_resin_flows_together_only_where_it_is_joined() -> None:
    stripes = paint(
        [
            FillLayer([(np.array([[10.0 * k, 0], [10.0 * k + 10, 0], [10.0 * k + 10, 100],
                                  [10.0 * k, 100]]), np.zeros(4))], k % 2, 0)
            for k in range(10)
        ],
        FRAME,
    )  # fmt: skip
    ring = paint([FillLayer([disc(50, 50, 40), disc(50, 50, 30)], 0, 0, "evenodd")], FRAME)
    seamed, joined = overlay(stripes, ring), overlay(stripes, ring, joined=frozenset({0}))
    own = joined.region_map.face_colours == 0
    # The ring spans the stripes from 10 to 90; of colour 0 the one from 0 to 10 just touches it.
    assert own.sum() == 2
    assert (seamed.region_map.face_colours == 0).sum() > 2
    for made in (seamed, joined):
        check_tiling(made.region_map)
    assert colour_areas(joined.region_map, 2) == pytest.approx(
        colour_areas(seamed.region_map, 2), rel=1e-12
    )


def test_shared_boundaries_become_one() -> None:
    made = overlay(checker(), turned(checker(5, 10.0), 0, 20, 30, 1.0), bounds=FRAME).region_map
    check_tiling(made)
    assert made.face_count == 100
    assert len(made.vertices) < 500


def test_beyond_both_is_the_ground_and_what_reaches_over_is_cut_off() -> None:
    art = paint([FillLayer([disc(50, 50, 30)], 1, 0)], FRAME)
    made = lay([MapLayer(turned(art, 30, 60, 0, 1.0), 4)], FRAME, ground=0)
    check_tiling(made.region_map)
    assert set(
        zip(made.region_map.face_colours.tolist(), made.face_pieces.tolist(), strict=True)
    ) <= {
        (0, NO_PIECE),
        (1, 4),
    }
    expected = shapely.box(*FRAME).intersection(
        colour_shapes(turned(art, 30, 60, 0, 1.0), 2, 1e-5)[1]
    )
    assert colour_areas(made.region_map, 2)[1] == pytest.approx(expected.area, rel=1e-4)


def test_touching_discs_and_frame() -> None:
    made = paint([FillLayer([disc(25, 50, 25), disc(75, 50, 25)], 1, 0)], FRAME, ground=0)
    check_tiling(made)
    assert made.face_colours.tolist().count(1) == 2
    assert made.face_colours.tolist().count(0) == 2
    ring = paint([FillLayer([disc(50, 50, 40), disc(40, 50, 30)], 1, 0, "evenodd")], FRAME)
    check_tiling(ring)
    assert colour_areas(ring, 2)[1] == pytest.approx(np.pi * 700, rel=1e-12)


def test_rings_hooked_into_each_other_lie_in_the_face_around_both() -> None:
    """Two hooks, each with a part left of the other on its own level; and small squares within."""
    hook = np.array(
        [[10, 10], [60, 10], [60, 90], [50, 90], [50, 20], [20, 20], [20, 60], [10, 60]]
    )
    other = np.array(
        [[30, 94], [90, 94], [90, 40], [80, 40], [80, 84], [40, 84], [40, 30], [30, 30]]
    )
    outlines = [(hook.astype(float), np.zeros(8)), (other[::-1].astype(float), np.zeros(8))]
    fills = [FillLayer([outlines[0]], 0, 0), FillLayer([outlines[1]], 1, 1)]
    fills += [FillLayer([square(x, y, 3)], 2, 2) for x in (22, 43, 63, 93) for y in (25, 70)]
    made = lay(fills, FRAME, ground=3).region_map
    check_tiling(made)
    assert colour_areas(made, 4)[2] == pytest.approx(8 * 9, rel=1e-12)


turns = st.one_of(st.sampled_from([0.0, 45.0, 90.0, 180.0]), st.floats(-180, 180))
shifts = st.one_of(st.sampled_from([0.0, 10.0, 20.0, 50.0, 50.0 + 5e-8]), st.floats(-30, 110))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(turns, shifts, shifts, st.sampled_from([0.3, 0.5, 1.0]))
def test_any_placement_tiles(angle: float, x: float, y: float, scale: float) -> None:
    board = checker(4, 25.0)
    art = paint(
        [
            FillLayer([disc(50, 50, 50), square(20, 20, 60)], 1, 0, "evenodd"),
            FillLayer([disc(45, 50, 20)], 2, 0),
            FillLayer([disc(70, 60, 25)], 0, 0),
        ],
        FRAME,
    )
    upper = turned(art, angle, x, y, scale)
    made = overlay(board, upper, bounds=FRAME).region_map
    check_tiling(made)
    shapes = colour_shapes(upper, 3, 1e-4)
    on_top = shapely.union_all([shapely.make_valid(shape) for shape in shapes])
    for colour, lower in enumerate(colour_shapes(board, 3, 1e-4)):
        below = shapely.difference(shapely.make_valid(lower), on_top)
        want = (
            below.area + shapely.make_valid(shapes[colour]).intersection(shapely.box(*FRAME)).area
        )
        assert colour_areas(made, 3)[colour] == pytest.approx(want, abs=0.05)


spots = st.tuples(st.integers(0, 10), st.integers(0, 10), st.integers(1, 5), st.booleans())


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(spots, min_size=2, max_size=8), st.booleans())
def test_the_top_layer_is_seen_where_outlines_coincide(
    placed: list[tuple[int, int, int, bool]], flows: bool
) -> None:
    """Squares and discs on one grid touch and share edges in every way there is."""
    fills, tests = [], []
    places = np.random.default_rng(len(placed)).uniform(0, 100, (500, 2))
    for k, (x, y, size, is_disc) in enumerate(placed):
        x, y, size = 10 * x, 10 * y, 10 * size
        away = places - np.array([x, y])
        if is_disc:
            fills.append(FillLayer([disc(x, y, size)], k % 3, k))
            tests.append(size - np.hypot(*away.T))
        else:
            fills.append(FillLayer([square(x, y, size)], k % 3, k))
            tests.append(np.minimum(away, size - away).min(axis=1))
    made = lay(fills, FRAME, ground=3, joined=frozenset({0, 1, 2, 3} if flows else ()))
    check_tiling(made.region_map)
    wanted = np.full(500, 3)
    for k, inside in enumerate(tests):
        wanted[inside > 0] = k % 3
    clear = (np.abs(np.array(tests)) > 1e-3).all(axis=0)
    polygons = np.array(face_polygons(made.region_map, 1e-4), dtype=object)
    place_of, face = shapely.STRtree(polygons).query(shapely.points(places), predicate="within")
    seen = np.full(500, -9)
    seen[place_of] = made.region_map.face_colours[face]
    assert (seen == wanted)[clear].all()


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.sampled_from([0.0, 1e-9, 1e-7, 1e-6]),
    st.sampled_from([0.0, 1e-9, 5e-8, 1e-7, 2e-7, 1e-6]),
    st.sampled_from([0.0, 12.5, 25.0]),
)
def test_art_laid_almost_on_itself_tiles(angle: float, shift: float, x: float) -> None:
    art = paint([FillLayer([disc(50, 50, 50), square(20, 20, 60)], 1, 0, "evenodd")], FRAME)
    one, other = turned(art, angle, x, 25, 0.5), turned(art, 0, x + shift, 25, 0.5)
    layers = [MapLayer(checker(4, 25.0), 0), MapLayer(one, 1), MapLayer(other, 2)]
    made = lay(layers, FRAME).region_map
    assert face_areas(made).sum() == pytest.approx(10_000, rel=1e-9)
    assert face_areas(made).min() > 0


tiny = st.one_of(st.just(0.0), st.floats(-9, -2).map(lambda power: 10.0**power))
near = st.tuples(st.one_of(tiny, st.just(1e-6)), tiny, tiny, st.booleans())


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(near, min_size=1, max_size=3),
    st.sampled_from([0.0, 45.0, 90.0, 17.3]),
    st.sampled_from([0.0, 7.77, 12.5, 25.0]),
    st.sampled_from([0.3, 0.5, 1.0]),
    st.booleans(),
)
def test_copies_a_hair_apart_tile_and_show_what_lies_on_top(
    copies: list[tuple[float, float, float, bool]],
    angle: float,
    x: float,
    scale: float,
    flows: bool,
) -> None:
    """Turned by up to 0.01 degrees and moved by 1e-9 to 0.01 mm, several over each other."""
    art = paint([FillLayer([disc(50, 50, 50), square(20, 20, 60)], 1, 0, "evenodd")], FRAME)
    maps = [checker(4, 25.0), turned(art, angle, x, 25, scale)]
    for turn, right, up, left in copies:
        right = -right if left else right
        maps.append(turned(art, angle + turn, x + right, 25 + up, scale))
    layers = [MapLayer(one, k) for k, one in enumerate(maps)]
    made = lay(layers, FRAME, joined=frozenset({0, 1} if flows else ())).region_map
    assert face_areas(made).sum() == pytest.approx(10_000, rel=1e-9)
    assert face_areas(made).min() > 0
    places = np.random.default_rng(1).uniform(0, 100, (200, 2))
    clear, wanted = np.ones(200, bool), np.full(200, -9)
    for one in maps:
        own, gap = colours_at(one, places)
        wanted = np.where(own >= 0, own, wanted)
        clear &= gap > 0.05
    assert (colours_at(made, places)[0] == wanted)[clear].all()


def colours_at(region_map: RegionMap, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the colour at places, -9 beyond, and how far they are from the next boundary."""
    polygons = shapely.make_valid(np.array(face_polygons(region_map, 1e-3), dtype=object))
    points = shapely.points(places)
    found = np.full(len(places), -9)
    place, face = shapely.STRtree(polygons).query(points, predicate="within")
    found[place] = region_map.face_colours[face]
    return found, shapely.distance(shapely.union_all(shapely.boundary(polygons)), points)


def test_copies_that_needed_their_cuts_cut_again() -> None:
    """Found by trying: the first snapping moved one outline over another."""
    art = paint(
        [
            FillLayer([disc(50, 50, 50), square(20, 20, 60)], 1, 0, "evenodd"),
            FillLayer([disc(45, 50, 20)], 2, 0),
            FillLayer([disc(70, 60, 25)], 0, 0),
        ],
        FRAME,
    )
    for angle, turn, right, up, x, scale in (
        (45.0, 4.648306754550069e-11, 5.01986852e-09, -1.72089509e-04, 25.0, 1.0),
        (90.0, 1e-07, -0.00333821, 0.0, 7.77, 1.0),
        (90.0, 1.1347143165520001e-07, -1.76320539e-03, -3.45590933e-09, 25.0, 0.5),
        (45.0, 6.566934563136971e-10, 0.0, 0.00011434, 25.0, 0.5),
    ):
        one = turned(art, angle, x, 25, scale)
        other = turned(art, angle + turn, x + right, 25 + up, scale)
        layers = [MapLayer(checker(4, 25.0), 0), MapLayer(one, 1), MapLayer(other, 2)]
        made = lay(layers, FRAME).region_map
        assert face_areas(made).sum() == pytest.approx(10_000, rel=1e-9)
        assert face_areas(made).min() > 0
