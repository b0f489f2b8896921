"""Touch-ups: framing before the colours, corrections on the map, against areas known by drawing."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from img2pour.errors import Img2PourError, SettingsError
from img2pour.job import make_job
from img2pour.pipeline import convert
from img2pour.results import Result
from tests.art.degrade import png
from tests.art.raster import coverage, to_bytes

SIZE = 240
SAND, NAVY, RED = (236, 214, 169), (21, 60, 120), (190, 40, 50)
DISC, DOT = (80.0, 90.0, 40.0), (180.0, 60.0, 15.0)


def picture() -> bytes:
    """Draw a navy disc and a small red one on sand, one px a mm."""
    pixels = np.broadcast_to(np.array(SAND, float), (SIZE, SIZE, 3)).copy()
    for (x, y, radius), colour in ((DISC, NAVY), (DOT, RED)):
        covered = coverage([shapely.Point(x, y).buffer(radius, 256)], SIZE, SIZE)[..., None]
        pixels += covered * (np.array(colour) - pixels)
    return png(to_bytes(pixels))


def converted(*touches: dict[str, object], width: str = "240 mm") -> Result:
    colours = {"palette": "#ecd6a9=sand,#153c78=navy,#be2832=red", "wood": "sand"}
    job = make_job(size={"width": width}, colours=colours, carving={"small": "keep"}, touch=touches)
    return convert(picture(), job)


def areas(result: Result) -> dict[str, float]:
    return {row["name"]: row["area_mm2"] for row in result.report["colours"]}


def test_recolour_at_a_point_and_below_a_size() -> None:
    disc, dot = math.pi * DISC[2] ** 2, math.pi * DOT[2] ** 2
    for touch in (
        {"action": "recolour", "at": ("180,60",), "to": "navy"},
        {"action": "recolour", "colour": "red", "below": "40 mm", "to": "navy"},
        {"action": "merge", "colour": "red", "to": "navy"},
        {"action": "recolour", "inside": ("150,30", "210,90"), "to": "navy"},
    ):
        found = areas(converted(touch))
        assert found["navy"] == pytest.approx(disc + dot, rel=1e-3)
        assert found["red"] == 0


def test_erase_gives_to_the_surroundings() -> None:
    result = converted({"action": "erase", "inside": ("150,30", "210,90")})
    assert areas(result)["sand"] == pytest.approx(SIZE**2 - math.pi * DISC[2] ** 2, rel=1e-3)
    assert result.report["colours"][0]["regions"] == 1


BOAT = (120.0, 120.0, 30.0)


def seaside() -> bytes:
    """Draw sand above navy with a horizon at 120 px, a red boat on it and a red mast up."""
    pixels = np.broadcast_to(np.array(SAND, float), (SIZE, SIZE, 3)).copy()
    x, y, radius = BOAT
    shapes = (
        (shapely.box(0, 120, SIZE, SIZE), NAVY),
        (shapely.Point(x, y).buffer(radius, 256), RED),
        (shapely.box(116, 20, 124, 110), RED),
    )
    for shape, colour in shapes:
        pixels += coverage([shape], SIZE, SIZE)[..., None] * (np.array(colour) - pixels)
    return png(to_bytes(pixels))


def at_sea(touch: dict[str, object]) -> dict[str, float]:
    colours = {"palette": "#ecd6a9=sand,#153c78=navy,#be2832=red", "wood": "sand"}
    job = make_job(
        size={"width": "240 mm"}, colours=colours, carving={"small": "keep"}, touch=(touch,)
    )
    return areas(convert(seaside(), job))


@pytest.mark.parametrize("place", [{"inside": ("60,10", "180,200")}, {"at": ("120,120",)}])
def test_a_horizon_runs_on_through_what_is_erased(place: dict[str, object]) -> None:
    found = at_sea({"action": "erase", **place})
    assert found["red"] == 0
    assert found["navy"] == pytest.approx(SIZE * 120, rel=2e-3)


def test_a_polygon_cuts_what_it_erases() -> None:
    """The mast goes above 60 px, 8 px wide; the sky in the polygon stays."""
    before = at_sea({"action": "recolour", "colour": "red", "to": "red"})
    after = at_sea({"action": "erase", "inside": ("90,5", "150,60")})
    assert before["red"] - after["red"] == pytest.approx(8 * 40, rel=0.02)
    assert after["sand"] - before["sand"] == pytest.approx(8 * 40, rel=0.02)
    assert after["navy"] == pytest.approx(before["navy"], rel=1e-6)


def test_a_polygon_inside_one_region_erases_nothing() -> None:
    result = converted({"action": "erase", "inside": ("70,80", "90,100")})
    assert any("meets no region" in warning for warning in result.warnings)


def test_a_roughly_drawn_polygon_takes_the_whole_region() -> None:
    """Its edge cuts a twentieth of the red disc off."""
    found = areas(converted({"action": "erase", "inside": ("150,30", "192,90")}))
    assert found["red"] == 0
    assert found["sand"] == pytest.approx(SIZE**2 - math.pi * DISC[2] ** 2, rel=1e-3)


def test_touching_and_what_meets_nothing() -> None:
    result = converted({"action": "recolour", "touching": "sand", "to": "red"})
    assert areas(result)["navy"] == 0
    missed = converted({"action": "recolour", "colour": "red", "touching": "navy", "to": "navy"})
    assert any("meets no region" in warning for warning in missed.warnings)


def test_crop_keeps_the_part_and_the_matrix_knows() -> None:
    """Half the width stays: at 240 mm the scale doubles, and the disc's centre follows."""
    result = converted({"action": "crop", "inside": ("20,30", "140,150")})
    assert result.report["scale_mm_per_px"] == pytest.approx(2.0)
    assert areas(result)["navy"] == pytest.approx(math.pi * (2 * DISC[2]) ** 2, rel=1e-3)
    x, y, _ = np.array(result.report["image_to_mm"]) @ (80.0, 90.0, 1.0)
    centre = result.regions["navy"].centroid
    assert (x, y) == pytest.approx((centre.x, centre.y), abs=0.05)


