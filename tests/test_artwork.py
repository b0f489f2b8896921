"""From photos, drawings and portraits to regions, through the whole way."""

from __future__ import annotations

import io
import math
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from img2pour.errors import Img2PourError
from img2pour.job import make_job
from img2pour.pipeline import convert
from img2pour.results import Result
from tests.art.degrade import png
from tests.art.photo import corners_px

SAMPLES = Path(__file__).parent.parent / "sample_images"


def ring_drawing() -> bytes:
    """Two circles of radius 100 and 40 px drawn 5 px wide on paper, 400 x 300 px."""
    pixels = np.full((300, 400, 3), 250, np.uint8)
    for radius in (100, 40):
        cv2.circle(pixels, (200, 150), radius, (60, 60, 60), 5, cv2.LINE_AA)
    return png(pixels)


def drawn(**sections: object) -> Result:
    """One mm a pixel."""
    return convert(
        ring_drawing(),
        make_job(
            size={"width": "400 mm"},
            colours={"wood": "none"},
            carving={"small": "keep"},
            **sections,
        ),
    )


def area_at(result: Result, radius: float) -> float:
    """Return the area of the colour shown at a distance to the right of the centre."""
    import shapely

    point = shapely.Point(200.5 + radius, 150.5)
    return next(shape.area for shape in result.regions.values() if shape.covers(point))


def test_cells_meet_in_the_middle_of_the_lines() -> None:
    """Ring between the circles' middles: pi (100^2 - 40^2); cv2 centres pixels on whole numbers."""
    result = drawn(drawing={"read": "on"})
    assert area_at(result, 70) == pytest.approx(math.pi * (100**2 - 40**2), rel=0.02)
    assert len(result.report["cells"]) == 3
    assert "cells.png" in result.files()


def test_what_has_no_cells_goes_on_as_flat_colours() -> None:
    """An open curve and a flat disc: clear words, and the picture as it would be without."""
    curve = np.full((300, 400, 3), 250, np.uint8)
    cv2.ellipse(curve, (200, 150), (120, 90), 0, 0, 250, (40, 40, 44), 6, cv2.LINE_AA)
    flat = np.full((300, 400, 3), 250, np.uint8)
    cv2.circle(flat, (120, 150), 80, (180, 60, 40), -1, cv2.LINE_AA)
    cv2.rectangle(flat, (240, 60), (360, 240), (40, 80, 150), -1)
    flat[20:24, 20:380] = (40, 40, 40)
    for pixels, colours in ((curve, 2), (flat, 4)):
        results = [
            convert(
                png(pixels),
                make_job(
                    size={"width": "400 mm"}, drawing={"read": wish}, colours={"wood": "none"}
                ),
            )
            for wish in ("on", "off")
        ]
        assert any("there are no cells" in warning for warning in results[0].warnings)
        assert len(results[0].layers) == colours
        areas = [[row["area_mm2"] for row in r.report["colours"]] for r in results]
        assert areas[0] == pytest.approx(areas[1], abs=6)


def test_cells_take_the_colours_of_the_job() -> None:
    result = drawn(
        drawing={"read": "on"},
        cell=(
            {"at": "270,150", "colour": "#153c78=navy"},
            {"at": "200,150", "colour": "#be2832=red"},
        ),
    )
    assert result.regions["navy"].area == pytest.approx(math.pi * (100**2 - 40**2), rel=0.02)
    assert result.regions["red"].area == pytest.approx(math.pi * 40**2, rel=0.03)


def test_kept_lines_have_the_width_that_is_asked_for() -> None:
    """Two rings of width w: 2 pi (100 + 40) w."""
    result = drawn(drawing={"read": "on", "lines": "keep", "line_width": "8 mm"})
    assert result.regions["line"].area == pytest.approx(2 * math.pi * 140 * 8, rel=0.05)


def test_numbered_cells_picture_is_a_picture() -> None:
    data = drawn(drawing={"read": "on"}).files()["cells.png"]
    with Image.open(io.BytesIO(data)) as picture:
        assert picture.size == (1000, 750)


def test_a_drawing_is_asked_for_where_there_is_none() -> None:
    with pytest.raises(Img2PourError, match="no drawn line"):
        convert(
            png(np.full((60, 80, 3), 250, np.uint8)),
            make_job(size={"width": "80 mm"}, drawing={"read": "on"}),
        )


def test_tones_split_a_ramp_by_lightness() -> None:
    """A grey ramp in four tones: four stripes, darkest first, that fill the picture."""
    ramp = np.tile(np.linspace(10, 245, 400).astype(np.uint8), (100, 1))
    job = make_job(
        size={"width": "400 mm"}, colours={"tones": 4, "wood": "none"}, photo={"light": "off"}
    )
    result = convert(png(np.stack([ramp] * 3, axis=2)), job)
    rows = result.report["colours"]
    assert [row["regions"] for row in rows] == [1, 1, 1, 1]
    left = [result.regions[row["name"]].bounds[0] for row in rows]
    assert left == sorted(left)
    assert sum(row["area_mm2"] for row in rows) == pytest.approx(400 * 100)


def test_photo_of_a_sheet_gets_its_size_and_its_corners() -> None:
    """The koi photo: an A4 sheet (ISO 216: 297 x 210 mm) whose true corners are known."""
    job = make_job(photo={"sheet": "a4"})
    report = convert(SAMPLES / "koi-photo.jpg", job).report
    assert report["board"]["width_mm"] == pytest.approx(297, abs=0.01)
    assert report["board"]["height_mm"] == pytest.approx(210, abs=0.2)
    assert len(report["colours"]) == 6
    matrix = np.array(report["image_to_mm"])
    for corner, truth in zip(corners_px(), ((0, 210), (297, 210), (297, 0), (0, 0)), strict=True):
        x, y, w = matrix @ (*corner, 1.0)
        assert (x / w, y / w) == pytest.approx(truth, abs=1.0)


def test_two_points_give_the_scale() -> None:
    """The photo's sheet is 297 mm long: measured along its upper edge, the board is as wide."""
    (x0, y0), (x1, y1) = corners_px()[:2]
    measure = f"{x0:.2f},{y0:.2f} {x1:.2f},{y1:.2f} = 297 mm"
    report = convert(SAMPLES / "koi-photo.jpg", make_job(photo={"measure": measure})).report
    assert report["board"]["width_mm"] == pytest.approx(297, abs=1.0)


def test_clean_art_is_left_alone() -> None:
    """Nothing is straightened or evened in digital artwork: the matrix only scales."""
    report = convert(SAMPLES / "kingfisher.png", make_job(size={"width": "12 in"})).report
    assert report["lens"] is None
    assert report["image_to_mm"][0] == pytest.approx([304.8 / 1600, 0, 0])
    assert not any("straightened" in words or "evened" in words for words in report["warnings"])
