"""Names for colours: the nearest name of CSS Color 4, and names that differ from each other."""

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import ImageColor

from img2pour.colour import ciede2000, lab_from_srgb, rgb_from_hex

_SECOND_SPELLINGS = ("aqua", "fuchsia")


@cache
def css_colours() -> tuple[tuple[str, str], ...]:
    """Return the (name, hex) pairs of the named colours of CSS Color 4, one name a colour.

    Where CSS has two spellings, the British one stays (grey), and cyan and magenta.
    """
    # Pillow puts three figures in the place of the code of each name that was used.
    pairs = (
        (name, code.lower() if isinstance(code, str) else "#{:02x}{:02x}{:02x}".format(*code))
        for name, code in ImageColor.colormap.items()
    )
    return tuple(sorted(pair for pair in pairs if not _is_second_spelling(pair[0])))


def _is_second_spelling(name: str) -> bool:
    return name in _SECOND_SPELLINGS or name.endswith("gray")


@cache
def _named_lab() -> NDArray[np.float64]:
    return lab_from_srgb(np.array([rgb_from_hex(code) for _, code in css_colours()]))


def nearest_name(rgb: ArrayLike) -> str:
    """Return the CSS name nearest to an sRGB colour of 0..255 by CIEDE2000."""
    distances = ciede2000(_named_lab(), lab_from_srgb(rgb))
    return css_colours()[int(np.argmin(distances))][0]


def tell_apart(names: Sequence[str]) -> tuple[str, ...]:
    """Add a number to names that occur more than once: ``navy``, ``navy 2``, ``navy 3``.

    Names are compared without regard to case, so that layers and file names differ too.
    """
    taken = {name.casefold() for name in names}
    seen: set[str] = set()
    told: list[str] = []
    for name in names:
        unique, number = name, 1
        while unique.casefold() in seen or (number > 1 and unique.casefold() in taken):
            number += 1
            unique = f"{name} {number}"
        seen.add(unique.casefold())
        told.append(unique)
    return tuple(told)
