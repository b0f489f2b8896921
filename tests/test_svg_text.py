"""Text of SVG drawings: drawn letter by letter with a font file, else told with its place."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from img2pour.compose.drawing import DrawnFills, drawn_fills
from img2pour.compose.fonts import open_font
from img2pour.compose.svg_drawing import read_svg
from img2pour.errors import SettingsError
from img2pour.plane.regionmap import colour_areas
from tests.test_compose_drawings import PAGE, drawn
from tests.test_compose_words import built_font

RECT = '<rect width="1" height="1"/>'


def fills_of(body: str, folder: Path) -> DrawnFills:
    """Return a drawing with letters of 0.76 em: I from 0.1 to 0.24 em, 0.7 em high; A, O."""
    font = open_font(built_font(folder / "own.ttf", cubic=False))
    return drawn_fills(read_svg(f"{PAGE}{body}</svg>".encode(), "art.svg", font), 1.0)


def boxes(fills: DrawnFills) -> list[list[float]]:
    """Return x0, y0, x1, y1 of each outline, y up, in the order of drawing."""
    return [
        [*vertices.min(axis=0).tolist(), *vertices.max(axis=0).tolist()]
        for own in fills.outlines
        for vertices, _ in own
    ]


def test_letters_stand_on_their_line(tmp_path) -> None:
    found = boxes(fills_of('<text x="10" y="50" font-size="10">II</text>', tmp_path))
    # The page is 80 high: y = 50 downwards is 30 upwards.
    assert found == [pytest.approx([11, 30, 12.4, 37]), pytest.approx([18.6, 30, 20, 37])]


@pytest.mark.parametrize(("anchor", "left"), [("start", 11), ("middle", 3.4), ("end", -4.2)])
def test_anchors(tmp_path, anchor: str, left: float) -> None:
    body = f'<text x="10" y="50" font-size="10" style="text-anchor:{anchor}">II</text>'
    assert boxes(fills_of(body, tmp_path))[0][0] == pytest.approx(left)


def test_spans_places_of_single_letters_and_loose_spaces(tmp_path) -> None:
    body = """
    <text x="10 40" y="50" font-size="10" fill="#0b1f3a">
       II<tspan dy="5" fill="#c80000">  I</tspan>
       <tspan x="60" y="20" font-size="2em">I</tspan>
    </text>
    """
    fills = fills_of(body, tmp_path)
    assert [shape.hex for shape in fills.shapes] == ["#0b1f3a", "#c80000", "#0b1f3a"]
    found = boxes(fills)
    # I, I at 40; a space of 7.6 follows it, then I 5 lower; and one twice as large.
    assert [box[:2] for box in found] == [
        pytest.approx(place) for place in ([11, 30], [41, 30], [56.2, 25], [62, 60])
    ]
    assert found[3][3] == pytest.approx(74)


def test_transforms_and_letter_spacing(tmp_path) -> None:
    body = (
        '<g transform="translate(20 40) rotate(90)">'
        '<text font-size="10" letter-spacing="2">II</text></g>'
    )
    found = boxes(fills_of(body, tmp_path))
    # Turned clockwise on the page: the letters go down, their heads to the right.
    assert found[0] == pytest.approx([20, 37.6, 27, 39])
    assert found[1] == pytest.approx([20, 28, 27, 29.4])


def test_areas_agree_with_freetype(tmp_path) -> None:
    size = 3200
    freetype = ImageFont.load_default(size)
    (tmp_path / "default.ttf").write_bytes(freetype.font_bytes)
    font = open_font(tmp_path / "default.ttf")
    for letter in "Rg8":
        body = f'<text x="10" y="60" font-size="40">{letter}</text>'
        fills = drawn_fills(read_svg(f"{PAGE}{body}</svg>".encode(), "art.svg", font), 1.0)
        ours = float(colour_areas(drawn(fills), 1)[0])
        picture = Image.new("L", (2 * size, 2 * size))
        ImageDraw.Draw(picture).text((size / 2, size / 2), letter, 255, font=freetype)
        theirs = np.asarray(picture, dtype=float).sum() / 255 * (40 / size) ** 2
        assert ours == pytest.approx(theirs, rel=2e-3)


def test_without_a_font_it_is_told_with_its_place() -> None:
    body = (
        f'{RECT}<g transform="translate(5 5)"><text><tspan x="10" y="20">Har</tspan>bour</text></g>'
    )
    fills = drawn_fills(read_svg(f"{PAGE}{body}</svg>".encode(), "art.svg"), 1.0)
    (finding,) = fills.findings
    assert finding.reason.startswith("the text 'Harbour' is left out; name a font file")
    assert finding.at == (15, 55)
    with pytest.raises(SettingsError, match="the text 'Harbour' is left out"):
        drawn_fills(read_svg(f"{PAGE}<text>Harbour</text></svg>".encode(), "art.svg"), 1.0)


def test_what_cannot_be_drawn_is_told(tmp_path) -> None:
    body = (
        '<text x="10" y="50">IXYI</text><text>I<textPath href="#p">OO</textPath></text>'
        '<text fill="none">I</text><text display="none">I</text>'
    )
    fills = fills_of(body, tmp_path)
    assert [finding.reason for finding in fills.findings] == [
        "the text 'IXYI': the font 'own.ttf' has no 'X' 'Y'; they are left out",
        "the text 'IOO': words along a path are left out; turn them into outlines",
    ]
    assert len(boxes(fills)) == 3


def test_endless_spaces_do_no_harm(tmp_path) -> None:
    body = f'<text font-size="10">{" " * 300_000}I{"&#160;" * 200_000}</text>'
    fills = fills_of(RECT + body, tmp_path)
    assert len(boxes(fills)) == 1


def test_spaces_may_be_kept(tmp_path) -> None:
    body = '<text x="10" y="50" font-size="10" xml:space="preserve">  I</text>'
    assert boxes(fills_of(body, tmp_path))[0][0] == pytest.approx(10 + 15.2 + 1)
