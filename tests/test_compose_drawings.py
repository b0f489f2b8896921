"""Drawings written by hand, by ezdxf and by our own writer: areas by arithmetic, hostile files."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest
import shapely

from img2pour.compose.drawing import DrawnFills, drawn_fills
from img2pour.compose.dxf_drawing import read_dxf
from img2pour.compose.svg_drawing import read_svg
from img2pour.errors import SettingsError
from img2pour.plane.overlay import lay
from img2pour.plane.placement import Placement
from img2pour.plane.regionmap import RegionMap, colour_areas
from img2pour.plane.shapes import colour_shapes
from img2pour.write.dxf import DxfSettings, regions_dxf
from img2pour.write.layers import colour_layers
from img2pour.write.values import Board
from tests.maps import disc_map

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'


def fills_of(body: str, opening: str = PAGE) -> DrawnFills:
    drawing = read_svg(f"{opening}{body}</svg>".encode(), "art.svg")
    return drawn_fills(drawing, drawing.mm_per_unit or 1.0)


def drawn(fills: DrawnFills) -> RegionMap:
    numbers = {hex_: i for i, hex_ in enumerate(fills.colours())}
    layers = fills.layers(Placement(np.eye(3)), numbers, 0)
    return lay(layers, fills.bounds, joined=frozenset(numbers.values())).region_map


def area(body: str, opening: str = PAGE) -> float:
    return float(colour_areas(drawn(fills_of(body, opening)), 1)[0])


@pytest.mark.parametrize(
    ("body", "expected", "allowed"),
    [
        ('<rect x="10" y="10" width="30" height="20"/>', 600, 1e-9),
        ('<rect x="10" y="10" width="30" height="20" rx="5"/>', 600 - 25 * (4 - np.pi), 1e-9),
        ('<circle cx="60" cy="40" r="10"/>', 100 * np.pi, 1e-9),
        # Curves that are no circles become arcs within 0.005 mm of a length of about 60 mm.
        ('<ellipse cx="50" cy="40" rx="15" ry="5"/>', 75 * np.pi, 0.1),
        ('<circle cx="20" cy="20" r="5" transform="scale(2 1)"/>', 50 * np.pi, 0.1),
        ('<circle cx="0" cy="0" r="5" transform="rotate(30) translate(40 5) scale(2)"/>',
         100 * np.pi, 1e-9),
        ('<polygon points="10,10 40,10 40,30"/>', 300, 1e-9),
        ('<path d="M10 50h30v20h-30zM15 55h5v5h-5z" fill-rule="evenodd"/>', 575, 1e-9),
        ('<path d="M10 50h30v20h-30zM15 55h5v5h-5z"/>', 600, 1e-9),
        ('<path d="M10 40a10 10 0 0120 0a10 10 0 01-20 0z"/>', 100 * np.pi, 1e-9),
        # The area under a cubic arch of height 37.5 over 50 is 1500 (by integration).
        ('<path d="M10 70C10 20 60 20 60 70z"/>', 1500, 0.3),
        # A parabola takes two thirds of its box.
        ('<path d="M10 60Q30 0 50 60z"/>', 800, 0.3),
        ('<path d="M10 60q20-60 40 0z"/>', 800, 0.3),
        ('<svg x="10" y="10" width="20" height="20" viewBox="0 0 10 10">'
         '<rect width="5" height="5"/></svg>', 100, 1e-9),
        ('<defs><rect id="a" width="4" height="5"/></defs><use href="#a" x="10" y="10"/>'
         '<use href="#a" x="30" y="10"/>', 40, 1e-9),
        ('<g fill="none"><rect width="9" height="9"/></g><rect width="4" height="5"/>', 20, 1e-9),
    ],
)  # fmt: skip
def test_svg_areas(body: str, expected: float, allowed: float) -> None:
    assert area(body) == pytest.approx(expected, abs=max(allowed, 1e-9 * expected))


def test_circles_stay_arcs_and_curves_stay_near() -> None:
    (circle,) = fills_of('<circle cx="60" cy="40" r="10"/>').outlines[0]
    assert len(circle[0]) == 2
    assert np.abs(circle[1]) == pytest.approx([1, 1])
    arch = colour_shapes(drawn(fills_of('<path d="M10 70C10 20 60 20 60 70z"/>')), 1, 1e-5)[0]
    t = np.linspace(0, 1, 4001)[:, None]
    points = np.array([[10, 10], [10, 60], [60, 60], [60, 10]])  # y up
    exact = (
        (1 - t) ** 3 * points[0]
        + 3 * (1 - t) ** 2 * t * points[1]
        + 3 * (1 - t) * t**2 * points[2]
        + t**3 * points[3]
    )
    assert shapely.hausdorff_distance(arch.boundary, shapely.LinearRing(exact)) < 0.0055


def test_svg_units_and_styles() -> None:
    def read(opening: str) -> float | None:
        return read_svg(f"{opening}<rect width='5' height='5'/></svg>".encode(), "a").mm_per_unit

    assert read('<svg width="10cm" height="5cm" viewBox="0 0 200 100">') == pytest.approx(0.5)
    assert read('<svg width="2in" height="1in">') == pytest.approx(25.4 / 96)
    assert read('<svg width="200" height="100">') is None
    assert read('<svg viewBox="0 0 10 10">') is None
    fills = fills_of(
        "<style>.k{fill:#0b1f3a} #x{fill:gold}</style>"
        '<rect class="k" width="5" height="5"/><rect id="x" x="20" width="5" height="5"/>'
        '<g style="fill:rgb(1,2,3)"><rect x="40" width="5" height="5"/></g>'
        '<rect x="60" width="5" height="5" fill="#ABC"/>'
        '<rect x="80" width="5" height="5" display="none"/>'
    )
    assert fills.colours() == ("#0b1f3a", "#ffd700", "#010203", "#aabbcc")


def test_open_and_crossing_outlines_are_listed_with_their_place() -> None:
    fills = fills_of(
        '<path id="p" d="M60 70L70 70L65 60"/><path id="q" d="M10 10L30 30L30 10L10 30z"/>'
    )
    said = {finding.reason: finding.at for finding in fills.findings}
    assert said["an outline of path 'p' is open; it was closed with a straight line"] == (65, 20)
    assert said["an outline of path 'q' crosses or touches itself"] == pytest.approx((20, 60))


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'<!DOCTYPE svg [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><svg>&b;</svg>', "entities"),
        (b'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg>&a;</svg>', "entities"),
        (b"<svg", "cannot be read"),
        (b"", "cannot be read"),
        (b"<html/>", "no SVG"),
        (b'<svg><g id="a"><use href="#a"/></g></svg>', "inside itself"),
        (b'<svg><path d="M0 0 L nan 5"/></svg>', "a number is missing"),
        (b'<svg><path d="M0 0 L 1e400 5 3 3z"/></svg>', "not a finite number"),
        (b'<svg><path fill="none" d="M0 0h5v5z"/></svg>', "no fill"),
        (b'<svg><use href="http://example.org/a.svg#x"/></svg>', "outside of the drawing"),
        (b"<svg>" + b"<g>" * 5000 + b"</g>" * 5000 + b"</svg>", "inside each other"),
        ("<svg>".encode("utf-16") + b"\xff\xfe\x00", "cannot be read"),
    ],
)
def test_hostile_svg_is_refused_in_plain_words(data: bytes, says: str) -> None:
    with pytest.raises(SettingsError, match=says):
        drawn_fills(read_svg(data, "art.svg"), 1.0)


def test_scripts_and_pictures_are_left_out() -> None:
    fills = fills_of(
        '<script>alert(1)</script><image href="http://example.org/a.png" width="5" height="5"/>'
        "<text>Harbour</text><rect width='4' height='5'/>"
    )
    assert len(fills.shapes) == 1
    assert len(fills.findings) == 2


def written(document: ezdxf.document.Drawing) -> bytes:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def dxf_area(document: ezdxf.document.Drawing, **options: object) -> tuple[float, DrawnFills]:
    fills = drawn_fills(read_dxf(written(document), "art.dxf", **options), 1.0)  # type: ignore[arg-type]
    return float(colour_areas(drawn(fills), 1)[0]), fills


def new_dxf() -> tuple[ezdxf.document.Drawing, ezdxf.layouts.Modelspace]:
    document = ezdxf.new("R2010", units=4)
    return document, document.modelspace()


def test_dxf_outlines_of_every_kind() -> None:
    document, space = new_dxf()
    space.add_circle((50, 50), 10)
    space.add_lwpolyline([(0, 0, 1.0), (20, 0, 1.0)], format="xyb", close=True)
    space.add_polyline2d([(100, 0), (110, 0), (110, 10), (100, 10)], close=True)
    space.add_ellipse((150, 50), (15, 0), 1 / 3)
    found, fills = dxf_area(document)
    expected = 100 * np.pi + 100 * np.pi + 100 + 75 * np.pi
    assert found == pytest.approx(expected, abs=0.3)
    assert not fills.findings
    assert read_dxf(written(document), "a.dxf").mm_per_unit == 1.0


def test_dxf_lines_and_arcs_join_up_whatever_their_order() -> None:
    document, space = new_dxf()
    space.add_arc((20, 10), 10, -90, 90)
    space.add_line((0, 20), (20, 20))
    space.add_line((0, 0), (20, 0))
    space.add_arc((0, 10), 10, 90, 270)
    space.add_line((100, 0), (120, 0))
    found, fills = dxf_area(document)
    assert found == pytest.approx(400 + 100 * np.pi, rel=1e-9)
    assert [finding.at for finding in fills.findings] == [(120, 0)]
    assert "is open" in fills.findings[0].reason


def test_dxf_closed_spline_is_near_its_curve() -> None:
    document, space = new_dxf()
    angles = np.linspace(0, 2 * np.pi, 25)
    space.add_spline([(40 * np.cos(a), 30 * np.sin(a), 0) for a in angles])
    spline = next(iter(space))
    found, fills = dxf_area(document)
    flat = [(p.x, p.y) for p in spline.flattening(1e-4)]
    assert found == pytest.approx(shapely.Polygon(flat).area, rel=2e-4)
    assert not fills.findings


def test_dxf_spline_closed_by_even_knots() -> None:
    """Control points on a circle: the curve lies inside them and ends where it begins."""
    document, space = new_dxf()
    angles = 2 * np.pi * np.arange(8) / 8
    points = np.stack([40 * np.cos(angles), 40 * np.sin(angles), np.zeros(8)], axis=1)
    space.add_spline().set_closed(points.tolist())
    found, fills = dxf_area(document)
    assert not fills.findings
    # A uniform cubic B-spline by its basis (1-t)^3, 3t^3-6t^2+4, -3t^3+3t^2+3t+1, t^3, over 6.
    t = np.linspace(0, 1, 400, endpoint=False)[:, None]
    basis = np.hstack(
        [(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, 1 + 3 * t + 3 * t**2 - 3 * t**3, t**3]
    )
    curve = [
        basis / 6 @ np.take(points[:, :2], range(k, k + 4), axis=0, mode="wrap") for k in range(8)
    ]
    exact = shapely.Polygon(np.concatenate(curve))
    assert found == pytest.approx(exact.area, rel=2e-4)
    shape = colour_shapes(drawn(fills), 1, 1e-4)[0]
    assert shapely.hausdorff_distance(shape.boundary, exact.boundary) < 0.01


def test_dxf_nested_blocks_mirrored_and_turned() -> None:
    document, space = new_dxf()
    inner = document.blocks.new("INNER")
    inner.add_lwpolyline([(0, 0), (10, 0), (10, 5)], close=True)
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (0, 0))
    outer.add_blockref("INNER", (30, 0), dxfattribs={"xscale": -1, "rotation": 30})
    space.add_blockref("OUTER", (100, 0), dxfattribs={"xscale": 2, "yscale": 2})
    assert dxf_area(document)[0] == pytest.approx(200, rel=1e-9)


def test_dxf_layers_units_and_holes() -> None:
    document, space = new_dxf()
    document.header["$INSUNITS"] = 1
    document.layers.add("NAVY", true_color=0x0B1F3A)
    space.add_circle((0, 0), 10, dxfattribs={"layer": "NAVY"})
    space.add_circle((0, 0), 5, dxfattribs={"layer": "NAVY"})
    space.add_circle((50, 0), 5, dxfattribs={"layer": "OTHER"})
    found, fills = dxf_area(document, layers=["navy"])
    assert found == pytest.approx(75 * np.pi, rel=1e-9)
    assert fills.colours() == ("#0b1f3a",)
    assert read_dxf(written(document), "a.dxf").mm_per_unit == 25.4
    with pytest.raises(SettingsError, match="no layer 'GREY'"):
        read_dxf(written(document), "a.dxf", ["grey"])


def test_what_dxf_holds_beside_outlines_is_counted() -> None:
    document, space = new_dxf()
    space.add_circle((0, 0), 10)
    space.add_text("HARBOUR")
    space.add_point((1, 1))
    _, fills = dxf_area(document)
    assert len(fills.findings) == 2


def test_our_own_dxf_comes_back_the_same() -> None:
    board = disc_map(80, 20)
    layers = colour_layers(("navy", "sand"), ("#0b1f3a", "#e9d8a6"))
    data = regions_dxf(board, layers, Board(80, 80), DxfSettings())
    drawing = read_dxf(data, "regions.dxf")
    assert drawing.mm_per_unit == 1.0
    fills = drawn_fills(drawing, 1.0)
    again = drawn(fills)
    order = [fills.colours().index(hex_) for hex_ in ("#0b1f3a", "#e9d8a6")]
    assert colour_areas(again, 2)[order] == pytest.approx(colour_areas(board, 2), rel=1e-7)
    assert np.count_nonzero(again.bulges) == 2


@pytest.mark.parametrize(
    "data", [b"", b"0\nEOF\n", b"\x00\xff" * 500, b"0\nSECTION\n2\nENTITIES\n"]
)
def test_hostile_dxf_is_refused_in_plain_words(data: bytes) -> None:
    with pytest.raises(SettingsError, match=r"no DXF|no closed outline"):
        drawn_fills(read_dxf(data, "art.dxf"), 1.0)


def test_dxf_with_broken_numbers_keeps_the_rest() -> None:
    document, space = new_dxf()
    space.add_lwpolyline([(0, 0), (10, 0), (10, 10)], close=True)
    space.add_circle((float("nan"), 0), 5)
    found, fills = dxf_area(document)
    assert found == pytest.approx(50, rel=1e-9)
    assert any("cannot be read" in finding.reason for finding in fills.findings)
