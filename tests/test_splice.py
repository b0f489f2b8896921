"""Truth: the circle that the fitted arc lies on, and the points that it must follow."""

import numpy as np
import pytest

from img2pour.plane.shapes import points_on_arcs
from img2pour.plane.splice import REACH_PX, spliced

RADIUS = 50.0
FAULT = np.array([[0.0, RADIUS]])


def half_circle() -> tuple[np.ndarray, np.ndarray]:
    """Return two quarters of a circle about the origin, from the right to the left."""
    vertices = RADIUS * np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
    return vertices, np.tan(np.pi / 8) * np.array([1.0, 1.0, 0.0])


def edge_points(radius: float) -> np.ndarray:
    angles = np.linspace(0, np.pi, 160)
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


@pytest.fixture
def arc() -> tuple[np.ndarray, np.ndarray]:
    return spliced(*half_circle(), edge_points(RADIUS + 1), FAULT)


def test_far_from_the_fault_the_arc_stays_on_its_circle(arc):
    vertices, bulges = arc
    curved = np.flatnonzero(bulges)
    assert len(curved) == 2
    for share in (0.0, 0.3, 0.7, 1.0):
        places = points_on_arcs(
            vertices[curved], vertices[curved + 1], bulges[curved], np.full(2, share)
        )
        assert np.hypot(*places.T) == pytest.approx(RADIUS)
        assert (np.hypot(*(places - FAULT).T) > REACH_PX - 3).all()


def test_near_the_fault_it_goes_through_the_points(arc):
    vertices, _ = arc
    near = vertices[np.hypot(*(vertices - FAULT).T) < REACH_PX / 2]
    assert len(near) >= 5
    assert np.hypot(*near.T) == pytest.approx(RADIUS + 1)


def test_the_ends_stay_where_they_were(arc):
    vertices, bulges = arc
    assert len(bulges) == len(vertices)
    assert vertices[[0, -1]] == pytest.approx(half_circle()[0][[0, -1]])


def test_the_points_keep_their_order(arc):
    vertices, _ = arc
    assert (np.diff(np.arctan2(vertices[:, 1], vertices[:, 0])) > 0).all()
