"""Truth: the test art's own geometry, rendering and degradations against closed forms."""

from math import cos, pi, radians, sin, sqrt

import numpy as np
import pytest
import shapely
from PIL import Image

from tests.art import bench, degrade, others, shapes
from tests.art.known import KnownArt, compose
from tests.art.raster import coverage, paint

PHI = (1 + sqrt(5)) / 2
WHITE_ON_BLACK = ((0, 0, 0), (255, 255, 255))

CLOSED_FORMS = {
    "disc": (shapes.disc((61.3, 60.8), 41.7), pi * 41.7**2),
    "ring": (shapes.ring((61.3, 60.8), 41.7, 20.2), pi * (41.7**2 - 20.2**2)),
    "sector": (shapes.sector((61.3, 60.8), 41.7, 15, 87), pi * 41.7**2 * 72 / 360),
    "ellipse": (shapes.ellipse((61.3, 60.8), 50, 21.5, 33), pi * 50 * 21.5),
    "square": (shapes.rectangle((61.3, 60.8), 55.5, 55.5, 23), 55.5**2),
    "hexagon": (shapes.regular((61.3, 60.8), 40, 6, 11), 3 * sqrt(3) / 2 * 40**2),
    # Pentagram of circumradius R: area 5 R^2 sin(36 deg) / phi^2 = 1.1225699 R^2.
    "star": (shapes.star((61.3, 60.8), 45, 7), 5 * 45**2 * sin(radians(36)) / PHI**2),
    # r = R (1 + sum of s cos(n t)): pi R^2 (1 + sum of s^2 / 2).
    "blob": (
        shapes.blob((61.3, 60.8), 40, [(2, 0.1, 20), (3, 0.08, 50)]),
        pi * 40**2 * (1 + 0.1**2 / 2 + 0.08**2 / 2),
    ),
    "stroke": (shapes.stroke([(20.2, 30.1), (100.7, 88.8)], 5), 5 * np.hypot(80.5, 58.7)),
    "round stroke": (
        shapes.stroke([(20.2, 30.1), (100.7, 88.8)], 7, cap="round"),
        7 * np.hypot(80.5, 58.7) + pi * 3.5**2,
    ),
}


@pytest.mark.parametrize("name", CLOSED_FORMS)
def test_shapes_have_their_closed_form_area(name):
    shape, area = CLOSED_FORMS[name]
    # A chord of sagitta s leaves out at most 2/3 s of its length.
    assert abs(shape.area - area) <= 2 / 3 * shapes.SAGITTA_PX * shape.length


def test_star_constants():
    """Per R: area 1.1225699, perimeter 7.2654253, inner radius 0.381966."""
    star = shapes.star((0, 0), 1)
    assert star.area == pytest.approx(1.1225699, abs=1e-7)
    assert star.length == pytest.approx(7.2654253, abs=1e-7)
    assert np.hypot(*np.array(star.exterior.coords).T).min() == pytest.approx(0.381966, abs=1e-6)


@pytest.mark.parametrize("name", CLOSED_FORMS)
def test_coverage_adds_up_to_the_area_and_the_centroid(name):
    shape, _ = CLOSED_FORMS[name]
    share = coverage([shape], 130, 120)
    assert share.sum() == pytest.approx(shape.area, rel=1e-11)
    # Whole rows and columns hold the exact area of the strip.
    strip = shapely.intersection(shape, shapely.box(0, 40, 130, 41)).area
    assert share[40].sum() == pytest.approx(strip, rel=1e-9)


def test_coverage_of_pixels_by_hand():
    triangle = shapely.Polygon([(0, 0), (2, 0), (0, 2)])
    assert np.allclose(coverage([triangle], 3, 2), [[1, 0.5, 0], [0.5, 0, 0]])
    outside = shapely.box(-5, 0.5, 1.5, 9)
    assert np.allclose(coverage([outside], 3, 2), [[0.5, 0.25, 0], [1, 0.5, 0]])


def test_coverage_agrees_with_supersampling():
    shape = shapes.star((31.3, 30.2), 25, 7)
    at = (np.arange(60 * 16) + 0.5) / 16
    x, y = np.meshgrid(at, at)
    inside = shapely.contains_xy(shape, x, y)
    sampled = inside.reshape(60, 16, 60, 16).mean(axis=(1, 3))
    assert np.abs(coverage([shape], 60, 60) - sampled).max() < 1 / 16


