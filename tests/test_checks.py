"""The checkers proved: right on exact input, and each one finds a planted fault of known size."""

from math import atan, degrees, pi, sqrt, tan

import numpy as np
import pytest
import shapely

from tests import checks
from tests.art.known import KnownArt, Primitive, compose
from tests.art.shapes import disc, rectangle
from tests.colours import ciede2000, lab, palette_errors
from tests.outlines import Outline, TracedFace

CENTRE, RADIUS = (70.3, 60.8), 30.0
SQUARE = np.array([[120.0, 30.0], [180.0, 30.0], [180.0, 90.0], [120.0, 90.0]])
FRAME = np.array([[0.0, 0.0], [220.0, 0.0], [220.0, 120.0], [0.0, 120.0]])


def known() -> KnownArt:
    round_one, square = disc(CENTRE, RADIUS), shapely.Polygon(SQUARE)
    return compose(
        "a disc and a square",
        (220, 120),
        ((255, 255, 255), (200, 0, 0), (0, 0, 200)),
        [[(1, round_one)], [(2, square)]],
        [Primitive("disc", 1, round_one, 2), Primitive("square", 2, square, 4)],
    )


def lines(points: np.ndarray) -> Outline:
    return Outline(points, np.zeros(len(points)))


def circle(x: float = CENTRE[0], y: float = CENTRE[1], r: float = RADIUS, arcs: int = 2) -> Outline:
    angles = np.arange(arcs) * 2 * pi / arcs
    points = np.column_stack([x + r * np.cos(angles), y + r * np.sin(angles)])
    return Outline(points, np.full(arcs, tan(2 * pi / arcs / 4)))


def reverse(outline: Outline) -> Outline:
    return Outline(outline.vertices[::-1].copy(), -np.roll(outline.bulges[::-1], -1))


def traced(round_one: Outline | None = None, square: Outline | None = None) -> list[TracedFace]:
    round_one = round_one or circle()
    square = square or lines(SQUARE)
    ground = TracedFace(0, (lines(FRAME), reverse(round_one), reverse(square)))
    return [ground, TracedFace(1, (round_one,)), TracedFace(2, (square,))]


class TestOutlines:
    def test_area_of_arcs_is_the_closed_form(self):
        assert circle().area() == pytest.approx(pi * RADIUS**2, rel=1e-13)
        assert circle(arcs=5).area() == pytest.approx(pi * RADIUS**2, rel=1e-13)
        assert reverse(circle()).area() == pytest.approx(-pi * RADIUS**2, rel=1e-13)

    def test_area_of_a_half_disc_and_a_lens(self):
        ends = np.array([[0.0, 0.0], [2.0, 0.0]])
        assert abs(Outline(ends, np.array([1.0, 0.0])).area()) == pytest.approx(pi / 2)
        quarter = sqrt(2) - 1
        segment = (sqrt(2) ** 2) / 2 * (pi / 2 - 1)
        assert abs(Outline(ends, np.array([quarter, quarter])).area()) == pytest.approx(2 * segment)

    def test_positive_bulge_turns_from_x_towards_y(self):
        # From (1, 0) over (0, 1) to (-1, 0): x towards y.
        points = Outline(np.array([[1.0, 0], [-1.0, 0]]), np.array([1.0, 0])).chords(0.001)
        assert points[:, 1].max() == pytest.approx(1, abs=0.002)
        assert points[:, 1].min() == pytest.approx(0, abs=1e-12)

    def test_chords_keep_to_the_sagitta_and_are_the_same_both_ways(self):
        there, back = circle().chords(0.01), reverse(circle()).chords(0.01)
        assert set(map(tuple, there)) == set(map(tuple, back))
        middles = (there + np.roll(there, -1, axis=0)) / 2
        assert RADIUS - np.hypot(*(middles - CENTRE).T).min() <= 0.01

    def test_turns(self):
        assert np.allclose(lines(SQUARE).turns_deg(), 90)
        assert np.allclose(circle(arcs=3).turns_deg(), 0)
        bent = Outline(circle(arcs=2).vertices, np.array([1.0, 0.9]))
        kink = degrees(2 * (atan(1.0) - atan(0.9)))
        assert np.allclose(np.abs(bent.turns_deg()), kink)


