"""Words from fonts: areas against FreeType (by Pillow), places by arithmetic."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from PIL import Image, ImageDraw, ImageFont

from img2pour.compose.fonts import open_font
from img2pour.compose.words import (
    AlongCircle,
    Letter,
    LetterSize,
    letter_sizes,
    set_words,
    too_small,
)
from img2pour.errors import SettingsError
from img2pour.plane.overlay import FillLayer, paint
from img2pour.plane.regionmap import colour_areas

CIRCLE = 0.5522847498  # control points of a quarter circle; common practice


LEFT = {"I": 100, "O": 0, "A": 50}  # left side bearings of the letters below


def draw_letter(pen, letter: str) -> None:
    """Draw our own letters: I a bar, O a ring of cubic or quadratic curves, A a triangle."""
    if letter == "I":
        corners = [(100, 0), (100, 700), (240, 700), (240, 0)]
    elif letter == "O":
        _round(pen, 350, 350, 350, 1)
        _round(pen, 350, 350, 210, -1)
        return
    else:
        corners = [(50, 0), (50, 700), (420, 350)]
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    pen.closePath()


def _round(pen, x: float, y: float, r: float, way: int) -> None:
    k = r * CIRCLE
    pen.moveTo((x + r, y))
    for turn in range(4):
        c, s = [(1, 0), (0, way), (-1, 0), (0, -way)][turn]
        d, e = [(0, way), (-1, 0), (0, -way), (1, 0)][turn]
        start, end = (x + r * c, y + r * s), (x + r * d, y + r * e)
        first = (start[0] + k * d, start[1] + k * e)
        second = (end[0] + k * c, end[1] + k * s)
        if hasattr(pen, "cubic"):
            pen.curveTo(first, second, end)
        else:
            middle = (x + r * (c + d), y + r * (s + e))
            pen.qCurveTo(middle, end)
    pen.closePath()


def built_font(path, *, cubic: bool, kerning: bool = False):
    builder = FontBuilder(1000, isTTF=not cubic)
    names = [".notdef", "I", "O", "A", "space"]
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({73: "I", 79: "O", 65: "A", 32: "space"})
    widths = dict.fromkeys(names, 760)
    glyphs = {}
    for name in names:
        pen = T2CharStringPen(760, None) if cubic else TTGlyphPen(None)
        if cubic:
            pen.cubic = True
        if name in {"I", "O", "A"}:
            draw_letter(pen, name)
        glyphs[name] = pen.getCharString() if cubic else pen.glyph()
    if cubic:
        builder.setupCFF("Own", {}, glyphs, {})
    else:
        builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics({name: (widths[name], LEFT.get(name, 0)) for name in names})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Own", "styleName": "Regular"})
    builder.setupOS2(sCapHeight=700)
    builder.setupPost()
    if kerning:
        code = "feature kern { pos A O -80; @r = [I O]; pos O @r -30; } kern;"
        addOpenTypeFeaturesFromString(builder.font, code)
    builder.save(path)
    return path


def area(letters: tuple[Letter, ...]) -> float:
    outlines = [outline for letter in letters for outline in letter.outlines]
    reach = max(float(np.abs(vertices).max()) for vertices, _ in outlines) * 2
    fill = FillLayer(outlines, 0, 0)
    return float(colour_areas(paint([fill], (-reach, -reach, reach, reach)), 1)[0])


def rendered_area(font: ImageFont.FreeTypeFont, letter: str, size: int, mm_per_px: float) -> float:
    image = Image.new("L", (3 * size // 2, 3 * size // 2))
    ImageDraw.Draw(image).text((size // 4, size // 8), letter, font=font, fill=255)
    return float(np.asarray(image).sum(dtype=np.float64) / 255 * mm_per_px**2)


@pytest.mark.parametrize("cubic", [True, False])
def test_letters_have_the_area_that_freetype_renders(tmp_path, cubic: bool) -> None:
    path = built_font(tmp_path / "own.otf", cubic=cubic)
    font, size = open_font(path), 2000
    freetype = ImageFont.truetype(path, size)
    for letter in "IOA":
        ours = area(set_words(letter, font, 14.0))
        theirs = rendered_area(freetype, letter, size, 14.0 / (0.7 * size))
        assert ours == pytest.approx(theirs, rel=2e-3)
    assert area(set_words("I", font, 14.0)) == pytest.approx(2.8 * 14.0, rel=1e-9)


def test_a_large_open_font_agrees_with_freetype(tmp_path) -> None:
    size = 3200  # smaller ones are drawn onto the pixel grid, up to 0.3 %
    freetype = ImageFont.load_default(size)
    path = tmp_path / "default.ttf"
    path.write_bytes(freetype.font_bytes)
    font = open_font(path)
    em = font.capital_height / 1000
    for letter in "RSag&8":
        ours = area(set_words(letter, font, 20.0))
        theirs = rendered_area(freetype, letter, size, 20.0 / (em * size))
        assert ours == pytest.approx(theirs, rel=2e-3)


def test_place_spacing_and_kerning(tmp_path) -> None:
    def lefts(text: str, path, **options) -> list[float]:
        letters = set_words(text, open_font(path), 7.0, **options)
        return [float(min(v[:, 0].min() for v, _ in letter.outlines)) for letter in letters]

    plain = built_font(tmp_path / "plain.ttf", cubic=False)
    assert lefts("II", plain, align="left") == pytest.approx([1.0, 8.6])
    assert lefts("II", plain, align="centre") == pytest.approx([-6.6, 1.0])
    assert lefts("II", plain, align="right", spacing_mm=2) == pytest.approx([-16.2, -6.6])
    kerned = built_font(tmp_path / "kerned.ttf", cubic=False, kerning=True)
    assert lefts("AOI", kerned, align="left") == pytest.approx([0.5, 6.8, 15.1])


def test_around_a_circle(tmp_path) -> None:
    font = open_font(built_font(tmp_path / "own.ttf", cubic=False))
    for inside in (False, True):
        letters = set_words("IIIII", font, 7.0, along=AlongCircle(50.0, inside))
        middles = np.array(
            [np.mean([v.mean(axis=0) for v, _ in x.outlines], axis=0) for x in letters]
        )
        steps = np.hypot(*np.diff(middles, axis=0).T)
        assert np.ptp(steps) < 1e-9
        assert (middles[:, 1] < 0).all() if inside else (middles[:, 1] > 0).all()
        assert (np.diff(middles[:, 0]) > 0).all()  # it reads from the left
        feet = 50.0 - 3.5 if inside else 50.0 + 3.5
        assert np.hypot(*middles.T) == pytest.approx(feet, abs=0.1)
    with pytest.raises(SettingsError, match="more than once around"):
        set_words("IIIII", font, 7.0, along=AlongCircle(5.0))


def test_strokes_against_the_bit(tmp_path) -> None:
    font = open_font(built_font(tmp_path / "own.ttf", cubic=False))
    sizes = {size.letter: size for size in letter_sizes(set_words("IO I", font, 14.0))}
    assert sizes["I"].widest_mm == pytest.approx(2.8, abs=0.02)
    # The ring is 2.8 mm wide too; quadratic curves instead of circles make it a little uneven.
    assert sizes["O"].widest_mm == pytest.approx(2.8, abs=0.5)
    assert sizes["I"].stroke_mm == pytest.approx(2.8, abs=0.03)
    assert too_small(tuple(sizes.values()), 1.5, 14.0) == ""
    line = too_small((sizes["I"],), 3.175, 14.0)
    assert re.search(r"the bit cuts 3\.17 mm, their strokes are 'I' 2\.\d\d mm not entered", line)
    needed = float(line.split("letters ")[2].split(" mm")[0])
    grown = letter_sizes(set_words("I", font, needed + 0.1))
    assert too_small(grown, 3.175, needed) == ""
    assert "without their thin strokes" in too_small((LetterSize("I", 1.0, 2.0),), 1.5, 14.0)
    many = tuple(LetterSize(letter, 0.5, 0.5) for letter in "abcdefghijk")
    assert "'h' 0.50 mm and 3 more not entered at all" in too_small(many, 1.0, 5.0)


@pytest.mark.parametrize(
    ("text", "height", "says"),
    [
        ("", 7.0, "empty"),
        ("  ", 7.0, "empty"),
        ("I" * 401, 7.0, "too long"),
        ("I\nO", 7.0, "one line"),
        ("IX", 7.0, "has no letter 'X'"),
        ("I", 0.0, "more than 0"),
        ("I", float("nan"), "more than 0"),
    ],
)
def test_words_that_cannot_be_set(tmp_path, text: str, height: float, says: str) -> None:
    font = open_font(built_font(tmp_path / "own.ttf", cubic=False))
    with pytest.raises(SettingsError, match=says):
        set_words(text, font, height)


@pytest.mark.parametrize("cut", [0, 4, 60, 400])
def test_broken_fonts_are_refused(tmp_path, cut: int) -> None:
    stream = io.BytesIO((built_font(tmp_path / "own.ttf", cubic=False)).read_bytes())
    path = tmp_path / "broken.ttf"
    path.write_bytes(stream.getvalue()[:cut])
    with pytest.raises(SettingsError, match="no font with outlines"):
        set_words("O", open_font(path), 7.0)


def test_a_missing_font_is_named(tmp_path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        open_font(tmp_path / "none.ttf")