def test_mixing_by_light():
    """Half black, half white is sRGB 127.5 by value and 188 by light (IEC 61966-2-1)."""
    half = [([shapely.box(0, 0, 0.5, 1)], (255, 255, 255))]
    assert paint(half, (0, 0, 0), 1, 1)[0, 0, 0] == pytest.approx(127.5)
    assert round(paint(half, (0, 0, 0), 1, 1, linear=True)[0, 0, 0]) == 188


def disc_art() -> KnownArt:
    return compose("disc", (120, 120), WHITE_ON_BLACK, [[(1, shapes.disc((60.3, 61.7), 40.2))]], [])


@pytest.mark.parametrize(("renderer", "allowed_px"), [("resvg", 0.01), ("Pillow at 4x", 0.01)])
def test_other_renderers_draw_the_closed_form(renderer, allowed_px):
    share = others.RENDERERS[renderer](disc_art())[:, :, 0] / 255
    assert sqrt(share.sum() / pi) == pytest.approx(40.2, abs=allowed_px)
    at = np.arange(120) + 0.5
    assert (share * at).sum() / share.sum() == pytest.approx(60.3, abs=allowed_px)
    assert (share.T * at).sum() / share.sum() == pytest.approx(61.7, abs=allowed_px)


def test_opencv_draws_within_a_tenth_of_a_pixel():
    share = others.by_opencv(disc_art())[:, :, 0] / 255
    assert sqrt(share.sum() / pi) == pytest.approx(40.2, abs=0.1)


def test_the_exact_renderer_agrees_with_resvg():
    """Where no two shapes abut, resvg differs only by its sampling, up to an eighth at tips."""
    art = bench.assorted(612, 408, 1)
    alone = compose(
        "alone", (612, 408), art.palette, [[(p.colour, p.shape)] for p in art.primitives], []
    )
    difference = np.abs(alone.picture().astype(float) - others.by_resvg(alone))
    assert difference.max() <= 255 / 8
    assert difference.mean() < 0.1


@pytest.mark.parametrize("seed", [1, 2])
def test_regions_tile_the_picture(seed):
    art = bench.assorted(1224, 816, seed)
    shapes_only = [shape for _, shape in art.regions]
    assert sum(s.area for s in shapes_only) == pytest.approx(1224 * 816, rel=1e-12)
    assert shapely.union_all(shapes_only).area == pytest.approx(1224 * 816, rel=1e-12)
    assert {colour for colour, _ in art.regions} == set(range(6))


def test_dense_piece_has_over_a_thousand_regions():
    art = bench.dense(4242, 2828)
    assert len(art.regions) > 1000
    assert sum(s.area for _, s in art.regions) == pytest.approx(4242 * 2828, rel=1e-12)


def test_pieces_are_the_same_for_the_same_seed_only():
    first, again, other = (
        bench.assorted(306, 204),
        bench.assorted(306, 204),
        bench.assorted(306, 204, 2),
    )
    assert np.array_equal(first.picture(), again.picture())
    assert not np.array_equal(first.picture(), other.picture())


def test_degradations():
    """Blur keeps the mean and widens a step by sigma; noise has its sigma."""
    step = np.zeros((64, 64, 3))
    step[:, 32:] = 200
    slope = np.diff(degrade.blurred(step, 1.0)[32, :, 0]) / 200
    at = np.arange(63) - 31
    assert slope.sum() == pytest.approx(1)
    assert sqrt((slope * at**2).sum()) == pytest.approx(1.0, abs=0.02)
    flat = np.full((200, 200, 3), 128.0)
    assert degrade.noised(flat, 4, 1).std() == pytest.approx(4, rel=0.02)
    assert degrade.paper(300, 300, 1).std() == pytest.approx(0.011, abs=0.004)
    assert degrade.scan(flat, 1) == degrade.scan(flat, 1)
    assert degrade.scan(flat, 1) != degrade.scan(flat, 2)


def test_files_open_as_what_they_are(tmp_path):
    picture = disc_art().render()
    for name, state, kind in (("a", "clean", "PNG"), ("b", "scan", "JPEG"), ("c", "noisy", "JPEG")):
        (tmp_path / name).write_bytes(degrade.STATES[state](picture, 1))
        with Image.open(tmp_path / name) as opened:
            assert (opened.format, opened.size) == (kind, (120, 120))


def test_rotated_shapes_turn_from_x_to_y():
    tip = shapes.star((0, 0), 1, 90).exterior.coords[0]
    assert np.allclose(tip, (cos(0), sin(0)))
