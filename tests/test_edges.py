"""Truth: straight edges drawn at known places by their exact coverage of each pixel."""

import numpy as np
import pytest

from img2pour.plane.edges import (
    Blended,
    EdgePoints,
    cracks_across_main_axis,
    edge_points,
    linearise,
)
from img2pour.plane.noise import arc_noise_px, blended_in_linear_light, left_over_px
from img2pour.plane.walk import Walk, walk

DARK, LIGHT = np.array([20.0, 40.0, 80.0]), np.array([240.0, 220.0, 200.0])
PALETTE = np.stack([DARK, LIGHT])


def half_plane(size: int, slope: float, offset: float) -> np.ndarray:
    """Return the share of each pixel with x < offset + slope y, by fine sampling along y."""
    y = (np.arange(32 * size) + 0.5) / 32
    edge = offset + slope * y
    share = np.clip(edge[:, None] - np.arange(size), 0, 1)
    return share.reshape(size, 32, size).mean(axis=1)


def blended(share: np.ndarray, *, linear: bool) -> np.ndarray:
    """Return LIGHT where the share is 0 and DARK where it is 1, 8 bits."""
    if not linear:
        return np.round(LIGHT + share[..., None] * (DARK - LIGHT)).astype(np.uint8)
    light, dark = linearise(LIGHT), linearise(DARK)
    mixed = (light + share[..., None] * (dark - light)) / 255
    # sRGB transfer function, IEC 61966-2-1.
    coded = np.where(mixed <= 0.0031308, 12.92 * mixed, 1.055 * mixed ** (1 / 2.4) - 0.055)
    return np.round(255 * coded).astype(np.uint8)


def read(share: np.ndarray, *, drawn_linear: bool, read_linear: bool) -> tuple[EdgePoints, Walk]:
    labels = (share < 0.5).astype(np.uint8)
    walked = walk(labels)
    picture = Blended(blended(share, linear=drawn_linear), labels, PALETTE, read_linear)
    return edge_points(picture, walked), walked


@pytest.mark.parametrize("linear", [False, True])
@pytest.mark.parametrize("offset", [9.5, 10.0, 10.3, 10.77])
def test_an_upright_edge_is_read_to_a_hundredth(offset: float, linear: bool):
    found, _ = read(half_plane(24, 0, offset), drawn_linear=linear, read_linear=linear)
    # 8 bits over a contrast of 120 to 220 levels: rounding alone makes about 0.003.
    assert np.abs(found.points[:, 0] - offset).max() < 0.01
    assert (found.points[:, 1] == np.arange(24) + 0.5).all()


@pytest.mark.parametrize("slope", [0.1, 0.37, -0.62, 1.0])
def test_a_slanted_edge_is_read_on_its_line(slope: float):
    offset = 20.4 - slope * 20
    found, _ = read(half_plane(40, slope, offset), drawn_linear=False, read_linear=False)
    x, y = found.points[8:-8].T
    off = (x - offset - slope * y) / np.hypot(1, slope)
    assert np.abs(off).max() < 0.02
    assert abs(off.mean()) < 0.003


@pytest.mark.parametrize("width", [2.5, 3.4, 5.0])
def test_a_thin_stroke_keeps_its_width(width: float):
    share = half_plane(30, 0, 12.3 + width) - half_plane(30, 0, 12.3)
    found, _ = read(share, drawn_linear=False, read_linear=False)
    sides = found.points[:, 0].reshape(2, 30).mean(axis=1)
    assert abs(sides[1] - sides[0]) == pytest.approx(width, abs=0.01)


def test_no_edge_is_read_against_the_outside():
    labels = np.zeros((12, 12), np.uint8)
    labels[:, 6:] = 255
    rgb = np.full((12, 12, 3), 90, np.uint8)
    rgb[:, 6] = 200
    found = edge_points(Blended(rgb, labels, PALETTE), walk(labels))
    assert (found.points[:, 0] == 6).all()


def test_the_light_is_told_from_the_scatter():
    share = half_plane(60, 0.3, 20)
    for linear in (False, True):
        _, walked = read(share, drawn_linear=linear, read_linear=linear)
        labels = (share < 0.5).astype(np.uint8)
        picture = Blended(blended(share, linear=linear), labels, PALETTE)
        kept = cracks_across_main_axis(walked)
        assert blended_in_linear_light(picture, walked, kept) is linear


def test_what_is_left_of_a_parabola_is_its_noise():
    random = np.random.default_rng(4)
    u = np.arange(9.0) + random.uniform(-0.2, 0.2, (4000, 9))
    u[:, [0, 8]] = 0, 8
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]])
    parabola = np.stack([u, 0.02 * (u - 4) ** 2], axis=2) @ turn
    assert left_over_px(parabola).max() < 1e-9
    noisy = parabola + random.normal(0, 0.05, parabola.shape)
    assert np.sqrt((left_over_px(noisy) ** 2).mean()) == pytest.approx(0.05, rel=0.02)


def test_corners_are_no_noise():
    side = np.arange(13.0)
    ends = np.full(13, 13.0)
    square = np.concatenate(
        [
            np.stack([side, 0 * side], axis=1),
            np.stack([ends, side], axis=1),
            np.stack([13 - side, ends], axis=1),
            np.stack([0 * side, 13 - side], axis=1),
        ]
    )
    square += np.random.default_rng(6).normal(0, 0.02, square.shape)
    (noise,) = arc_noise_px(EdgePoints(square, np.array([0, 52]), np.arange(52)))
    assert noise == pytest.approx(0.02, rel=0.5)


def test_every_arc_has_its_own_noise():
    random = np.random.default_rng(5)
    x = np.arange(400.0)
    quiet = np.stack([x, random.normal(0, 0.01, 400)], axis=1)
    loud = np.stack([x, 50 + random.normal(0, 0.2, 400)], axis=1)
    edges = EdgePoints(np.concatenate([quiet, loud]), np.array([0, 400, 800]), np.arange(800))
    noise = arc_noise_px(edges)
    assert noise == pytest.approx([0.01, 0.2], rel=0.15, abs=0.006)
