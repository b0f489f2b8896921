"""Words as outlines of lines and arcs, along a line or a circle, and how a bit fits them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from img2pour.compose.fonts import Font
from img2pour.compose.pen import CURVE_TOLERANCE_MM, Pen
from img2pour.errors import SettingsError
from img2pour.plane.overlay import FillLayer, Outline, paint
from img2pour.plane.placement import Placement
from img2pour.plane.shapes import colour_shapes

LONGEST_TEXT = 400
SHOWN_LETTERS = 8

KEPT_SHARE = 0.97
"""A bit draws a letter well when it keeps this share of it, corners that come out round apart."""

CORNER_SHARE = 0.25
"""A square corner lies 0.207 of a bit's diameter beyond the round that the bit leaves of it."""

Align = Literal["left", "centre", "right"]


@dataclass(frozen=True)
class AlongCircle:
    """Words around a circle whose centre is the origin.

    Attributes
    ----------
    radius_mm : float
        Of the circle that the letters stand on.
    inside : bool
        False: along the top, feet towards the centre. True: along the bottom, heads towards it.
    """

    radius_mm: float
    inside: bool = False


@dataclass(frozen=True, eq=False)
class Letter:
    """One letter, placed.

    Attributes
    ----------
    letter : str
    outlines : tuple of (vertices, bulges)
        To be filled by the nonzero rule; empty for a space.
    """

    letter: str
    outlines: tuple[Outline, ...]


def set_words(
    text: str,
    font: Font,
    height_mm: float,
    *,
    align: Align = "centre",
    along: AlongCircle | None = None,
    spacing_mm: float = 0.0,
) -> tuple[Letter, ...]:
    """Return the letters of a text.

    Parameters
    ----------
    text : str
        Of one line.
    font : Font
    height_mm : float
        Of a capital letter.
    align : {"left", "centre", "right"}
        Which part of the text stands at the origin, or at the top (bottom) of the circle.
    along : AlongCircle, optional
        Without it the letters stand on the x axis.
    spacing_mm : float
        Added between letters.

    Raises
    ------
    SettingsError
        When the text is empty or too long, the font lacks a letter, or the circle is too small.
    """
    _check(text, height_mm)
    scale = height_mm / font.capital_height
    glyphs = [font.glyph(letter) for letter in text]
    starts, length = _advances(font, glyphs, scale, spacing_mm)
    shift = {"left": 0.0, "centre": -length / 2, "right": -length}[align]
    if along is not None and length > 2 * math.pi * along.radius_mm:
        raise SettingsError(
            f"the text is {length:.4g} mm long and goes more than once around a circle of radius "
            f"{along.radius_mm:.4g} mm; make it smaller or the circle larger",
            name="radius",
            value=along.radius_mm,
        )
    made = []
    for letter, glyph, start in zip(text, glyphs, starts, strict=True):
        pen = Pen()
        font.draw(glyph, pen, scale)
        half = font.advance(glyph) * scale / 2
        there = _stand(start + shift + half, half, along)
        outlines = pen.outlines(CURVE_TOLERANCE_MM).closed
        made.append(Letter(letter, tuple((there.apply(v), b) for v, b in outlines)))
    return tuple(made)


def _check(text: str, height_mm: float) -> None:
    if not text.strip():
        raise SettingsError("the text is empty; write some words", name="words", value=text)
    if len(text) > LONGEST_TEXT:
        raise SettingsError(
            f"a text of {len(text)} letters is too long; at most {LONGEST_TEXT}", name="words"
        )
    if any(ord(letter) < 32 for letter in text):
        raise SettingsError("a text is one line; make a [[text]] of each line", name="words")
    if not (math.isfinite(height_mm) and height_mm > 0):
        raise SettingsError(
            f"letters {height_mm:g} mm high cannot be drawn; give more than 0", name="height"
        )


def _advances(
    font: Font, glyphs: Sequence[str], scale: float, spacing_mm: float
) -> tuple[list[float], float]:
    """Return where each letter starts, and how long the text is."""
    starts, x = [], 0.0
    for i, glyph in enumerate(glyphs):
        if i:
            x += font.kerning(glyphs[i - 1], glyph) * scale + spacing_mm
        starts.append(x)
        x += font.advance(glyph) * scale
    return starts, x