class TestBoundary:
    def test_exact_trace_has_no_error(self):
        found = checks.boundary_errors(traced(), known())
        assert found.largest < 0.002
        assert found.largest_back < 0.002

    def test_moved_disc(self):
        """A circle moved by d is off by d |cos| around: mean 2 d / pi."""
        art = compose("disc", (220, 120), ((0, 0, 0), (9, 9, 9)), [[(1, disc(CENTRE, RADIUS))]], [])
        found = checks.boundary_errors([TracedFace(1, (circle(x=CENTRE[0] + 0.2),))], art)
        assert found.mean == pytest.approx(0.2 * 2 / pi, rel=0.01)
        assert found.largest == pytest.approx(0.2, rel=0.01)

    def test_grown_square(self):
        square = lines(SQUARE + np.sign(SQUARE - (150, 60)) * 0.1)
        art = compose(
            "square", (220, 120), ((0,) * 3, (9,) * 3), [[(1, shapely.Polygon(SQUARE))]], []
        )
        found = checks.boundary_errors([TracedFace(1, (square,))], art)
        assert found.mean == pytest.approx(0.1, rel=0.01)
        assert found.p95 == pytest.approx(0.1, rel=0.01)
        assert 0.1 <= found.largest <= 0.1 * sqrt(2) + 1e-9

    def test_a_lost_region_shows_from_the_truth(self):
        found = checks.boundary_errors([traced()[1]], known())
        assert found.largest < 0.002
        assert found.largest_back > 20

    def test_a_bite_shows_from_the_trace(self):
        bitten = lines(np.insert(SQUARE, 1, (150.0, 35.0), axis=0))
        assert checks.boundary_errors(traced(square=bitten), known()).largest == pytest.approx(
            5, abs=0.2
        )

    def test_the_worst_place_is_where_the_fault_is(self):
        moved = lines(SQUARE + np.array([[0, 0], [3.0, 0], [0, 0], [0, 0]]))
        x, y, distance = checks.worst_places(traced(square=moved), known(), 1)[0]
        assert (x, y) == pytest.approx((183, 30), abs=0.5)
        assert distance == pytest.approx(3, abs=0.3)


class TestIslands:
    def test_exact(self):
        assert checks.islands(traced(), known()) == checks.Islands(0, 0)

    def test_missed_invented_and_wrong_colour(self):
        faces = traced()
        assert checks.islands(faces[:2], known()) == checks.Islands(1, 0)
        speck = TracedFace(2, (circle(200, 100, 3),))
        assert checks.islands([*faces, speck], known()) == checks.Islands(0, 1)
        tiny = TracedFace(2, (circle(200, 100, 1.6),))
        assert checks.islands([*faces, tiny], known()) == checks.Islands(0, 0)
        wrong = [faces[0], faces[1], TracedFace(1, faces[2].outlines)]
        assert checks.islands(wrong, known()) == checks.Islands(1, 1)

    def test_a_region_in_two_pieces_is_one_too_many(self):
        left, right = SQUARE.copy(), SQUARE.copy()
        left[1:3, 0], right[[0, 3], 0] = 160, 160
        faces = [*traced()[:2], TracedFace(2, (lines(left),)), TracedFace(2, (lines(right),))]
        assert checks.islands(faces, known()) == checks.Islands(0, 1)


class TestTiling:
    def test_exact(self):
        found = checks.tiling(traced(), known().frame)
        assert max(found.area_off, found.gap, found.overlap) < 1e-12
        assert (found.unshared_edges, found.invalid_faces) == (0, 0)

    @pytest.mark.parametrize(("change", "field"), [(0.01, "overlap"), (-0.01, "gap")])
    def test_a_region_larger_or_smaller_than_its_hole(self, change, field):
        faces = traced()
        faces[1] = TracedFace(1, (circle(r=RADIUS + change),))
        found = checks.tiling(faces, known().frame)
        size = abs(pi * (RADIUS + change) ** 2 - pi * RADIUS**2) / (220 * 120)
        assert getattr(found, field) == pytest.approx(size, rel=0.01)
        assert found.area_off == pytest.approx(size, rel=1e-6)
        assert found.unshared_edges > 0

    def test_a_moved_vertex_of_no_area_still_shows(self):
        faces = traced()
        faces[2] = TracedFace(2, (lines(np.insert(SQUARE, 1, (150.0, 30.0), axis=0)),))
        found = checks.tiling(faces, known().frame)
        assert found.area_off < 1e-12
        assert found.unshared_edges == 3

    def test_a_crossed_outline_is_invalid(self):
        faces = traced()
        faces[2] = TracedFace(2, (lines(SQUARE[[0, 2, 1, 3]]),))
        assert checks.tiling(faces, known().frame).invalid_faces == 1


