"""Truth: circles by formula, and scipy's least squares."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from img2pour.plane.circles import circle_outline, find_circles, fit_circles
from img2pour.plane.corners import Outlines


def on_circle(centre: tuple[float, float], radius: float, count: int) -> np.ndarray:
    angle = 2 * np.pi * np.arange(count) / count
    return np.array(centre) + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def test_exact_circles_are_found_exactly():
    truth = [((12.0, 7.0), 5.0), ((2000.3, 1500.7), 640.2), ((40.0, 31.0), 2.5)]
    runs = [on_circle(centre, radius, 12 + int(3 * radius)) for centre, radius in truth]
    bounds = np.concatenate([[0], np.cumsum([len(run) for run in runs])])
    centres, radii = fit_circles(np.concatenate(runs), bounds)
    assert centres == pytest.approx(np.array([centre for centre, _ in truth]), abs=1e-8)
    assert radii == pytest.approx([radius for _, radius in truth], abs=1e-8)


@pytest.mark.parametrize("seed", range(4))
def test_noisy_circles_are_the_least_squares_ones(seed: int):
    random = np.random.default_rng(seed)
    points = on_circle((30.2, 21.5), 14.3, 90) + random.normal(0, 0.3, (90, 2))
    # Uneven: a third of the circle is seen thrice as densely.
    points = np.concatenate([points, points[:30], points[:30]])
    best = least_squares(lambda c: np.hypot(*(points - c[:2]).T) - c[2], [30, 21, 14]).x
    centres, radii = fit_circles(points, np.array([0, 150]))
    assert [*centres[0], radii[0]] == pytest.approx(best, abs=1e-4)


def test_only_circles_are_taken_for_circles():
    square = np.concatenate(
        [
            np.stack([np.arange(20.0), np.zeros(20)], axis=1),
            np.stack([np.full(20, 20.0), np.arange(20.0)], axis=1),
            np.stack([20 - np.arange(20.0), np.full(20, 20.0)], axis=1),
            np.stack([np.zeros(20), 20 - np.arange(20.0)], axis=1),
        ]
    )
    runs = [on_circle((50, 50), 11, 70), square, on_circle((90, 90), 30, 180)[:120]]
    bounds = np.concatenate([[0], np.cumsum([len(run) for run in runs])])
    outlines = Outlines(np.concatenate(runs), bounds, np.array([True, True, False]))
    (found,) = find_circles(outlines, np.full(3, 0.05), 0.0)
    assert found.arc == 0
    assert found.turns_left
    # A pixel's own variance of 1/12 draws the edge in by a third of a hundredth here.
    assert found.radius == pytest.approx(11, abs=0.006)


@pytest.mark.parametrize("side", [6, 9, 14])
def test_a_small_square_is_no_circle_however_noisy_its_edges_are(side: int):
    along = np.arange(side) + 0.5
    ends = np.full(side, float(side))
    sides = [(along, 0 * ends), (ends, along), (side - along, ends), (0 * ends, side - along)]
    square = np.concatenate([np.stack(pair, axis=1) for pair in sides])
    outlines = Outlines(square, np.array([0, len(square)]), np.array([True]))
    assert find_circles(outlines, np.array([0.45]), 0.3) == []


def test_a_circle_is_two_half_circles():
    outlines = Outlines(on_circle((5, 6), 3, 40)[::-1], np.array([0, 40]), np.array([True]))
    (found,) = find_circles(outlines, np.array([0.05]), 0.0)
    vertices, bulges = circle_outline(found)
    assert bulges.tolist() == [-1, -1, 0]
    assert (vertices[0] == vertices[2]).all()
    assert np.hypot(*(vertices[0] - vertices[1])) == pytest.approx(2 * found.radius)
