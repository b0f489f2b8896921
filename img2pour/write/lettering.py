"""Words on pictures: a built-in typeface, the same everywhere, and one for other alphabets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from img2pour.write.text import one_line

Rgb = tuple[int, int, int]
INK: Rgb = (20, 20, 20)


@dataclass(frozen=True)
class Words:
    """A line of text on a picture.

    Attributes
    ----------
    text : str
    x, y : float
        Left end and middle height, in pixels.
    size_px : int
        Height of the type.
    rgb : (red, green, blue)
    """

    text: str
    x: float
    y: float
    size_px: int
    rgb: Rgb = INK


@cache
def _font(size_px: int, is_ascii: bool) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    if is_ascii:
        return ImageFont.load_default(size_px)
    from pymupdf_fonts import FiraGO_Regular

    return ImageFont.truetype(BytesIO(FiraGO_Regular.fontbuffer), size_px)


def _shown(text: str) -> str:
    """Return a line of text as the typefaces can show it."""
    line = one_line(text)
    if line.isascii():
        return line
    # Whoever writes plain letters alone does not wait for the other typeface.
    from img2pour.write.typeface import printable

    return printable(line)


def width_of(text: str, size_px: int) -> float:
    """Return the width of a line of text in pixels."""
    line = _shown(text)
    return float(_font(size_px, line.isascii()).getlength(line))


def shortened(text: str, size_px: int, widest_px: float) -> str:
    """Return `text` on one line, cut at its end to fit into `widest_px`."""
    line = _shown(text)
    if width_of(line, size_px) <= widest_px:
        return line
    while line and width_of(line + "...", size_px) > widest_px:
        line = line[:-1]
    return line + "..."


def letter(picture: NDArray[np.uint8], lines: Sequence[Words]) -> NDArray[np.uint8]:
    """Return the picture (H, W, 3) uint8 with the lines of text on it."""
    image = Image.fromarray(picture)
    draw = ImageDraw.Draw(image)
    for words in lines:
        line = _shown(words.text)
        font = _font(words.size_px, line.isascii())
        at = (words.x, words.y)
        draw.text(at, line, fill=words.rgb, font=font, anchor="lm")
    return np.asarray(image)
