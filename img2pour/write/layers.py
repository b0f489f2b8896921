"""Layers of drawing files: names and colours that every reader keeps."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from img2pour.colour import linear_from_srgb, rgb_from_hex

LONGEST_NAME = 31
"""Longest layer name of R12; upper case letters, digits, _ and - are read by all versions."""

BOARD_LAYER = "BOARD"
MARKS_LAYER = "MARKS"
CUT_OUT_LAYER = "CUT_OUT"
RESERVED = ("0", "DEFPOINTS", BOARD_LAYER, MARKS_LAYER, CUT_OUT_LAYER)
"""Names that mean something to readers or to our own files."""

FOREGROUND_INDEX = 7
"""Colour index that readers show as black on a light screen and white on a dark one."""

LEAST_CONTRAST = 1.2
"""Contrast ratio (WCAG 2 formula) with the screen below which a line can hardly be seen."""


@dataclass(frozen=True)
class Layer:
    """A layer and the colour it stands for.

    Attributes
    ----------
    name : str
        ``[A-Z0-9_-]{1,31}``.
    title : str
        The colour's own name, any text.
    hex : str
        ``#rrggbb``.
    """

    name: str
    title: str
    hex: str


def layer_names(names: Sequence[str], taken: Sequence[str] = RESERVED) -> tuple[str, ...]:
    """Return one layer name for each of `names`: folded, unique, and none of `taken`.

    Letters lose their accents and turn to upper case, those of other alphabets are spelt in Latin;
    whatever else is not ``A-Z 0-9 _ -`` turns to ``_``. Names of which nothing is left are called
    ``COLOUR``. Doubles get a number.
    """
    used = set(taken)
    unique: list[str] = []
    for name in names:
        base = fold_name(name)
        choice, number = base, 1
        while choice in used:
            number += 1
            ending = f"_{number}"
            choice = base[: LONGEST_NAME - len(ending)] + ending
        used.add(choice)
        unique.append(choice)
    return tuple(unique)


def fold_name(name: str) -> str:
    """Return `name` in the letters of a layer name, at most 31 of them."""
    plain = name if name.isascii() else "".join(map(_spelt, unicodedata.normalize("NFC", name)))
    folded = re.sub(r"[^A-Z0-9_-]+", "_", plain.upper()).strip("_-")
    return folded[:LONGEST_NAME].rstrip("_-") or "COLOUR"


def _spelt(character: str) -> str:
    """Return a character in plain letters: without its accent, or as it is spelt in Latin."""
    plain = unicodedata.normalize("NFKD", character).encode("ascii", "ignore").decode("ascii")
    if plain or not character.isalnum():
        return plain
    from anyascii import anyascii

    return anyascii(character)


def colour_layers(names: Sequence[str], hexes: Sequence[str]) -> tuple[Layer, ...]:
    """Return the layers of the palette's colours, in the palette's order."""
    layers = layer_names(names)
    return tuple(map(Layer, layers, names, hexes))


def layer_colour(hex_code: str) -> tuple[int, int | None]:
    """Return the colour index and the true colour (24 bits) of a layer.

    A colour that would vanish on a black or a white screen takes the index that readers show in
    black or white, whichever can be seen, and no true colour.
    """
    red, green, blue = (round(float(part)) for part in rgb_from_hex(hex_code))
    if _vanishes(hex_code):
        return FOREGROUND_INDEX, None
    return nearest_index((red, green, blue)), (red << 16) | (green << 8) | blue


def _vanishes(hex_code: str) -> bool:
    """Tell whether the colour's contrast with black or with white is too low."""
    light = float(linear_from_srgb(rgb_from_hex(hex_code)) @ np.array([0.2126, 0.7152, 0.0722]))
    return min((light + 0.05) / 0.05, 1.05 / (light + 0.05)) < LEAST_CONTRAST


def nearest_index(rgb: tuple[int, int, int]) -> int:
    """Return the colour index (1 to 255) nearest to an sRGB colour."""
    table = index_colours()
    indices = sorted(table)
    distances = [sum((a - b) ** 2 for a, b in zip(table[i], rgb, strict=True)) for i in indices]
    return indices[int(np.argmin(distances))]


@cache
def index_colours() -> dict[int, tuple[int, int, int]]:
    """Return the usable colour indices and their sRGB values.

    1 to 6 are the full hues, 8, 9 and 251 to 254 greys. 10 to 249 follow a rule: 24 hues 15
    degrees apart, five values each, odd ones at half the saturation. Black, white and the dark
    tones that readers disagree about are left out.
    """
    greys = {8: 128, 9: 192, 251: 101, 252: 102, 253: 153, 254: 204}
    table = {index: (grey, grey, grey) for index, grey in greys.items()}
    for index, hue in enumerate((0, 4, 8, 12, 16, 20), start=1):
        table[index] = _hue(hue, 255, 0)
    for index in range(10, 250):
        value = (255, 165, 127, 76, 38)[index % 10 // 2]
        if value > 76 or (value == 76 and index % 2 == 0):
            table[index] = _hue(index // 10 - 1, value, value // 2 if index % 2 else 0)
    return table


def _hue(step: int, value: int, least: int) -> tuple[int, int, int]:
    """Return the colour of hue 15 degrees times `step`, between `least` and `value`."""

    def channel(centre: int) -> int:
        away = abs((step - centre + 12) % 24 - 12)
        return least + int((value - least) * min(max(8 - away, 0), 4) / 4)

    return channel(0), channel(8), channel(16)
