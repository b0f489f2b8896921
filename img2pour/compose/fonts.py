"""Letters of an open font file: outlines, advances and kerning, in the font's own units."""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont, TTLibError

from img2pour.errors import SettingsError
from img2pour.units import quoted

Point = tuple[float, float]


class Draws(Protocol):
    """What letters are drawn with: a pen, or one behind a map."""

    def move(self, point: Point) -> None:
        """Begin a new outline."""

    def line(self, point: Point) -> None:
        """Draw a line."""

    def cubic(self, first: Point, second: Point, point: Point) -> None:
        """Draw a cubic curve."""

    def quadratic(self, control: Point, point: Point) -> None:
        """Draw a quadratic curve."""

    def close(self) -> None:
        """Close the outline."""


LARGEST_FONT_BYTES = 40_000_000

CAPITALS = "HEX"
"""Letters whose top is the capital height where the font does not tell it."""


@dataclass(frozen=True, eq=False)
class Font:
    """An opened font.

    Attributes
    ----------
    name : str
        Of the file.
    capital_height : float
        Height of a capital letter in the font's units.
    em : float
        What the size of a text means, in the font's units.
    """

    name: str
    capital_height: float
    em: float
    _font: Any
    _glyphs: Any
    _names: dict[int, str]

    def has(self, letter: str) -> bool:
        """Return whether the font has a letter."""
        return ord(letter) in self._names

    def glyph(self, letter: str) -> str:
        """Return the name of a letter's glyph.

        Raises
        ------
        SettingsError
            When the font has no such letter.
        """
        name = self._names.get(ord(letter))
        if name is None:
            raise SettingsError(
                f"the font {quoted(self.name)} has no letter {quoted(letter)}; choose another "
                "font, or leave the letter out",
                name="font",
                value=letter,
            )
        return name

    def advance(self, glyph: str) -> float:
        """Return how far a glyph moves on."""
        try:
            return float(self._glyphs[glyph].width)
        except BROKEN as error:
            raise _no_font(self.name) from error

    def kerning(self, left: str, right: str) -> float:
        """Return by how much a pair of glyphs moves together (below 0) or apart."""
        try:
            return _pair_kerning(self._font, left, right)
        except BROKEN as error:
            raise _no_font(self.name) from error

    def draw(self, glyph: str, pen: Draws, scale: float) -> None:
        """Draw a glyph with its origin at (0, 0), scaled."""
        try:
            self._glyphs[glyph].draw(_ScaledPen(pen, scale, self._glyphs))
        except BROKEN as error:
            raise _no_font(self.name) from error


class _ScaledPen(BasePen):  # type: ignore[misc]
    """Hands what a font draws on to our own pen."""

    def __init__(self, pen: Draws, scale: float, glyphs: Any) -> None:
        super().__init__(glyphs)
        self.pen, self.scale = pen, scale

    def _scaled(self, point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * self.scale, point[1] * self.scale

    def _moveTo(self, pt: Any) -> None:  # noqa: N802
        self.pen.move(self._scaled(pt))

    def _lineTo(self, pt: Any) -> None:  # noqa: N802
        self.pen.line(self._scaled(pt))

    def _curveToOne(self, pt1: Any, pt2: Any, pt3: Any) -> None:  # noqa: N802
        self.pen.cubic(self._scaled(pt1), self._scaled(pt2), self._scaled(pt3))

    def _qCurveToOne(self, pt1: Any, pt2: Any) -> None:  # noqa: N802
        self.pen.quadratic(self._scaled(pt1), self._scaled(pt2))

    def _closePath(self) -> None:  # noqa: N802
        self.pen.close()

    def _endPath(self) -> None:  # noqa: N802
        self.pen.close()


def open_font(path: Path) -> Font:
    """Open a font file (TrueType or OpenType outlines).

    Raises
    ------
    SettingsError
        When it is missing, too large, or no font with outlines.
    """
    _need_small(path)
    try:
        font = TTFont(io.BytesIO(path.read_bytes()), fontNumber=0)
        glyphs = font.getGlyphSet()
        names = dict(font.getBestCmap() or {})
        capital = _capital_height(font, glyphs, names)
        em = float(font["head"].unitsPerEm)
    except OSError as error:
        reason = (error.strerror or "cannot be read").lower()
        raise SettingsError(f"the font {quoted(path, 120)} cannot be read: {reason}") from error
    except BROKEN as error:
        raise _no_font(path.name) from error
    return Font(path.name, capital, em, font, glyphs, names)


def _no_font(name: str) -> SettingsError:
    return SettingsError(
        f"{quoted(name)} is no font with outlines, or a broken one; give a .ttf or .otf file",
        name="font",
    )


def _need_small(path: Path) -> None:
    if path.is_file() and path.stat().st_size > LARGEST_FONT_BYTES:
        raise SettingsError(
            f"the font {quoted(path.name)} is larger than 40 MB; choose another", name="font"
        )


BROKEN = (
    *(TTLibError, ValueError, KeyError, IndexError, AttributeError, AssertionError, TypeError),
    *(struct.error, EOFError),
)
"""What broken tables of a font raise when they are read."""


def _capital_height(font: Any, glyphs: Any, names: dict[int, str]) -> float:
    """Return the height of a capital: as the font says, else as a capital is drawn."""
    from fontTools.pens.boundsPen import BoundsPen

    told = getattr(font["OS/2"], "sCapHeight", 0) if "OS/2" in font else 0
    if told > 0:
        return float(told)
    for letter in CAPITALS:
        if ord(letter) in names:
            pen = BoundsPen(glyphs)
            glyphs[names[ord(letter)]].draw(pen)
            if pen.bounds:
                return float(pen.bounds[3])
    return 0.7 * float(font["head"].unitsPerEm)


def _pair_kerning(font: Any, left: str, right: str) -> float:
    """Return the kerning of a pair from the font's positioning table, else its old table."""
    if "GPOS" in font:
        table = font["GPOS"].table
        wanted = {
            index
            for record in (table.FeatureList.FeatureRecord if table.FeatureList else [])
            if record.FeatureTag == "kern"
            for index in record.Feature.LookupListIndex
        }
        for index in sorted(wanted):
            for part in table.LookupList.Lookup[index].SubTable:
                found = _pair_value(getattr(part, "ExtSubTable", part), left, right)
                if found is not None:
                    return found
        if wanted:
            return 0.0
    if "kern" in font:
        for part in font["kern"].kernTables:
            value = getattr(part, "kernTable", {}).get((left, right))
            if value is not None:
                return float(value)
    return 0.0


def _pair_value(part: Any, left: str, right: str) -> float | None:
    """Return what one pair positioning subtable says, or None."""
    if getattr(part, "LookupType", 0) != 2 or left not in part.Coverage.glyphs:
        return None
    if part.Format == 1:
        for record in part.PairSet[part.Coverage.glyphs.index(left)].PairValueRecord:
            if record.SecondGlyph == right:
                return float(getattr(record.Value1, "XAdvance", 0) or 0)
        return None
    first = part.ClassDef1.classDefs.get(left, 0)
    second = part.ClassDef2.classDefs.get(right, 0)
    value = part.Class1Record[first].Class2Record[second].Value1
    return float(getattr(value, "XAdvance", 0) or 0)
