"""Places, plain shapes, moats, slivers and repeats against arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.compose import plain, repeats
from img2pour.compose.around import find_slivers, merge_slivers, moat, silhouette
from img2pour.compose.placing import art_placement
from img2pour.errors import SettingsError
from img2pour.job.places import ArtPlace, read_spot
from img2pour.plane.overlay import NO_PIECE, FillLayer, MapLayer, Outline, lay, overlay, paint
from img2pour.plane.placement import Placement, place
from img2pour.plane.regionmap import RegionMap, colour_areas, face_areas
from img2pour.plane.shapes import colour_shapes
from img2pour.units import parse_length

FRAME = (0.0, 0.0, 100.0, 100.0)


def at(outline: Outline, x: float, y: float) -> Outline:
    return outline[0] + np.array([x, y]), outline[1]


def area(*outlines: Outline) -> float:
    reach = max(float(np.abs(vertices).max()) for vertices, _ in outlines) * 2
    fill = FillLayer(outlines, 0, 0)
    return float(colour_areas(paint([fill], (-reach, -reach, reach, reach)), 1)[0])


def stripes(count: int) -> RegionMap:
    wide = 100.0 / count
    fills = [
        FillLayer([at(plain.rectangle(wide, 100), (k + 0.5) * wide, 50)], k % 2, 0)
        for k in range(count)
    ]
    return paint(fills, FRAME)


def test_areas_of_plain_shapes() -> None:
    assert area(plain.rectangle(30, 20)) == pytest.approx(600)
    assert area(plain.rectangle(30, 20, 4)) == pytest.approx(600 - 16 * (4 - np.pi))
    assert area(plain.rectangle(30, 20, 10)) == pytest.approx(200 + 100 * np.pi)
    assert area(plain.disc(20)) == pytest.approx(100 * np.pi)
    assert area(*plain.ring(20, 3)) == pytest.approx(np.pi * (100 - 49))
    assert area(*plain.border(40, 30, 4, 6)) == pytest.approx(
        1200 - 36 * (4 - np.pi) - (32 * 22 - 4 * (4 - np.pi))
    )
    # Regular hexagon in a circle of radius 10: 3 sqrt(3) / 2 r^2.
    assert area(plain.polygon(6, 20)) == pytest.approx(150 * np.sqrt(3))
    # A pentagram's outline: 10 triangles from the centre, r R sin(36 deg) / 2 each.
    notch = 10 * np.cos(np.radians(72)) / np.cos(np.radians(36))
    assert area(plain.star(5, 20)) == pytest.approx(50 * notch * np.sin(np.radians(36)))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: plain.rectangle(10, 0), "height is 0 mm"),
        (lambda: plain.rectangle(10, 6, 4), "at most 3 mm"),
        (lambda: plain.ring(10, 5), "leaves nothing inside"),
        (lambda: plain.polygon(2, 10), "3 to 1000"),
        (lambda: plain.star(5, 10, 1.5), "between 0 and 1"),
        (lambda: plain.disc(float("nan")), "more than 0"),
    ],
)
def test_impossible_shapes_are_refused(make, says: str) -> None:
    with pytest.raises(SettingsError, match=says):
        make()


def test_star_with_moat_over_nine_stripes() -> None:
    star = FillLayer([at(plain.star(5, 60), 50, 50)], 2, 1)
    layers = [MapLayer(stripes(9), 0), moat(star, 3, 3, 1), star]
    made = lay(layers, FRAME, joined=frozenset({3}))
    areas = colour_areas(made.region_map, 4)
    notch = 30 * np.cos(np.radians(72)) / np.cos(np.radians(36))
    star_area = 5 * 30 * notch * np.sin(np.radians(36))
    assert areas[2] == pytest.approx(star_area, rel=1e-9)
    assert areas.sum() == pytest.approx(10_000, rel=1e-9)
    # Each notch turns out by the angle that makes the ten corners turn by 360 degrees in all, and
    # loses a kite there: sides 3, tan of half the turn (plane geometry).
    side = np.sqrt(900 + notch**2 - 2 * 30 * notch * np.cos(np.radians(36)))
    tip_turn, notch_turn = np.radians(180 - 36), np.radians(144 - 72)
    kites = 5 * 9 * (np.tan(notch_turn / 2))
    band = 10 * side * 3 + 5 * 9 * tip_turn / 2 - kites
    assert areas[3] == pytest.approx(band, rel=1e-9)
    shape = shapely.Polygon(star.outlines[0][0])
    assert band == pytest.approx(shape.buffer(3, quad_segs=400).area - shape.area, rel=1e-5)


def test_moat_follows_arcs_and_holes() -> None:
    ring = FillLayer([at(o, 50, 50) for o in plain.ring(60, 8)], 1, 0)
    made = lay([moat(ring, 2, 0, 0), ring], FRAME).region_map
    assert colour_areas(made, 2)[0] == pytest.approx(np.pi * (32**2 - 30**2 + 22**2 - 20**2))
    # A hole narrower than the moat on both sides is filled to its middle.
    small = FillLayer([at(o, 50, 50) for o in plain.ring(20, 9)], 1, 0)
    made = lay([moat(small, 2, 0, 0), small], FRAME).region_map
    assert colour_areas(made, 2)[0] == pytest.approx(np.pi * (144 - 100 + 1))
    assert np.hypot(*(made.vertices[made.bulges != 0] - 50).T).max() == pytest.approx(12)


def test_moat_around_a_map_counts_its_outside_as_open() -> None:
    art = paint([FillLayer([at(plain.disc(40), 50, 50)], 1, 0)], FRAME)
    assert len(silhouette(MapLayer(art, 0))) == 1
    made = lay([moat(MapLayer(art, 0), 5, 0, 0), MapLayer(art, 0)], FRAME).region_map
    assert colour_areas(made, 2)[0] == pytest.approx(np.pi * (625 - 400))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(3, 9), st.floats(0.2, 0.9), st.floats(0.2, 12), st.floats(0, 7))
def test_moat_holds_what_is_near(points: int, inner: float, width: float, shift: float) -> None:
    outlines = [at(plain.star(points, 40, inner), 50, 50), at(plain.disc(14), 60 + shift, 55)]
    fill = FillLayer(outlines, 1, 0)
    bounds = (-20.0, -20.0, 120.0, 120.0)
    made = lay([moat(fill, width, 0, 0), fill], bounds).region_map
    shape = colour_shapes(paint([fill], bounds), 2, 1e-5)[1]
    band = shapely.make_valid(colour_shapes(made, 1, 1e-5)[0])
    places = np.random.default_rng(points).uniform(10, 90, (3000, 2))
    places = shapely.points(places)
    distance = shapely.distance(places, shape)
    clear = np.abs(distance - width) > 1e-4
    clear &= shapely.distance(places, shape.boundary) > 1e-4
    near = (distance > 0) & (distance < width)
    assert (shapely.contains(band, places) == near)[clear].all()


def test_slivers_are_found_and_merged() -> None:
    cover = paint([FillLayer([at(plain.rectangle(60, 60), 41, 50)], 2, 0)], FRAME)
    made = overlay(stripes(10), cover)
    thin = find_slivers(made, 1.5)
    # The cover reaches from 11 to 71: it leaves 1 mm of the second stripe beside it.
    assert [(s.piece, s.colour) for s in thin] == []
    cover = paint([FillLayer([at(plain.rectangle(60, 100), 41, 50)], 2, 0)], FRAME)
    made = overlay(stripes(10), cover)
    thin = find_slivers(made, 1.5)
    assert [(s.piece, s.colour, round(s.width_mm, 3)) for s in thin] == [(0, 1, 1.0)]
    assert thin[0].at_mm[0] == pytest.approx(10.5, abs=0.02)
    merged = merge_slivers(made, thin)
    assert merged.region_map.face_count == made.region_map.face_count - 1
    assert face_areas(merged.region_map).sum() == pytest.approx(10_000, rel=1e-12)
    assert find_slivers(merged, 1.5) == ()
    assert sorted(set(merged.face_pieces.tolist())) == [0, 1]
    assert NO_PIECE not in merged.face_pieces


def mm(text: str):
    return parse_length(text, sign="any")


def test_places_of_a_picture_on_the_board() -> None:
    bounds, board = (0.0, 0.0, 200.0, 100.0), (300.0, 200.0)

    def corners(placed: ArtPlace) -> np.ndarray:
        placement = art_placement(placed, bounds, board, y_down=True)
        return placement.apply(np.array([[0, 0], [200, 100.0]]))

    half = mm("100mm")
    assert corners(ArtPlace(half)).tolist() == [[100, 125], [200, 75]]
    assert corners(ArtPlace(half, spot=read_spot("lower left"))).tolist() == [[0, 50], [100, 0]]
    assert corners(ArtPlace(half, mirror=True)).tolist() == [[200, 125], [100, 75]]
    turned = corners(ArtPlace(half, spot=read_spot("upper-right"), turn_deg=90))
    assert turned.tolist() == [[250, 100], [300, 200]]
    there = corners(ArtPlace(half, spot=read_spot("10mm+20mm", "lower-left")))
    assert there.tolist() == [[10, 70], [110, 20]]
    with pytest.raises(SettingsError, match="width or its height"):
        art_placement(ArtPlace(), bounds, board, y_down=True)


def test_regions_of_placed_art_are_congruent_with_their_own() -> None:
    art = paint(
        [
            FillLayer([at(plain.star(7, 60), 50, 50)], 1, 0),
            FillLayer([at(plain.disc(20), 50, 50)], 2, 0),
        ],
        FRAME,
    )
    placed = ArtPlace(mm("37mm"), spot=read_spot("61mm+44mm"), turn_deg=17)
    placement = art_placement(placed, art.bounds, (100, 100), y_down=False)
    on_board = place(art, placement)
    made = overlay(stripes(9), on_board, bounds=FRAME).region_map
    shown = np.unique(on_board.vertices[np.hypot(*(on_board.vertices - [61, 44]).T) < 15], axis=0)
    away = np.sqrt(((shown[:, None] - made.vertices[None]) ** 2).sum(axis=2)).min(axis=1)
    assert len(shown) > 14
    assert away.max() < 1e-9
    scale = 0.37**2
    assert colour_areas(made, 3)[2] == pytest.approx(colour_areas(art, 3)[2] * scale, rel=1e-9)


def test_ring_of_copies_keeps_their_distance() -> None:
    made = repeats.ring(6, 50.0)
    places = np.array([p.apply(np.zeros((1, 2)))[0] for p in made])
    assert np.hypot(*places.T) == pytest.approx(50)
    assert places[0] == pytest.approx([0, 50], abs=1e-12)
    assert np.hypot(*np.diff(places, axis=0).T) == pytest.approx(50)  # a hexagon's side
    tops = np.array([p.apply(np.array([[0.0, 1.0]]))[0] for p in made])
    assert np.hypot(*tops.T) == pytest.approx(51)


def test_nesting_in_rows() -> None:
    sizes = [(40.0, 20.0), (60.0, 50.0), (30.0, 30.0), (50.0, 10.0)]
    found = repeats.nest(sizes, (120.0, 100.0), gap_mm=5, margin_mm=5)
    boxes = [
        shapely.box(x, y, x + w, y + h)
        for (x, y), (w, h) in zip(found.corners_mm, sizes, strict=True)
    ]
    assert all(shapely.box(5, 5, 115, 95).covers(box) for box in boxes)
    assert min(a.distance(b) for i, a in enumerate(boxes) for b in boxes[:i]) >= 5
    with pytest.raises(SettingsError, match="need a blank"):
        repeats.nest(sizes, (120.0, 60.0), gap_mm=5)
    with pytest.raises(SettingsError, match="wider blank"):
        repeats.nest(sizes, (50.0, 60.0), gap_mm=5)


def test_placement_of_copies_is_exact() -> None:
    (one,) = repeats.grid(1, 1, (10.0, 10.0))
    assert isinstance(one, Placement)
    assert one.matrix.tolist() == np.eye(3).tolist()
