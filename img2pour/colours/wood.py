"""Which colour of a picture is the wood: the one that meets the picture's edge."""

import numpy as np
from numpy.typing import NDArray

from img2pour.colour import rgb_from_hex, srgb_difference
from img2pour.errors import SettingsError
from img2pour.labels import OUTSIDE_LABEL
from img2pour.palette import Palette

Bytes = NDArray[np.uint8]

# Under this share of the edge the choice is asked for instead of made.
LEAST_EDGE_SHARE = 0.6
_SAME_COLOUR = 12.0


def edge_share(labels: Bytes, number: int) -> NDArray[np.float64]:
    """Return the share of each colour along the edge of the artwork.

    Parameters
    ----------
    labels : ndarray of uint8, shape (H, W)
        Label image; pixels of OUTSIDE_LABEL are not part of the artwork.
    number : int
        Colours in the palette.

    Returns
    -------
    ndarray of float64, shape (number,)
        Shares of the pixel edges that meet the picture's border or an outside pixel.
    """
    counts = np.zeros(256, dtype=np.int64)
    if labels.max() != OUTSIDE_LABEL:
        for side in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
            counts += np.bincount(side, minlength=256)
        return np.asarray(counts[:number] / int(counts[:number].sum()))
    framed = np.pad(labels, 1, constant_values=OUTSIDE_LABEL)
    middle = framed[1:-1, 1:-1]
    for beside in (framed[:-2, 1:-1], framed[2:, 1:-1], framed[1:-1, :-2], framed[1:-1, 2:]):
        met = middle[(beside == OUTSIDE_LABEL) & (middle != OUTSIDE_LABEL)]
        counts += np.bincount(met, minlength=256)
    return np.asarray(counts[:number] / max(int(counts[:number].sum()), 1))


def choose_wood(shares: NDArray[np.float64], palette: Palette, wish: str) -> tuple[int | None, str]:
    """Choose the colour that stays bare wood.

    Parameters
    ----------
    shares : ndarray of float64, shape (K,)
        Of each colour along the edge, from :func:`edge_share`.
    palette : Palette
        Its colours.
    wish : str
        "auto", "none", a name of the palette or a hex code.

    Returns
    -------
    index : int or None
        Into the palette; None when every colour is poured.
    note : str
        What was chosen and why, in plain words; "" when it was told.

    Raises
    ------
    SettingsError
        When auto finds no colour on 60 % of the edge, or the palette has no such colour.
    """
    if wish.strip().casefold() == "none":
        return None, ""
    if wish.strip().casefold() != "auto":
        return _told(palette, wish), ""
    best = int(np.argmax(shares))
    name, percent = palette.colours[best].name, 100 * float(shares[best])
    if shares[best] < LEAST_EDGE_SHARE:
        raise SettingsError(
            f"which colour is the wood? {name} covers most of the picture's edge, but only "
            f"{percent:.0f} %; say --wood NAME or --wood none ({_listed(palette)})",
            name="wood",
            value=wish,
        )
    return best, f"{name} is taken as the wood: it covers {percent:.0f} % of the picture's edge."


def _told(palette: Palette, wish: str) -> int:
    names = [colour.name.casefold() for colour in palette.colours]
    if wish.strip().casefold() in names:
        return names.index(wish.strip().casefold())
    if wish.strip().startswith("#"):
        wanted = rgb_from_hex(wish)
        gaps = srgb_difference(palette.rgb, wanted)
        if float(gaps.min()) <= _SAME_COLOUR:
            return int(np.argmin(gaps))
    raise SettingsError(
        f"wood {wish!r} is no colour of the picture; choose one of {_listed(palette)}",
        name="wood",
        value=wish,
    )


def _listed(palette: Palette) -> str:
    return ", ".join(colour.name for colour in palette.colours)
