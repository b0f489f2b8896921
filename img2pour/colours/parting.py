"""One colour of a palette parted into the two that its pixels hold best."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import hex_from_rgb, srgb_difference
from img2pour.colours.modes import CELL
from img2pour.colours.names import nearest_name, tell_apart
from img2pour.colours.reduce import choose_colours
from img2pour.errors import SettingsError
from img2pour.units import quoted

if TYPE_CHECKING:
    from img2pour.palette import Palette
    from img2pour.picture import Picture

MOST_PIXELS = 1_000_000
"""More pixels than this tell nothing new of two means."""

LEAST_GAP = 2.0
"""CIEDE2000 below which two colours are one to the eye; common practice, no source."""

SIDE = 256 // CELL

BLEND_PX = 2
"""How far from an edge pixels may be blends of both its sides; common practice, no source."""

LEAST_INNER = 0.05
"""Share of a colour's pixels that must lie inside, so that they speak for it; no source."""


def parted(
    artwork: Picture, labels: NDArray[np.uint8], palette: Palette, key: str
) -> list[tuple[str, str]]:
    """Return the palette as (hex, name), one of its colours replaced by two.

    The one that holds more pixels keeps the name, and so whatever else is said of it by name.

    Parameters
    ----------
    artwork : Picture
    labels : (H, W) uint8
        Index of each pixel's colour.
    palette : Palette
    key : str
        Name or ``#hex`` of the colour.

    Raises
    ------
    SettingsError
        When there is no such colour, or its pixels are all alike.
    """
    at = _index(palette, key)
    own = palette.colours[at].name
    pixels = _inner(artwork.rgb, labels == at)
    pair = two_means(pixels)
    if len(pair) < 2 or float(srgb_difference(pair[0], pair[1])) < LEAST_GAP:
        raise SettingsError(
            f"{own} is one colour all over; there is nothing to split", name="colour", value=key
        )
    kept = [(one.hex, one.name) for one in palette.colours]
    smaller = 1 - int(np.bincount(_nearest(pixels[:: _stride(pixels)], pair)).argmax())
    new = tell_apart([*(name for _, name in kept), nearest_name(pair[smaller])])[-1]
    names = [new if index == smaller else own for index in (0, 1)]
    hexes = [hex_from_rgb(colour) for colour in pair]
    return [*kept[:at], *zip(hexes, names, strict=True), *kept[at + 1 :]]


def _inner(rgb: NDArray[np.uint8], own: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return the pixels of a colour that are no blends along its edges, where it has such."""
    kernel = np.ones((2 * BLEND_PX + 1,) * 2, np.uint8)
    inside = cv2.erode(own.view(np.uint8), kernel).view(np.bool_)
    enough = np.count_nonzero(inside) >= LEAST_INNER * np.count_nonzero(own)
    return rgb[inside if enough else own]


def two_means(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return the two colours that some pixels (n, 3) hold best, the lighter first.

    Each is the median of its pixels: blends along edges do not tint it. One comes back where
    there is only one.
    """
    seen = pixels[:: _stride(pixels)]
    counts = np.zeros((SIDE,) * 3)
    np.add.at(counts, tuple((seen // CELL).T), 1.0)
    found = choose_colours(counts, 2)
    nearest = _nearest(seen, found)
    medians = [np.median(seen[nearest == at], axis=0) for at in np.unique(nearest)]
    return np.array(sorted(medians, key=lambda colour: -colour.sum()))


def _stride(pixels: NDArray[np.uint8]) -> int:
    return max(1, len(pixels) // MOST_PIXELS)


def _nearest(pixels: NDArray[np.uint8], found: NDArray[np.float64]) -> NDArray[np.intp]:
    gaps = ((pixels[:, None] - found[None]) ** 2).sum(axis=2)
    return np.asarray(gaps.argmin(axis=1), np.intp)


def _index(palette: Palette, key: str) -> int:
    for index, colour in enumerate(palette.colours):
        if key in {colour.name, colour.hex}:
            return index
    names = ", ".join(colour.name for colour in palette.colours)
    raise SettingsError(
        f"there is no colour {quoted(key)}; there are: {names}", name="colour", value=key
    )
