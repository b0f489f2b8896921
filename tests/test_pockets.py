"""Volumes and slices of pockets, against closed forms and an integration on a raster."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from img2pour.carve.pockets import (
    PocketSettings,
    finished_slices,
    pocket_grounds,
    pocket_volumes,
    rough_volumes,
    shaping,
)
from img2pour.carve.profile import Profile
from img2pour.carve.voids import void_slices
from img2pour.errors import SettingsError

DEPTH = 3.175
PLAIN = PocketSettings(DEPTH, 0.0)


def flat(diameter_mm):
    return Profile(diameter_mm / 2, 0.0, 0.0, diameter_mm / 2)


def vee(angle_deg, tip_mm=0.0, widest_mm=60.0):
    return Profile(tip_mm / 2, 0.0, math.radians(angle_deg) / 2, widest_mm / 2)


QUARTER, EIGHTH = flat(6.35), flat(3.175)
TAPER_SMALL = Profile(0.0, 0.5, math.radians(6.2), 3.0)
TAPER_LARGE = Profile(0.0, 0.79375, math.radians(5.4), 3.0)


def disc(radius):
    return shapely.Point(0, 0).buffer(radius, quad_segs=256)


def square(side):
    return shapely.box(0, 0, side, side)


def stadium(length, width):
    return shapely.LineString([(0, 0), (length, 0)]).buffer(width / 2, quad_segs=128)


def volume(polygon, *bits, settings=PLAIN):
    return pocket_volumes(np.array([polygon], dtype=object), bits, settings)[0]


ELL = shapely.Polygon([(0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)])
TRIANGLE = shapely.Polygon([(0, 0), (30, 0), (0, 40)])
HEXAGON = shapely.Polygon(
    [(20 * math.cos(math.pi * k / 3), 20 * math.sin(math.pi * k / 3)) for k in range(6)]
)

# Closed forms, worked out by hand: frustum, prismoid, corner loss r^2 (cot(a/2) - (pi - a)/2).
CLOSED_FORMS = [
    ("disc", disc(10), [vee(60)], 825.78555, 5e-4),
    ("small disc", disc(1.5), [vee(60)], 6.12157, 5e-4),
    ("square", square(20), [vee(60)], 1051.42282, 5e-4),
    ("small square", square(3), [vee(60)], 7.79423, 5e-4),
    ("groove 60", shapely.box(0, 0, 50, 2), [vee(60)], 85.44784, 5e-4),
    ("groove 90", shapely.box(0, 0, 50, 2), [vee(90)], 49.33333, 5e-4),
    ("wide groove", shapely.box(0, 0, 50, 5), [vee(60)], 487.87205, 5e-4),
    ("stadium", stadium(40, 2), [vee(60)], 71.09583, 5e-4),
    ("ell", ELL, [vee(60)], 1253.28496, 5e-4),
    ("annulus", disc(10) - disc(6), [vee(60)], 345.82393, 5e-4),
    ("thin annulus", disc(10) - disc(8), [vee(60)], 97.94517, 5e-4),
    ("triangle", TRIANGLE, [vee(60)], 1577.13423, 5e-4),
    ("square, tipped", square(20), [vee(60, 0.2)], 1051.39557, 1e-2),
    ("square, flat", square(20), [EIGHTH], 1263.13146, 5e-4),
    ("ell, flat", ELL, [QUARTER], 1553.15728, 5e-4),
    ("triangle, flat", TRIANGLE, [QUARTER], 1813.51386, 5e-4),
    ("hexagon, flat", HEXAGON, [QUARTER], 3289.23457, 5e-4),
    ("disc, taper", disc(10), [TAPER_SMALL], 960.95347, 3e-3),
    ("tiny disc, taper", disc(0.7), [TAPER_SMALL], 2.34201, 3e-3),
    ("stadium, taper", stadium(40, 5), [TAPER_SMALL], 641.47337, 3e-3),
    ("thin stadium, taper", stadium(40, 1.2), [TAPER_SMALL], 56.24633, 3e-3),
    ("annulus, taper", disc(10) - disc(6), [TAPER_LARGE], 579.60126, 3e-3),
    ("square, flat and vee 60", square(20), [QUARTER, vee(60)], 1246.81429, 5e-4),
    ("square, flat and vee 90", square(20), [QUARTER, vee(90)], 1245.00177, 5e-4),
    ("square, small flat and vee", square(20), [EIGHTH, vee(60)], 1263.66751, 5e-4),
]


@pytest.mark.parametrize(
    ("polygon", "bits", "expected_mm3", "allowed"),
    [pytest.param(*case[1:], id=case[0]) for case in CLOSED_FORMS],
)
def test_closed_forms(polygon, bits, expected_mm3, allowed):
    assert volume(polygon, *bits) == pytest.approx(expected_mm3, rel=allowed)


@pytest.mark.parametrize("angle_deg", [15, 45, 75, 120])
@pytest.mark.parametrize("radius", [0.4, 2.0, 12.0])
def test_cones_of_any_angle(angle_deg, radius):
    slope = math.tan(math.radians(angle_deg / 2))
    reach = min(DEPTH, radius / slope)
    floor = radius - reach * slope
    expected = math.pi * reach / 3 * (radius**2 + radius * floor + floor**2)
    assert volume(disc(radius), vee(angle_deg)) == pytest.approx(expected, rel=5e-4)


def test_sloped_outlines_are_wider_at_the_carved_face():
    """A disc of 10 mm at the finished face is wider by surface x tan(30 deg) at the carved one."""
    slope = math.tan(math.radians(30))
    top, floor = 10 + 0.5 * slope, 10 - (DEPTH - 0.5) * slope
    expected = math.pi * DEPTH / 3 * (top**2 + top * floor + floor**2)
    found = volume(disc(10), vee(60), settings=PocketSettings(DEPTH, 0.5))
    assert found == pytest.approx(expected, rel=5e-4)


def test_upright_walls_do_not_change_with_the_surface():
    found = volume(square(20), EIGHTH, settings=PocketSettings(DEPTH, 0.5))
    assert found == pytest.approx(1263.13146, rel=5e-4)


def test_the_finished_face_shows_the_design_after_surfacing():
    shape = np.array([stadium(30, 4)])
    shown = finished_slices(shape, [vee(60)], PocketSettings(DEPTH, 0.5))
    assert shapely.hausdorff_distance(shown[0], shape[0]) < 0.005


def test_sloped_walls_keep_the_flat_bit_inside_the_slope():
    sloped = PocketSettings(DEPTH, 0.0, "sloped")
    assert volume(square(20), QUARTER, vee(60), settings=sloped) == pytest.approx(
        1051.42282, rel=5e-4
    )


@pytest.mark.parametrize("surface", [0.0, 0.5])
def test_two_bits_hold_the_union_of_their_slices(surface):
    """Truth: the slices of both, joined, summed at the middles of 200 layers."""
    cut, bits = PocketSettings(DEPTH, surface), [EIGHTH, vee(60)]
    shape = np.array([ELL, stadium(40, 5), square(20)], dtype=object)
    grounds = pocket_grounds(shape, bits, cut)
    middles = (np.arange(200) + 0.5) * DEPTH / 200
    layers = [shapely.area(void_slices(grounds, float(middle))) for middle in middles]
    expected = np.sum(layers, axis=0) * DEPTH / 200
    assert pocket_volumes(shape, bits, cut) == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize("bits", [[EIGHTH], [vee(60)], [EIGHTH, vee(60)]])
def test_at_an_open_edge_no_corner_and_no_slope_is_lost(bits):
    """A pocket cut in two by the board's edge holds half of what the whole one does."""
    whole = shapely.box(0, -20, 30, 20)
    found = pocket_volumes(np.array([whole]), bits, PLAIN, within=(0, 0, 30, 20))[0]
    assert found == pytest.approx(volume(whole, *bits) / 2, rel=2e-4)
    assert found > volume(shapely.box(0, 0, 30, 20), *bits) + 1.0


