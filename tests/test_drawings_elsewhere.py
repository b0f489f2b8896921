"""Drawings written by other libraries, and our reading against an independent renderer."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import resvg_py
import shapely
from fontTools.ttLib import TTFont
from PIL import Image, ImageFont
from reportlab.graphics import renderSVG, shapes
from reportlab.lib.colors import HexColor

from img2pour.compose.drawing import DrawnFills, drawn_fills
from img2pour.compose.fonts import Font, open_font
from img2pour.compose.svg_drawing import read_svg
from img2pour.plane.shapes import colour_shapes
from tests.test_compose_drawings import drawn

NAVY = HexColor("#0b1f3a")


def read(data: str, font: Font | None = None) -> DrawnFills:
    drawing = read_svg(data.encode(), "art.svg", font)
    return drawn_fills(drawing, 0.25)


def round_box(x: float, y: float, w: float, h: float, r: float) -> shapely.Geometry:
    return shapely.buffer(shapely.box(x + r, y + r, x + w - r, y + h - r), r, quad_segs=256)


def curve() -> shapely.Geometry:
    t = np.linspace(0, 1, 2001)[:, None]
    p = np.array([[150, 20], [150, 80], [190, 80], [190, 20]])
    return shapely.Polygon(
        (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    )


def wedge() -> shapely.Geometry:
    angles = np.radians(np.linspace(0, 120, 2001))
    arc = np.stack([170 + 15 * np.cos(angles), 80 + 15 * np.sin(angles)], axis=1)
    return shapely.Polygon(np.concatenate([[[170, 80]], arc]))


def path() -> shapes.Path:
    made = shapes.Path(fillColor=NAVY)
    made.moveTo(150, 20)
    made.curveTo(150, 80, 190, 80, 190, 20)
    made.closePath()
    return made


DISC = shapely.buffer(shapely.Point(0, 0), 1, quad_segs=512)


@pytest.mark.parametrize(
    ("shape", "exact"),
    [
        (shapes.Rect(10, 10, 40, 20, rx=5, ry=5, fillColor=NAVY), round_box(10, 10, 40, 20, 5)),
        (shapes.Circle(100, 50, 30, fillColor=NAVY),
         shapely.transform(DISC, lambda p: p * 30 + [100, 50])),
        (shapes.Ellipse(60, 70, 20, 10, fillColor=NAVY),
         shapely.transform(DISC, lambda p: p * [20, 10] + [60, 70])),
        (shapes.Polygon([10, 60, 40, 60, 25, 90], fillColor=NAVY),
         shapely.Polygon([(10, 60), (40, 60), (25, 90)])),
        (shapes.Wedge(170, 80, 15, 0, 120, fillColor=NAVY), wedge()),
        (path(), curve()),
    ],
)  # fmt: skip
def test_svg_written_by_reportlab(shape: shapes.Shape, exact: shapely.Geometry) -> None:
    page = shapes.Drawing(200, 100)
    page.add(shape)
    fills = read(renderSVG.drawToString(page))
    assert len(fills.colours()) == 1  # in whole percent, as it writes them
    found = colour_shapes(drawn(fills), 1, 1e-4)[0]
    assert found.area == pytest.approx(exact.area, rel=5e-4)
    # Curves that are no circles become arcs within 0.005 mm; a unit is drawn as 0.25 mm here.
    assert shapely.hausdorff_distance(found.boundary, exact.boundary) < 0.025


SCENE = """
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"
  width="400" height="300" viewBox="0 0 400 300"><rect width="400" height="300" fill="#ffffff"/>
<defs><g id="leaf"><path d="M0 0A60 60 0 0 1 60 60A60 60 0 0 1 0 0Z" fill="#3a7d44"/></g>
<symbol id="box"><rect width="20" height="10" fill="#c80000"/></symbol></defs>
<path fill="#0b1f3a" fill-rule="evenodd" d="M200 20C300 20 380 90 380 150S300 280 200 280 20 210 20
  150 100 20 200 20ZM200 60a90 90 0 1 0 .01 0z"/>
<use xlink:href="#leaf" x="170" y="120"/>
<use href="#leaf" transform="translate(230 120) scale(-1 1)"/>
<use href="#box" x="20" y="20" transform="rotate(20) skewX(15)"/>
<g style="fill:#ffcc00" transform="matrix(1 .2 -.3 1 40 5)"><rect x="10" y="250" width="30"
  height="30" rx="8" ry="4"/><ellipse cx="330" cy="-50" rx="20" ry="12"/></g>
<path fill="#c80000" d="M150 190q25-40 50 0t50 0v20H150z"/>
<path fill="#ffcc00" d="m185,150 a 20 10 30 1 1 25 12 z"/>
<svg x="330" y="240" width="60" height="50" viewBox="0 0 30 10"><circle cx="15" cy="5" r="5"/></svg>
</svg>
"""


def rendered(svg: str, scale: int, **options: object) -> np.ndarray:
    data = bytes(resvg_py.svg_to_bytes(svg_string=svg, zoom=scale, **options))
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def check_against(svg: str, picture: np.ndarray, scale: int, font: Font | None = None) -> None:
    """Each pixel that has one plain colour all around has it in our reading too."""
    fills = read(svg, font)
    found = colour_shapes(drawn(fills), len(fills.colours()), 1e-3)
    height = picture.shape[0]
    codes = (picture.astype(int) * [65536, 256, 1]).sum(axis=2)
    rows, columns = np.indices(codes.shape)
    inner = np.zeros(codes.shape, bool)
    inner[1:-1, 1:-1] = True
    for shift in ((0, 1), (1, 0), (0, -1), (-1, 0)):
        inner &= codes == np.roll(codes, shift, axis=(0, 1))
    assert inner.mean() > 0.9
    for code, shape in zip(fills.colours(), found, strict=True):
        own = codes == int(code[1:], 16)
        x, y = (columns[inner] + 0.5) / scale, (height - rows[inner] - 0.5) / scale
        inside = shapely.contains_xy(shape, x, y)
        assert (inside == own[inner]).all(), code


def test_a_scene_against_resvg() -> None:
    check_against(SCENE, rendered(SCENE, 4), 4)


def test_text_against_resvg(tmp_path: Path) -> None:
    """Places of letters, anchors, spans, kerning and turns."""
    file = tmp_path / "own.ttf"
    file.write_bytes(ImageFont.load_default(20).font_bytes)
    family = TTFont(file)["name"].getDebugName(1)
    svg = f"""
    <svg xmlns="http://www.w3.org/2000/svg" width="300" height="200" viewBox="0 0 300 200"
      font-family="{family}"><rect width="300" height="200" fill="#ffffff"/>
    <text x="150" y="50" font-size="40" text-anchor="middle" fill="#0b1f3a">Harbour</text>
    <text x="290" y="90" font-size="30" text-anchor="end" fill="#c80000">To<tspan dy="8"
      font-size="20" fill="#3a7d44">AVA</tspan></text>
    <g transform="rotate(-15 60 150)"><text x="20" y="150" font-size="32" letter-spacing="3"
      fill="#663399"> turned
      twice</text></g>
    <text x="180 210 250" y="190" font-size="28" fill="#008080">AbCd</text>
    </svg>
    """
    picture = rendered(svg, 4, font_files=[str(file)], skip_system_fonts=True)
    check_against(svg, picture, 4, open_font(file))
