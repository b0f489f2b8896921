"""The few flat colours that a picture is reduced to.

Colours are found among flat pixels (`flats`), then among thin strokes (`thin`). A wish for a
number of colours merges or splits them; a fixed list is matched to what the picture shows.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.blur import estimate_blur_px
from img2pour.colour import hex_from_rgb, rgb_from_hex, srgb_difference
from img2pour.errors import SettingsError
from img2pour.flats import (
    Flats,
    colour_counts,
    core_means,
    drop_blends,
    find_flats,
    gather_modes,
    mask_of,
)
from img2pour.names import nearest_name, tell_apart
from img2pour.nearest import nearest_index, nearest_table
from img2pour.picture import Picture
from img2pour.reduce import choose_colours, merge_to, split_to
from img2pour.thin import add_thin_colours

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Wish = Literal["auto"] | int | Sequence[tuple[str, str | None]]

MOST_COLOURS = 64
# Below this difference (CIEDE2000) two cured resins side by side are hard to tell apart.
_ALIKE = 6.0
# Below this share of explained pixels a picture counts as one without flat colours.
_FLAT_ART_SHARE = 0.7
_COLOURS_WITHOUT_FLATS = 8
_GIVEN_MATCHES = 20.0


@dataclass(frozen=True)
class PaletteColour:
    """One flat colour.

    Attributes
    ----------
    name : str
        Given, or the nearest CSS name; differs from all others of the palette.
    rgb : tuple of float
        sRGB of 0..255 as the picture shows it.
    hex : str
        ``#rrggbb``; as given, when it was.
    share : float
        Share of the pixels that are not outside.
    """

    name: str
    rgb: tuple[float, float, float]
    hex: str
    share: float


@dataclass(frozen=True)
class Palette:
    """All flat colours of a picture, largest first or in the order given.

    Attributes
    ----------
    colours : tuple of PaletteColour
        At least one.
    explained_share : float
        Share of the pixels that are of these colours or on an edge next to them.
    blur_px : float
        Estimated sigma of the blur of edges.
    noise : float
        Standard deviation of the noise on flat pixels, in levels of 0..255.
    notes : tuple of str
        What a person should know, in plain words.
    """

    colours: tuple[PaletteColour, ...]
    explained_share: float
    blur_px: float
    noise: float
    notes: tuple[str, ...] = ()

    @property
    def rgb(self) -> Floats:
        """All colours as an array, shape (K, 3)."""
        return np.array([colour.rgb for colour in self.colours], dtype=np.float64)


def find_palette(picture: Picture, wish: Wish = "auto") -> Palette:
    """Find the flat colours of a picture.

    Parameters
    ----------
    picture : Picture
        The picture.
    wish : "auto", int, or sequence of (hex, name or None)
        Let the number be found, or reduce to that many colours (1 to 64), or use these colours.

    Returns
    -------
    Palette
        The colours with shares, blur and noise.

    Raises
    ------
    SettingsError
        When the number is out of range or the list is empty, too long or holds a colour twice.
    """
    given = _check_wish(wish)
    flats = find_flats(picture.rgb, picture.outside)
    found = _find_colours(picture, flats)
    notes: list[str] = []
    if given:
        rgb, hexes, names = _match_given(given, found, notes)
    else:
        rgb = _reduce(picture, flats, found, wish, notes)
        hexes = [hex_from_rgb(colour) for colour in rgb]
        names = [nearest_name(colour) for colour in rgb]
    labels = nearest_index(picture.rgb, nearest_table(rgb))
    shares = _shares(labels, picture.outside, len(rgb))
    explained = _explained_share(flats, rgb, labels)
    if not given:
        order = np.argsort(-shares, kind="stable")
        rgb, shares = rgb[order], shares[order]
        hexes, names = [hexes[at] for at in order], [names[at] for at in order]
        labels = np.argsort(order).astype(np.uint8)[labels]
    colours = tuple(
        PaletteColour(name, (float(r), float(g), float(b)), code, float(share))
        for name, (r, g, b), code, share in zip(tell_apart(names), rgb, hexes, shares, strict=True)
    )
    notes += _notes_on(colours, explained, given=bool(given))
    blur_px = estimate_blur_px(picture.rgb, flats.mask, labels, rgb)
    return Palette(colours, explained, blur_px, flats.noise, tuple(notes))


def _check_wish(wish: Wish) -> list[tuple[str, str | None]]:
    """Return the colours of a fixed list, or an empty list for a number or "auto"."""
    if isinstance(wish, str):
        if wish != "auto":
            raise SettingsError(
                f"colours {wish!r} is neither auto, a number nor a list of hex=name",
                name="colours",
                value=wish,
            )
        return []
    if isinstance(wish, int):
        if not 1 <= wish <= MOST_COLOURS:
            raise SettingsError(
                f"colours {wish} is out of range; choose 1 to {MOST_COLOURS}",
                name="colours",
                value=wish,
            )
        return []
    codes = [hex_from_rgb(rgb_from_hex(code)) for code, _ in wish]
    if not 1 <= len(codes) <= MOST_COLOURS:
        raise SettingsError(
            f"the list holds {len(codes)} colours; give 1 to {MOST_COLOURS}",
            name="colours",
            value=len(codes),
        )
    for code in codes:
        if codes.count(code) > 1:
            raise SettingsError(
                f"colour {code} is given twice; give each once", name="colours", value=code
            )
    return [(code, name) for code, (_, name) in zip(codes, wish, strict=True)]


def _find_colours(picture: Picture, flats: Flats) -> Floats:
    modes, taken = gather_modes(colour_counts(flats.smooth, flats.mask), flats.pixels)
    colours, _ = core_means(picture.rgb, flats, drop_blends(flats, modes, taken))
    return add_thin_colours(picture.rgb, flats, colours, MOST_COLOURS)


def _reduce(picture: Picture, flats: Flats, found: Floats, wish: Wish, notes: list[str]) -> Floats:
    counts = colour_counts(picture.rgb, None if picture.outside is None else flats.inside)
    if isinstance(wish, int):
        if len(found) > wish:
            return merge_to(found, _weights(picture, found), wish)
        if len(found) < wish:
            found = split_to(found, counts, wish)
            if len(found) < wish:
                notes.append(
                    f"The picture holds only {len(found)} colours that can be told apart, "
                    f"not {wish}."
                )
        return found
    labels = nearest_index(picture.rgb, nearest_table(found)) if len(found) else None
    if labels is not None and _explained_share(flats, found, labels) >= _FLAT_ART_SHARE:
        return found if len(found) <= MOST_COLOURS else found[:MOST_COLOURS]
    return choose_colours(counts, _COLOURS_WITHOUT_FLATS)


def _weights(picture: Picture, colours: Floats) -> Floats:
    labels = nearest_index(picture.rgb, nearest_table(colours))
    return _shares(labels, picture.outside, len(colours))


def _shares(labels: Bytes, outside: NDArray[np.bool_] | None, number: int) -> Floats:
    inside = None if outside is None else np.where(outside, 0, 255).astype(np.uint8)
    counts = cv2.calcHist([labels], [0], inside, [256], [0, 256]).ravel().astype(np.float64)
    return np.asarray(counts[:number] / max(counts.sum(), 1.0))


def _explained_share(flats: Flats, colours: Floats, labels: Bytes) -> float:
    """Return the share of pixels within 4 px of a flat one that shows its colour truly."""
    tolerance = 8.0 + 2.0 * flats.noise
    true = np.zeros(labels.shape, dtype=np.uint8)
    for at, colour in enumerate(colours):
        low, high = np.clip(colour - tolerance, 0, 255), np.clip(colour + tolerance, 0, 255)
        near = cv2.inRange(flats.smooth, np.floor(low), np.ceil(high))
        true |= np.asarray(cv2.bitwise_and(near, mask_of(labels, at)), dtype=np.uint8)
    true &= flats.mask
    spread = cv2.bitwise_and(cv2.dilate(true, np.ones((9, 9), dtype=np.uint8)), flats.inside)
    return cv2.countNonZero(spread) / max(flats.pixels, 1)


def _match_given(
    given: list[tuple[str, str | None]], found: Floats, notes: list[str]
) -> tuple[Floats, list[str], list[str]]:
    """Take each given colour as the picture shows it, when the picture shows one close to it."""
    wanted = np.array([rgb_from_hex(code) for code, _ in given])
    rgb = wanted.copy()
    names = [name or nearest_name(code) for (_, name), code in zip(given, wanted, strict=True)]
    if len(found):
        gaps = srgb_difference(wanted[:, None], found[None])
    else:
        gaps = np.full((len(wanted), 1), np.inf)
    for at, (code, _) in enumerate(given):
        best = int(np.argmin(gaps[at]))
        if gaps[at, best] > _GIVEN_MATCHES:
            notes.append(f"Colour {names[at]} ({code}) is not in the picture.")
        elif int(np.argmin(gaps[:, best])) == at:
            rgb[at] = found[best]
    return rgb, [code for code, _ in given], names


def _notes_on(colours: tuple[PaletteColour, ...], explained: float, *, given: bool) -> list[str]:
    notes = []
    if explained < _FLAT_ART_SHARE:
        kept = "the given" if given else str(len(colours))
        notes.append(
            f"The picture has no clear flat colours: {kept} colours explain only "
            f"{100 * explained:.0f} % of it. Look at the result closely, or choose the colours."
        )
    for one, other in combinations(colours, 2):
        gap = float(srgb_difference(one.rgb, other.rgb))
        if gap < _ALIKE:
            notes.append(
                f"{one.name} ({one.hex}) and {other.name} ({other.hex}) are hard to tell apart "
                f"in resin (CIEDE2000 {gap:.1f})."
            )
    return notes
