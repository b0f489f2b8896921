"""Colours that a person gave, as the picture shows them."""

import numpy as np
from numpy.typing import NDArray

from img2pour.colour import srgb_difference
from img2pour.colours.flats import Flats
from img2pour.colours.modes import core_means

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

# A found colour this near (CIEDE2000) to a given one is the same; one further off, up to
# _MATCHES, is a shade of it when no given colour is nearer.
_SAME, _MATCHES = 6.0, 20.0
_LEAST_PIXELS = 12
_FAR_MORE = 5


def measure_given(
    rgb: Bytes, flats: Flats, wanted: Floats, found: Floats, number_flat: int
) -> tuple[Floats, NDArray[np.bool_]]:
    """Measure given colours on the flat pixels of a picture.

    A scan shows a colour a little off the one that was asked for, and edges can be placed well
    only with the colour that is there. Thin strokes show a colour mixed with what lies beside
    them: there the given one is truer, and stays.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    flats : Flats
        Its flat pixels.
    wanted : ndarray of float64, shape (K, 3)
        The given colours, sRGB.
    found : ndarray of float64, shape (M, 3)
        The colours that the picture shows, those with flat pixels first.
    number_flat : int
        How many of them have flat pixels.

    Returns
    -------
    measured : ndarray of float64, shape (K, 3)
        The given colours as the picture shows them.
    missing : ndarray of bool, shape (K,)
        True for colours that the picture does not show.
    """
    number = len(wanted)
    gaps = np.full((number, len(found) + 1), np.inf)
    gaps[:, :-1] = srgb_difference(wanted[:, None], found[None])
    shades = np.flatnonzero(gaps[:, :number_flat].min(axis=0) > _SAME)
    means, counts = core_means(rgb, flats, np.vstack([wanted, found[shades]]))
    measured = wanted.copy()
    missing = np.zeros(number, dtype=bool)
    for at in range(number):
        own = counts[at] >= _LEAST_PIXELS and srgb_difference(means[at], wanted[at]) <= _MATCHES
        near = int(gaps[at].argmin())
        shade = number + int(np.searchsorted(shades, near))
        is_shade = near in shades and gaps[at, near] <= _MATCHES and gaps[:, near].argmin() == at
        if is_shade and (not own or counts[shade] > _FAR_MORE * counts[at]):
            measured[at] = means[shade]
        elif own:
            measured[at] = means[at]
        else:
            missing[at] = gaps[at, near] > _MATCHES
    return measured, missing
