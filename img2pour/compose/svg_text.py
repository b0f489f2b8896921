"""Text of an SVG drawing: drawn with a font file where one is given, else told with its place."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from img2pour.compose.fonts import Font
from img2pour.compose.pen import Pen
from img2pour.compose.safe_xml import Element
from img2pour.compose.svg_paths import PlacedPen
from img2pour.compose.svg_style import Style
from img2pour.plane.regionmap import FloatArray
from img2pour.units import quoted

LONGEST_SHOWN = 40
MOST_LETTERS = 100_000

Point = tuple[float, float]
Styled = Callable[[Style, Element], Style]


@dataclass
class Spot:
    """A letter with its style, and where its element wants it; None where it just follows."""

    letter: str
    style: Style
    x: float | None = None
    y: float | None = None
    dx: float | None = None
    dy: float | None = None


@dataclass(frozen=True, eq=False)
class TextRun:
    """Letters of one colour, drawn."""

    pen: Pen
    hex: str


def words_of(element: Element) -> str:
    """Return the words of a text as a person sees them, shortened for a message."""
    words = re.sub(r"\s+", " ", "".join(_all_words(element))).strip()
    return quoted(words, LONGEST_SHOWN)


def _all_words(element: Element) -> Iterator[str]:
    yield element.text
    for child in element.children:
        yield from _all_words(child)
        yield child.tail


def place_of(element: Element, matrix: FloatArray) -> Point:
    """Return where a text begins."""
    holder = element
    while "x" not in holder.attributes and holder.children:
        holder = holder.children[0]
    x = (_lengths(holder.attributes.get("x")) or [0.0])[0]
    y = (_lengths(holder.attributes.get("y")) or [0.0])[0]
    there = matrix @ [x, y, 1.0]
    return float(there[0]), float(there[1])


def draw_text(
    element: Element, matrix: FloatArray, style: Style, styled: Styled, font: Font
) -> tuple[list[TextRun], list[str]]:
    """Return the letters of a text, drawn with a font, and what could not be drawn.

    Parameters
    ----------
    element : Element
        The text, with all spans in it.
    matrix : (3, 3) float64
        From its units to the drawing's.
    style : Style
        Of the text.
    styled : callable
        Returns the style of a span from its parent's.
    font : Font

    Returns
    -------
    runs : list of TextRun
        One for each stretch of letters of one colour, in order.
    missing : list of str
        In plain words, one for each kind of thing.
    """
    reading = _Reading(styled, [], [], [])
    reading.read(element, style)
    spots, said = _seen(reading), reading.said
    lacking = sorted({spot.letter for spot in spots if not font.has(spot.letter)})
    if lacking:
        letters = " ".join(quoted(letter) for letter in lacking[:10])
        said.append(f"the font {quoted(font.name)} has no {letters}; they are left out")
    spots = [spot for spot in spots if font.has(spot.letter)]
    runs: list[TextRun] = []
    for chunk in _chunks(spots):
        for spot, (x, y) in zip(chunk, _places(chunk, font), strict=True):
            _draw_letter(runs, spot, matrix @ _at(x, y), font)
    return runs, said


@dataclass
class _Reading:
    """The letters of a text in order, and which of them each of its elements holds."""

    styled: Styled
    spots: list[Spot]
    spans: list[tuple[Element, int, int]]
    said: list[str]

    def read(self, element: Element, style: Style) -> None:
        """Read an element and the spans in it, the inner ones first."""
        if style.hidden:
            return
        first = len(self.spots)
        self._add(element.text, style)
        for child in element.children:
            if child.name in {"tspan", "a"}:
                self.read(child, self.styled(style, child))
            elif child.name == "textPath":
                self.said.append("words along a path are left out; turn them into outlines")
            self._add(child.tail, style)
        self.spans.append((element, first, len(self.spots)))

    def _add(self, text: str, style: Style) -> None:
        room = MOST_LETTERS - len(self.spots)
        self.spots += [Spot(" " if letter.isspace() else letter, style) for letter in text[:room]]


def _seen(reading: _Reading) -> list[Spot]:
    """Return the letters that are seen, each with the place that the innermost element gives it.

    Spaces at both ends and after another space are not, and places are not counted on them.
    """
    spots = reading.spots
    seen = [True] * len(spots)
    before = " "
    for k, spot in enumerate(spots):
        seen[k] = spot.style.keeps_spaces or not spot.letter == before == " "
        before = spot.letter if seen[k] else before
    for k in reversed(range(len(spots))):
        if spots[k].letter != " " or spots[k].style.keeps_spaces:
            break
        seen[k] = False
    for element, first, last in reading.spans:
        own = [spot for k, spot in enumerate(spots[first:last], first) if seen[k]]
        for name in ("x", "y", "dx", "dy"):
            lengths = _lengths(element.attributes.get(name))
            for spot, length in zip(own, lengths, strict=False):
                if getattr(spot, name) is None:
                    setattr(spot, name, length)
    return [spot for k, spot in enumerate(spots) if seen[k]]


def _chunks(spots: list[Spot]) -> Iterator[list[Spot]]:
    """Yield the stretches of letters of which the first has a place of its own."""
    chunk: list[Spot] = []
    y = 0.0
    for spot in spots:
        if chunk and (spot.x is not None or spot.y is not None):
            yield chunk
            chunk = []
        y = spot.y if spot.y is not None else y
        if not chunk and spot.y is None:
            spot.y = y
        chunk.append(spot)
    if chunk:
        yield chunk


def _places(chunk: list[Spot], font: Font) -> list[Point]:
    """Return where each letter of a stretch stands, moved as its anchor says."""
    x, y = chunk[0].x or 0.0, chunk[0].y or 0.0
    begin, places = x, []
    before = ""
    for spot in chunk:
        glyph = font.glyph(spot.letter)
        scale = spot.style.font_size / font.em
        x += (spot.dx or 0.0) + (font.kerning(before, glyph) * scale if before else 0.0)
        y += spot.dy or 0.0
        places.append((x, y))
        x += font.advance(glyph) * scale + spot.style.letter_spacing
        before = glyph
    share = {"middle": 0.5, "end": 1.0}.get(chunk[0].style.anchor, 0.0)
    back = share * (x - begin)
    return [(u - back, v) for u, v in places]


def _draw_letter(runs: list[TextRun], spot: Spot, matrix: FloatArray, font: Font) -> None:
    if spot.style.fill is None:
        return
    if not runs or runs[-1].hex != spot.style.fill:
        runs.append(TextRun(Pen(), spot.style.fill))
    scale = spot.style.font_size / font.em
    font.draw(font.glyph(spot.letter), PlacedPen(runs[-1].pen, matrix), scale)


def _at(x: float, y: float) -> FloatArray:
    """Return the matrix from a letter's own units, y up, to those of the text."""
    return np.array([[1.0, 0.0, x], [0.0, -1.0, y], [0.0, 0.0, 1.0]])


def _lengths(text: str | None) -> list[float]:
    from img2pour.compose.svg_style import length_px

    found = [length_px(part) for part in re.split(r"[\s,]+", (text or "").strip()) if part]
    return [0.0 if value is None else value for value in found]
