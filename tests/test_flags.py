"""Truth: national flags whose laws fix their geometry, and closed forms, drawn and converted."""

from math import pi, sin

import numpy as np
import pytest
import shapely

from img2pour.job.model import Job
from img2pour.pipeline import convert
from img2pour.results import Result
from tests.art import shapes
from tests.art.degrade import png, scan
from tests.art.flags import FLAGS, GREECE, Flag
from tests.art.known import KnownArt, Rgb, compose
from tests.art.scene import rgb

FLAG_PX = 1000.0
NAMES = [flag.country for flag in FLAGS]
PHOTO = {"straighten": "off"}  # a white flag on grey is a sheet on a table to the eye
JOB = Job.model_validate(
    {
        "size": {"width": "500 mm"},
        "photo": PHOTO,
        "colours": {"wood": "none"},
        "carving": {"small": "keep"},
    }
)


def areas(art: KnownArt) -> dict[Rgb, float]:
    found = dict.fromkeys(art.palette, 0.0)
    for colour, shape in art.regions:
        found[art.palette[colour]] += shape.area
    return found


def converted(art: KnownArt, data: bytes) -> dict[Rgb, tuple[float, int]]:
    """Return area in px2 and regions of each true colour, as the report gives them."""
    result: Result = convert(data, JOB)
    scale = 500.0 / art.width
    rows = result.report["colours"]
    assert len(rows) == len(art.palette)
    found = {}
    for colour in art.palette:
        row = min(rows, key=lambda row: np.abs(np.subtract(rgb(row["hex"]), colour)).max())
        found[colour] = row["area_mm2"] / scale**2, row["regions"]
    return found


@pytest.mark.parametrize("flag", FLAGS, ids=NAMES)
def test_the_drawing_has_the_shares_of_the_law(flag: Flag):
    assert sum(flag.shares.values()) == pytest.approx(1)
    art = flag.draw(FLAG_PX)
    flag_area = FLAG_PX**2 * flag.height / flag.length
    for colour, share in flag.shares.items():
        assert areas(art)[colour] / flag_area == pytest.approx(share, abs=2e-6)


@pytest.mark.parametrize("flag", FLAGS, ids=NAMES)
def test_the_drawing_has_the_regions_of_the_law(flag: Flag):
    art = flag.draw(300, turn_deg=11)
    colours = [art.palette[colour] for colour, _ in art.regions]
    assert {colour: colours.count(colour) for colour in flag.regions} == flag.regions


def test_the_picture_holds_the_same_areas():
    """Exact antialiasing keeps areas: the mean of a channel gives them back."""
    art = GREECE.draw(FLAG_PX)
    picture = art.render()
    mean = picture.reshape(-1, 3).mean(axis=0)
    expected = sum(np.array(colour) * area for colour, area in areas(art).items())
    assert np.allclose(mean, expected / (art.width * art.height), atol=1e-9)


@pytest.mark.parametrize("turn_deg", [0.0, 9.0])
@pytest.mark.parametrize("flag", FLAGS, ids=NAMES)
def test_a_converted_flag_has_the_areas_of_its_law(flag: Flag, turn_deg: float):
    art = flag.draw(FLAG_PX, turn_deg=turn_deg)
    flag_area = FLAG_PX**2 * flag.height / flag.length
    found = converted(art, png(art.picture()))
    for colour, share in flag.shares.items():
        area, regions = found[colour]
        assert area / flag_area == pytest.approx(share, rel=1e-3)
        if flag is not GREECE:
            assert regions == flag.regions[colour]


def test_fields_that_touch_in_a_corner_are_joined_in_one_colour_only():
    """Greece: at the two arm ends of the cross either the white or the blue fields are joined."""
    found = converted(GREECE.draw(FLAG_PX), png(GREECE.draw(FLAG_PX).picture()))
    white, blue = (regions for _, regions in list(found.values())[:0:-1])
    assert (white + blue) == sum(GREECE.regions.values()) - 2


@pytest.mark.parametrize("flag", [FLAGS[0], FLAGS[4]], ids=[NAMES[0], NAMES[4]])
def test_a_scanned_flag_has_the_areas_of_its_law(flag: Flag):
    art = flag.draw(FLAG_PX, turn_deg=2)
    flag_area = FLAG_PX**2 * flag.height / flag.length
    found = converted(art, scan(art.render(), 3))
    for colour, share in flag.shares.items():
        assert found[colour][0] / flag_area == pytest.approx(share, rel=1e-3)


CLOSED_FORMS = {
    # Pentagram of circumradius R: 5 R^2 sin(36 deg) / phi^2 = 1.1225699 R^2.
    "star": (
        shapes.star((410.3, 390.7), 330, 8),
        5 * 330**2 * sin(pi / 5) / ((1 + 5**0.5) / 2) ** 2,
    ),
    "ellipse": (shapes.ellipse((410.3, 390.7), 340, 190, 25), pi * 340 * 190),
    "annulus": (shapes.ring((410.3, 390.7), 330, 211.5), pi * (330**2 - 211.5**2)),
}


@pytest.mark.parametrize("name", CLOSED_FORMS)
def test_a_converted_shape_has_its_closed_form_area(name: str):
    shape, area = CLOSED_FORMS[name]
    art = compose(name, (820, 790), ((245, 240, 230), (30, 70, 120)), [[(1, shape)]], [])
    found = converted(art, png(art.picture()))
    assert found[(30, 70, 120)] == (pytest.approx(area, rel=2e-4), 1)
    assert found[(245, 240, 230)][0] == pytest.approx(820 * 790 - area, rel=2e-4)


def test_regions_are_shapely_geometry_with_the_areas_of_the_report():
    shape, _ = CLOSED_FORMS["annulus"]
    art = compose("annulus", (820, 790), ((245, 240, 230), (30, 70, 120)), [[(1, shape)]], [])
    result = convert(png(art.picture()), JOB)
    for row in result.report["colours"]:
        region = result.regions[row["name"]]
        assert isinstance(region, shapely.MultiPolygon)
        assert region.area == pytest.approx(row["area_mm2"], rel=1e-4)