def _stand(middle_mm: float, half_mm: float, along: AlongCircle | None) -> Placement:
    """Return where a letter stands whose middle is this far along the line or circle."""
    if along is None:
        return Placement(np.array([[1.0, 0, middle_mm - half_mm], [0, 1.0, 0], [0, 0, 1.0]]))
    swept = middle_mm / along.radius_mm
    turn = swept if along.inside else -swept
    foot = -along.radius_mm if along.inside else along.radius_mm
    cosine, sine = math.cos(turn), math.sin(turn)
    linear = np.array([[cosine, -sine], [sine, cosine]])
    matrix = np.eye(3)
    matrix[:2, :2] = linear
    matrix[:2, 2] = linear @ [-half_mm, foot]
    return Placement(matrix)


@dataclass(frozen=True)
class LetterSize:
    """How a letter compares with a bit.

    Attributes
    ----------
    letter : str
    stroke_mm : float
        The widest flat bit that still keeps KEPT_SHARE of the letter.
    widest_mm : float
        Diameter of the largest circle inside it: a wider bit does not enter at all.
    """

    letter: str
    stroke_mm: float
    widest_mm: float


def letter_sizes(letters: Sequence[Letter]) -> tuple[LetterSize, ...]:
    """Return the stroke width of every different letter, the thinnest first."""
    import shapely

    sizes = {}
    for letter in letters:
        if letter.outlines and letter.letter not in sizes:
            points = np.concatenate([vertices for vertices, _ in letter.outlines])
            reach = float(np.ptp(points, axis=0).max())
            low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
            bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
            drawn = paint([FillLayer(letter.outlines, 0, 0)], bounds)
            shape = colour_shapes(drawn, 1, reach * 1e-4)[0]
            parts = shapely.get_parts(shape)
            radii = shapely.length(shapely.maximum_inscribed_circle(parts, reach * 1e-4))
            widest = 2 * float(radii.max())
            sizes[letter.letter] = LetterSize(letter.letter, _stroke(shape, widest), widest)
    return tuple(sorted(sizes.values(), key=lambda size: (size.stroke_mm, size.letter)))


def _stroke(shape: object, widest_mm: float) -> float:
    """Return the diameter of the widest bit whose opening keeps KEPT_SHARE of a shape."""
    import shapely

    low, high = 0.0, widest_mm
    for _ in range(10):
        middle = (low + high) / 2
        entered = shapely.buffer(shape, -middle / 2)
        near = shapely.buffer(entered, middle / 2 + CORNER_SHARE * middle)
        lost = shapely.difference(shape, near)
        if shapely.area(lost) <= (1 - KEPT_SHARE) * shapely.area(shape):
            low = middle
        else:
            high = middle
    return low


def too_small(sizes: Sequence[LetterSize], bit_mm: float, height_mm: float) -> str:
    """Return which letters a bit cannot draw and how high they would have to be; "" where it can.

    Parameters
    ----------
    sizes : sequence of LetterSize
    bit_mm : float
        Narrowest width that the shelf's bits can cut.
    height_mm : float
        Height of the capitals, for the advice.
    """
    shut = [size for size in sizes if size.widest_mm < bit_mm]
    thin = [size for size in sizes if size.stroke_mm < bit_mm <= size.widest_mm]
    if not shut and not thin:
        return ""
    told = []
    if shut:
        told.append(f"{_strokes(shut)} not entered at all")
    if thin:
        told.append(f"{_strokes(thin)} without their thin strokes")
    needed = height_mm * bit_mm / max(min(size.stroke_mm for size in (*shut, *thin)), 1e-6)
    return (
        f"letters {height_mm:.1f} mm high are too small: the bit cuts {bit_mm:.2f} mm, their "
        f"strokes are {'; '.join(told)}; letters {needed:.1f} mm high would do"
    )


def _strokes(sizes: Sequence[LetterSize]) -> str:
    shown = [f"{size.letter!r} {size.stroke_mm:.2f} mm" for size in sizes[:SHOWN_LETTERS]]
    more = len(sizes) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")
