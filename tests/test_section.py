"""Cross-sections: true size, true proportions, hostile names."""

from __future__ import annotations

from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py
from PIL import Image

from img2pour.errors import GeometryError
from img2pour.write.section import MARGIN_MM, Fill, Section, section_svg

SVG = "{http://www.w3.org/2000/svg}"

# A vee pocket 10 mm wide and 5 deep, poured full, in a board of 20 x 60 mm.
FLOOR = [(0.0, 0.0), (25.0, 0.0), (30.0, 5.0), (35.0, 0.0), (60.0, 0.0)]
RESIN = Fill("navy", "#0000ff", [(25.0, 20.0), (30.0, 15.0), (35.0, 20.0)])
SECTION = Section("cut A", 60.0, 20.0, FLOOR, [RESIN])


def rendered(svg: str, px_per_mm: int = 10) -> np.ndarray:
    png = resvg_py.svg_to_bytes(
        svg_string=svg, dpi=25.4 * px_per_mm, background="white", skip_system_fonts=True
    )
    return np.asarray(Image.open(BytesIO(bytes(png))).convert("RGB")).astype(int)


@pytest.mark.parametrize("times", [1.0, 3.0])
def test_areas_and_places_by_an_independent_renderer(times):
    picture = rendered(section_svg(SECTION, height_times=times))
    blue = (picture[..., 2] > 200) & (picture[..., 0] < 60)
    # Triangle of 10 x 5 mm, less the line drawn on its edge.
    assert blue.sum() / 100 == pytest.approx(25 * times, rel=0.08)
    rows, columns = np.nonzero(blue)
    assert columns.mean() / 10 == pytest.approx(MARGIN_MM + 30, abs=0.1)
    assert rows.min() / 10 == pytest.approx(MARGIN_MM, abs=0.15)
    wood = np.abs(picture - (0xE0, 0xC5, 0x9A)).max(axis=2) < 8
    assert wood.sum() / 100 == pytest.approx((60 * 20 - 25) * times, rel=0.02)


def test_size_is_true():
    root = ElementTree.fromstring(section_svg(SECTION))
    assert root.get("width") == f"{60 + 2 * MARGIN_MM:.2f}mm"
    assert root.get("viewBox").split()[2] == f"{60 + 2 * MARGIN_MM:.2f}"


def test_stretched_heights_are_told():
    assert "to scale" in section_svg(SECTION)
    assert "heights 3 times" in section_svg(SECTION, height_times=3)


def test_hostile_titles():
    section = Section("<b>&\n", 60.0, 20.0, FLOOR, [Fill('"><script>', "#ff0000", RESIN.outline)])
    root = ElementTree.fromstring(section_svg(section))
    assert {e.tag for e in root.iter()} == {
        f"{SVG}{tag}" for tag in ("svg", "title", "polygon", "polyline", "text")
    }


def test_points_that_are_no_numbers_are_refused():
    with pytest.raises(GeometryError, match="not a number"):
        section_svg(Section("a", 60.0, 20.0, [(0.0, float("nan"))]))
