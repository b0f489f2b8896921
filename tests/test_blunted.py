"""Truth: a blurred wedge in closed form, and shapes whose corners are known, drawn and blurred."""

import cv2
import numpy as np
import pytest
import shapely
import shapely.affinity
from scipy.integrate import dblquad
from scipy.stats import norm

from img2pour.plane.blunted import DISTANCES, LEAST_INSIDE, MOST_INSIDE, _back
from img2pour.plane.regionmap import RegionMap, ring_outline, rings
from img2pour.plane.trace import trace
from tests.art.raster import paint, to_bytes

COLOURS = [(240, 236, 224), (28, 52, 88)]
BLUR_PX = 1.2
SIZE = 96


def drawn(shape: shapely.Polygon, seed: int | None = None) -> RegionMap:
    """Draw a shape exactly, blur it, add noise of 3 if wanted, and trace it."""
    sharp = paint([([shape], COLOURS[1])], COLOURS[0], SIZE, SIZE)
    soft = cv2.GaussianBlur(sharp, (0, 0), BLUR_PX, borderType=cv2.BORDER_REPLICATE)
    if seed is not None:
        soft = soft + np.random.default_rng(seed).normal(0, 3, soft.shape)
    rgb = to_bytes(soft)
    palette = np.array(COLOURS, dtype=float)
    gaps = ((rgb[:, :, None].astype(float) - palette) ** 2).sum(axis=3)
    labels = gaps.argmin(axis=2).astype(np.uint8)
    return trace(rgb, labels, palette, blur_px=BLUR_PX).region_map


def inner_outline(region_map: RegionMap) -> tuple[np.ndarray, np.ndarray]:
    """Return the outline of the shape in the middle."""
    found = rings(region_map)
    face = int(np.flatnonzero(region_map.face_colours == 1)[0])
    return ring_outline(region_map, found.ring(found.faces.tolist().index(face)))


def worst_corner_px(region_map: RegionMap, corners: np.ndarray) -> float:
    vertices, _ = inner_outline(region_map)
    return float(np.hypot(*(corners[:, None] - vertices[None]).transpose(2, 0, 1)).min(1).max())


def test_at_a_right_angle_the_shift_is_that_of_two_independent_sides():
    """P(u < a) P(v < b) = 1/2 for independent u, v."""
    inside = np.linspace(LEAST_INSIDE, MOST_INSIDE, DISTANCES)
    shift, weight = _back(np.full(DISTANCES, 90.0), inside)
    assert shift == pytest.approx(norm.ppf(0.5 / norm.cdf(inside)), abs=2e-3)
    assert (np.diff(weight) > 0).all()
    assert weight[-1] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("angle_deg", [36.0, 60.0, 108.0])
def test_in_other_wedges_half_of_the_light_is_there(angle_deg):
    """The Gaussian over the wedge itself, integrated by scipy."""
    inside = 1.5
    shift, _ = _back(np.array([angle_deg]), np.array([inside]))
    angle = np.radians(angle_deg)
    # The tip at 0, one side along x; a point shift inside it and `inside` from the other.
    y = float(shift[0])
    x = (inside + y * np.cos(angle)) / np.sin(angle)

    def light(v: float, u: float) -> float:
        return float(norm.pdf(u - x) * norm.pdf(v - y))

    lit, _ = dblquad(light, 0, 12, lambda u: 0.0, lambda u: min(12.0, u * np.tan(angle)))
    if angle > np.pi / 2:
        beyond, _ = dblquad(light, -12, 0, lambda u: u * np.tan(angle), lambda u: 12.0)
        lit = beyond + dblquad(light, 0, 12, lambda u: 0.0, lambda u: 12.0)[0]
    assert lit == pytest.approx(0.5, abs=4e-3)


@pytest.mark.parametrize("turn_deg", [0.0, 7.0, 20.0, 38.0])
def test_corners_of_a_blurred_square_come_back(turn_deg):
    square = shapely.affinity.rotate(shapely.box(33, 33, 63, 63), turn_deg)
    corners = shapely.get_coordinates(square)[:4]
    assert worst_corner_px(drawn(square), corners) < 0.12
    assert len(inner_outline(drawn(square))[0]) == 4


def test_most_ends_of_bars_stay_square_in_blur_and_noise():
    """Bars as wide as six sigma: 12 of them, each drawn another way round in noise of its own."""
    right = 0
    for seed in range(12):
        bar = shapely.affinity.rotate(shapely.box(20, 44, 76, 52), 20 + 5 * seed)
        region_map = drawn(bar, seed)
        corners = shapely.get_coordinates(bar)[:4]
        vertices, _ = inner_outline(region_map)
        right += len(vertices) == 4 and worst_corner_px(region_map, corners) < 0.6
    assert right >= 7


@pytest.mark.parametrize("rise_px", [0, 9, 18, 27])
def test_a_round_end_stays_round(rise_px):
    rod = shapely.LineString([(24, 40), (72, 40 + rise_px)]).buffer(4.5, quad_segs=64)
    vertices, bulges = inner_outline(drawn(rod))
    assert np.count_nonzero(np.abs(bulges) > 0.2) >= 2
    assert max(rod.exterior.distance(shapely.Point(vertex)) for vertex in vertices) < 0.3