def test_a_polygon_that_no_bit_enters_holds_nothing():
    assert volume(square(3), EIGHTH) == 0.0
    assert volume(square(0.1), vee(60, tip_mm=0.2)) == 0.0


def test_no_polygons_hold_nothing():
    assert len(pocket_volumes(np.empty(0, dtype=object), [EIGHTH], PLAIN)) == 0


def test_bits_that_others_contain_do_not_shape_the_pocket():
    shape = shaping([QUARTER, EIGHTH, vee(30), vee(60)], "upright")
    assert shape == (EIGHTH, vee(30))
    assert shaping([QUARTER, vee(30), QUARTER], "sloped") == (vee(30),)
    assert shaping([QUARTER, EIGHTH], "sloped") == (EIGHTH,)


@pytest.mark.parametrize(
    ("values", "words"),
    [((0.5, 0.5), "depth 0.5 mm"), ((3.0, -1.0), "surface -1 mm"), ((math.nan, 0.0), "depth nan")],
)
def test_settings_that_cannot_be_cut_are_refused(values, words):
    with pytest.raises(SettingsError, match=words):
        PocketSettings(*values)


def test_no_bits_are_refused():
    with pytest.raises(SettingsError, match="no bits"):
        volume(square(3))


BLOB = shapely.Polygon(
    [(0, 0), (9, 0.5), (10, 2.2), (6, 2), (5.2, 4), (8, 6), (3, 5.5), (2.4, 3), (0.2, 2.6)],
    [[(1, 1), (1.6, 1), (1.3, 1.8)]],
)
PIXEL = 0.04


