"""Truth: outlines made of known lines and arcs; the fewest pieces are those that made them."""

import numpy as np
import pytest

from img2pour.plane.corners import Outlines, begin_at_corner, candidates
from img2pour.plane.outlines import cut_wide_pieces
from img2pour.plane.segment import CornerSettings, Pieces, segment
from img2pour.plane.tips import without_cut_tips

CORNERS = CornerSettings(2, 3, 0.3)


def walked_points(path: list[np.ndarray], noise: float = 0.0) -> np.ndarray:
    """Return points one pixel apart along a fine path."""
    fine = np.concatenate(path)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(fine, axis=0).T))])
    at = np.arange(0.5, along[-1], 1.0)
    points = np.stack([np.interp(at, along, fine[:, axis]) for axis in (0, 1)], axis=1)
    return points + np.random.default_rng(1).normal(0, noise, points.shape)


def line(a: tuple[float, float], b: tuple[float, float]) -> np.ndarray:
    return np.linspace(a, b, 500)


def arc(centre: tuple[float, float], radius: float, start_deg: float, end_deg: float) -> np.ndarray:
    angle = np.radians(np.linspace(start_deg, end_deg, 2000))
    return np.array(centre) + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def pieces_of(points: np.ndarray, *, closed: bool, allowance: float) -> tuple[Pieces, Outlines]:
    outlines = Outlines(points, np.array([0, len(points)]), np.array([closed]))
    outlines = begin_at_corner(outlines)
    found = segment(outlines, candidates(outlines), np.array([allowance]), CORNERS)
    return without_cut_tips(found, outlines, 0.7, 0.0), outlines


@pytest.mark.parametrize(("noise", "allowance"), [(0.0, 0.02), (0.05, 0.12)])
def test_a_square_is_four_lines(noise: float, allowance: float):
    corners = [(10.0, 10.0), (70.0, 14.0), (66.0, 74.0), (6.0, 70.0)]
    path = [line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    points = np.roll(walked_points(path, noise), 17, axis=0)
    found, outlines = pieces_of(points, closed=True, allowance=allowance)
    assert len(found.first) == 4
    assert not found.is_arc.any()
    for first in found.first:
        near = np.hypot(*(np.array(corners) - outlines.points[first]).T).min()
        assert near < 2


def test_a_line_that_runs_into_an_arc_is_two_pieces():
    path = [line((0, 0), (60, 0)), arc((60, 25), 25, -90, 60)]
    found, outlines = pieces_of(walked_points(path), closed=False, allowance=0.02)
    assert found.is_arc.tolist() == [False, True]
    assert outlines.points[found.first[1], 0] == pytest.approx(60, abs=5)


def test_an_s_of_two_arcs():
    path = [arc((0, 0), 30, 180, 360), arc((50, 0), 20, 180, 0)]
    found, _ = pieces_of(walked_points(path), closed=False, allowance=0.02)
    assert found.is_arc.tolist() == [True, True]


def test_the_pieces_cover_every_point_in_order():
    path = [line((0, 0), (40, 9)), arc((47, 40), 31.8, -100, 30), line((75, 56), (90, 90))]
    found, outlines = pieces_of(walked_points(path, 0.03), closed=False, allowance=0.08)
    assert found.first[0] == 0
    assert found.last[-1] == len(outlines.points)
    assert (found.first[1:] == found.last[:-1]).all()


def test_wide_arcs_are_cut_below_a_half_circle():
    points = walked_points([arc((0, 0), 30, 0, 300)])
    outlines = Outlines(points, np.array([0, len(points)]), np.array([False]))
    one = Pieces(np.array([0]), np.array([len(points)]), np.array([True]), np.array([0, 1]))
    cut = cut_wide_pieces(one, outlines)
    assert len(cut.first) >= 2
    turned = (cut.last - cut.first) / 30
    assert (turned < np.pi).all()
    assert (cut.first[1:] == cut.last[:-1]).all()


def test_candidates_have_ends_and_corners():
    path = [line((0, 0), (50, 0)), line((50, 0), (50, 50))]
    points = walked_points(path)
    outlines = Outlines(points, np.array([0, len(points)]), np.array([False]))
    found = candidates(outlines)
    assert found.index[0] == 0
    assert found.index[-1] == len(points)
    corner = found.index[found.is_corner]
    assert np.abs(corner - 50).min() <= 1


def test_no_points_have_no_candidates():
    outlines = Outlines(np.empty((0, 2)), np.zeros(1, np.int64), np.empty(0, bool))
    assert len(begin_at_corner(outlines).points) == 0