class TestCornersJointsPieces:
    def test_exact(self):
        assert checks.corner_errors(traced(), known()).max() < 1e-6
        assert len(checks.corner_errors(traced(), known())) == 4
        assert checks.joint_turns(traced(), known()).max() < 1e-6
        assert checks.primitive_pieces(traced(), known()) == {"disc": [2], "square": [4]}

    def test_moved_corners(self):
        faces = traced(square=lines(SQUARE + np.array([0.3, 0.4])))
        assert np.allclose(checks.corner_errors(faces, known()), 0.5, atol=1e-6)

    def test_a_cut_corner(self):
        cut = np.insert(SQUARE, 1, (176.0, 30.0), axis=0)
        cut[2] = (180.0, 34.0)
        errors = np.sort(checks.corner_errors(traced(square=lines(cut)), known()))
        assert np.allclose(errors, [0, 0, 0, 4], atol=1e-6)

    def test_a_kink(self):
        kinked = Outline(circle().vertices, np.array([1.0, 0.97]))
        turn = degrees(2 * (atan(1.0) - atan(0.97)))
        assert np.allclose(checks.joint_turns(traced(kinked), known()), turn)

    def test_joints_on_tight_bends_can_be_left_out(self):
        kinked = Outline(circle().vertices, np.array([1.0, 0.97]))
        assert len(checks.joint_turns(traced(kinked), known(), RADIUS - 0.1)) == 4
        assert len(checks.joint_turns(traced(kinked), known(), RADIUS + 0.1)) == 0

    def test_too_many_pieces_and_none(self):
        assert checks.primitive_pieces(traced(circle(arcs=7)), known())["disc"] == [7]
        assert checks.primitive_pieces(traced()[2:], known())["disc"] == [0]


class TestArt:
    def test_corners_and_junctions_of_two_touching_squares(self):
        pair = [(1, rectangle((40, 50), 40, 40)), (2, rectangle((80, 50), 40, 40))]
        art = compose("pair", (140, 100), ((0,) * 3, (9,) * 3, (99,) * 3), [pair], [])
        corners, junctions = art.turns
        assert sorted(map(tuple, corners)) == [(20, 30), (20, 70), (100, 30), (100, 70)]
        off_frame = [place for place in map(tuple, junctions) if 0 < place[0] < 140]
        assert sorted(off_frame) == [(60, 30), (60, 70)]


class TestColours:
    # Sharma, Wu, Dalal, Color Res. Appl. 30(1), 21-30, 2005, Table 1.
    PAIRS = (
        ((50, 2.49, -0.001), (50, -2.49, 0.0009), 7.1792),
        ((50, 2.49, -0.001), (50, -2.49, 0.0011), 7.2195),
        ((50, -0.001, 2.49), (50, 0.0009, -2.49), 4.8045),
        ((50, -0.001, 2.49), (50, 0.0011, -2.49), 4.7461),
        ((50, 2.5, 0), (50, 0, -2.5), 4.3065),
        ((50, 2.5, 0), (73, 25, -18), 27.1492),
        ((2.0776, 0.0795, -1.135), (0.9033, -0.0636, -0.5514), 0.9082),
    )

    @pytest.mark.parametrize(("first", "second", "difference"), PAIRS)
    def test_published_pairs(self, first, second, difference):
        assert ciede2000(np.array(first), np.array(second)) == pytest.approx(difference, abs=5e-5)
        assert ciede2000(np.array(second), np.array(first)) == pytest.approx(difference, abs=5e-5)

    def test_lab_of_primaries(self):
        # ISO/CIE 11664-4 formulas, sRGB primaries, to the rounding of the matrix.
        red, blue = lab(np.array([[255.0, 0, 0], [0, 0, 255]]))
        assert np.allclose(red, (53.24, 80.09, 67.20), atol=0.05)
        assert np.allclose(blue, (32.30, 79.19, -107.86), atol=0.05)

    def test_a_wrong_colour_is_found(self):
        true = np.array([[200.0, 30, 40], [0, 90, 160]])
        assert palette_errors(true[::-1], true).max() == 0
        errors = palette_errors(true + np.array([[0, 0, 0], [0, 6, 0]]), true)
        assert errors[0] == 0
        assert errors[1] > 1