def raster_volume(polygon, bits, depth_mm, pixel):
    """Volume of the void on a raster, by brute force: each bit stamped wherever it may stand."""
    x0, y0, x1, y1 = polygon.bounds
    x, y = np.meshgrid(np.arange(x0, x1, pixel), np.arange(y0, y1, pixel))
    points = shapely.points(x, y)
    clearance = shapely.distance(points, polygon.boundary)
    clearance[~shapely.contains_properly(polygon, points)] = -1.0
    return np.max([carved_depths(clearance, b, depth_mm, pixel) for b in bits], 0).sum() * pixel**2


def carved_depths(clearance, profile, depth_mm, pixel):
    plunge = np.where(clearance >= 0, profile.height_at(np.maximum(clearance, 0)), -np.inf)
    reach = int(float(profile.radius_at(depth_mm)) / pixel) + 1
    grid = np.arange(-reach, reach + 1) * pixel
    distance = np.hypot(*np.meshgrid(grid, grid))
    rise = np.minimum(profile.height_at(distance), 1e3)
    stamp = np.where(distance <= profile.tip_radius_mm, 0.0, rise)
    plunge = np.clip(plunge, -1e4, depth_mm)
    stamped = ndimage.grey_dilation(plunge, structure=-stamp, mode="constant", cval=-1e4)
    return np.maximum(stamped, 0.0)


@pytest.mark.parametrize(
    ("bits", "allowed"),
    [
        ([vee(60)], 5e-3),
        ([vee(40, 0.4)], 1.5e-2),
        ([TAPER_SMALL], 1.5e-2),
        ([flat(1.0)], 2e-2),
        ([flat(1.0), vee(60)], 1e-2),
        ([flat(1.0), TAPER_SMALL], 1e-2),
        ([vee(60), TAPER_SMALL], 1e-2),
        ([vee(90, widest_mm=1.6)], 1.5e-2),
    ],
    ids=["vee", "tipped", "taper", "flat", "flat vee", "flat taper", "vee taper", "wide vee"],
)
def test_an_irregular_polygon_against_a_raster(bits, allowed):
    """Truth: no offsets and no slices, only distances of raster points to the outline.

    A stamp on a raster falls short by a share of the pixel; two rasters are extrapolated.
    """
    fine, coarse = (raster_volume(BLOB, bits, DEPTH, pixel) for pixel in (PIXEL, 2 * PIXEL))
    assert volume(BLOB, *bits) == pytest.approx(2 * fine - coarse, rel=allowed)


def test_a_slice_is_the_outline_eroded_by_the_slope():
    grounds = pocket_grounds(np.array([square(20)]), [vee(90)], PLAIN)
    assert void_slices(grounds, 2.0)[0].area == pytest.approx(16.0**2)


stars = st.builds(
    lambda radii: shapely.Polygon(
        [
            (r * math.cos(2 * math.pi * k / len(radii)), r * math.sin(2 * math.pi * k / len(radii)))
            for k, r in enumerate(radii)
        ]
    ),
    st.lists(st.floats(1.0, 8.0), min_size=5, max_size=11),
)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(stars, st.floats(0.5, 4.0), st.floats(1.05, 1.6))
def test_a_larger_flat_bit_never_opens_more(polygon, diameter_mm, factor):
    small, large = volume(polygon, flat(diameter_mm)), volume(polygon, flat(diameter_mm * factor))
    # Arcs are chords: a corner may be off by 0.3 % of the larger bit's own area.
    chord_error = 0.003 * math.pi * (diameter_mm * factor / 2) ** 2 * DEPTH
    assert large <= small + chord_error


@settings(max_examples=20, deadline=None, derandomize=True)
@given(stars, st.sampled_from([vee(30), vee(60, 0.2), TAPER_SMALL, EIGHTH]))
def test_the_pocket_never_holds_more_than_its_prism(polygon, bit):
    assert 0.0 <= volume(polygon, bit) <= polygon.area * DEPTH * (1 + 1e-3)


@pytest.mark.parametrize("bit", [TAPER_SMALL, TAPER_LARGE, Profile(0.0, 4.0, 0.0, 4.0)])
def test_the_estimate_is_within_two_percent_in_total(bit):
    """Truth: `pocket_volumes`, which is held to closed forms and a raster above."""
    polygons = np.array([ELL, TRIANGLE, HEXAGON, disc(8), stadium(40, 5)], dtype=object)
    estimate = rough_volumes(polygons, [bit], PLAIN)
    assert estimate.shape == (5,)
    assert estimate.sum() == pytest.approx(pocket_volumes(polygons, [bit], PLAIN).sum(), rel=0.02)