@pytest.mark.parametrize(
    "touch",
    [
        {"action": "mirror", "across": "left-right"},
        {"action": "mirror", "across": "up-down"},
        {"action": "turn", "by": 90},
        {"action": "turn", "by": 180},
        {"action": "turn", "by": 270},
    ],
)
def test_matrix_follows_mirror_and_turn(touch: dict[str, object]) -> None:
    result = converted(touch)
    for name, (x, y, radius) in (("navy", DISC), ("red", DOT)):
        at = (np.array(result.report["image_to_mm"]) @ (x, y, 1.0))[:2]
        shape = result.regions[name]
        assert at == pytest.approx((shape.centroid.x, shape.centroid.y), abs=0.05)
        assert shape.area == pytest.approx(math.pi * radius**2, rel=1e-3)


def test_turning_by_90_is_clockwise() -> None:
    """The upper left corner of the picture comes to lie at the upper right."""
    report = converted({"action": "turn", "by": 90}).report
    x, y, _ = np.array(report["image_to_mm"]) @ (0.0, 0.0, 1.0)
    assert (x, y) == pytest.approx((240, 240))


BAD = [
    ({"action": "merge", "colour": "red"}, "merge needs to"),
    ({"action": "recolour", "to": "navy"}, "says nothing of which regions"),
    ({"action": "crop"}, "crop needs inside"),
    ({"action": "turn"}, "turn needs by"),
    ({"action": "erase", "inside": ("1,1",)}, "one point"),
    ({"action": "recolour", "at": ("x,1",), "to": "navy"}, "is not a point"),
]


@pytest.mark.parametrize(("touch", "words"), BAD)
def test_bad_touch_ups_are_named(touch: dict[str, object], words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        make_job(touch=(touch,))


def test_unknown_colour_and_empty_crop() -> None:
    with pytest.raises(Img2PourError, match="speaks of the colour"):
        converted({"action": "merge", "colour": "green", "to": "navy"})
    with pytest.raises(Img2PourError, match="outside the picture"):
        converted({"action": "crop", "inside": ("900,900", "990,990")})
