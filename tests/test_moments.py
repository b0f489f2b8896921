"""Truth: the points themselves, by singular values and by a least-squares circle of scipy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from img2pour.plane.moments import centred, circle_variance, line_variance, run_sums, shifted

QUICK = settings(derandomize=True, max_examples=50, deadline=None)


def plain_sums(points: np.ndarray) -> np.ndarray:
    x, y = points.T
    z = x * x + y * y
    return np.array(
        [len(x), *(np.sum(c) for c in (x, y, x * x, x * y, y * y, x * z, y * z, z * z))]
    )


@QUICK
@given(st.integers(0, 10_000), st.floats(-30, 30), st.floats(-30, 30))
def test_shifted_sums_are_those_of_shifted_points(seed: int, tx: float, ty: float):
    points = np.random.default_rng(seed).uniform(-20, 20, (12, 2))
    sums = run_sums(points, np.ones(12), np.array([0, 5, 12]))
    assert sums[:, 0] == pytest.approx(plain_sums(points[:5]), abs=1e-9)
    moved = shifted(sums, np.full(2, tx), np.full(2, ty))
    for run, own in enumerate((points[:5], points[5:])):
        assert moved[:, run] == pytest.approx(
            plain_sums(own + np.array([tx, ty])), rel=1e-9, abs=1e-6
        )


@QUICK
@given(st.integers(0, 10_000))
def test_the_variance_about_a_line_is_the_smallest_singular_value(seed: int):
    points = np.random.default_rng(seed).normal(0, [4, 0.3], (20, 2))
    means = centred(run_sums(points, np.ones(20), np.array([0, 20])))
    smallest = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[-1]
    assert line_variance(means)[0] == pytest.approx(smallest**2 / 20, rel=1e-9)


@pytest.mark.parametrize("sweep_deg", [30, 90, 200, 360])
def test_the_variance_about_a_circle(sweep_deg: float):
    random = np.random.default_rng(sweep_deg)
    angle = np.radians(np.linspace(0, sweep_deg, 200))
    radius = 25 + random.normal(0, 0.05, 200)
    points = np.stack([3 + radius * np.cos(angle), -2 + radius * np.sin(angle)], axis=1)

    def misses(circle: np.ndarray) -> np.ndarray:
        return np.hypot(*(points - circle[:2]).T) - circle[2]

    best = least_squares(misses, [3, -2, 25]).fun
    local = points - points[0]
    means = centred(run_sums(local, np.ones(200), np.array([0, 200])))
    line = line_variance(means)
    assert circle_variance(means, line)[0] == pytest.approx((best**2).mean(), rel=0.02)
    assert circle_variance(means, line)[0] <= line[0]


def test_points_on_a_circle_have_no_variance():
    angle = np.linspace(0, 2, 40)
    points = 12 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    means = centred(run_sums(points - points[0], np.ones(40), np.array([0, 40])))
    assert circle_variance(means, line_variance(means))[0] < 1e-9
