"""One colour of a palette parted into the two that its pixels hold best."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

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


def parted(
    artwork: Picture, labels: NDArray[np.uint8], palette: Palette, key: str
) -> list[tuple[str, str]]:
    """Return the palette as (hex, name), one of its colours replaced by two.

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
    pair = two_means(artwork.rgb[labels == at])
    if len(pair) < 2 or float(srgb_difference(pair[0], pair[1])) < LEAST_GAP:
        name = palette.colours[at].name
        raise SettingsError(
            f"{name} is one colour all over; there is nothing to split", name="colour", value=key
        )
    kept = [(one.hex, one.name) for one in palette.colours]
    hexes = [hex_from_rgb(colour) for colour in pair]
    names = tell_apart([*(name for _, name in kept if name != kept[at][1]), *_names(pair)])[-2:]
    return [*kept[:at], *zip(hexes, names, strict=True), *kept[at + 1 :]]


def two_means(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return the two colours that some pixels (n, 3) hold best, the lighter first.

    Each is the median of its pixels: blends along edges do not tint it. One comes back where
    there is only one.
    """
    seen = pixels[:: max(1, len(pixels) // MOST_PIXELS)]
    counts = np.zeros((SIDE,) * 3)
    np.add.at(counts, tuple((seen // CELL).T), 1.0)
    found = choose_colours(counts, 2)
    nearest = ((seen[:, None] - found[None]) ** 2).sum(axis=2).argmin(axis=1)
    medians = [np.median(seen[nearest == at], axis=0) for at in np.unique(nearest)]
    return np.array(sorted(medians, key=lambda colour: -colour.sum()))


def _names(colours: Sequence[NDArray[np.float64]] | NDArray[np.float64]) -> list[str]:
    return [nearest_name(colour) for colour in colours]


def _index(palette: Palette, key: str) -> int:
    for index, colour in enumerate(palette.colours):
        if key in {colour.name, colour.hex}:
            return index
    names = ", ".join(colour.name for colour in palette.colours)
    raise SettingsError(
        f"there is no colour {quoted(key)}; there are: {names}", name="colour", value=key
    )
