"""The few flat colours that a picture is reduced to.

Colours are found among flat pixels (`flats`), then among thin strokes (`thin`). A wish for a
number of colours merges or splits them; a fixed list is matched to what the picture shows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from img2pour.colour import hex_from_rgb, rgb_from_hex, srgb_difference
from img2pour.colours.blur import EdgeLook, measure_edges
from img2pour.colours.flats import Flats, all_flat, find_flats
from img2pour.colours.given import measure_given
from img2pour.colours.modes import (
    CELL,
    colour_counts,
    drop_blends,
    flat_colours,
    gather_modes,
    graded_colours,
)
from img2pour.colours.names import nearest_name, tell_apart
from img2pour.colours.reduce import choose_colours, merge_to, split_to
from img2pour.colours.solid import solid_colours
from img2pour.colours.thin import add_thin_colours
from img2pour.errors import SettingsError
from img2pour.picture import Picture

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Wish = str | int | Sequence[tuple[str, str | None]]

MOST_COLOURS = 64
FLAT_ART_SHARE = 0.7
"""Below this share of explained pixels a picture counts as one without flat colours."""

# Below this difference (CIEDE2000) two cured resins side by side are hard to tell apart.
_ALIKE = 6.0
_COLOURS_WITHOUT_FLATS = 8
# Levels by which a flat pixel may differ from its colour and still show it truly.
_TRUE_WITHIN = 8.0


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
    look : EdgeLook
        Blur and blending of the edges in full.
    hard_edged : bool
        Every pixel has exactly the colour of its area: nothing is blended.
    """

    colours: tuple[PaletteColour, ...]
    explained_share: float
    blur_px: float
    noise: float
    notes: tuple[str, ...] = ()
    look: EdgeLook = field(default_factory=EdgeLook)
    hard_edged: bool = False

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
    solid = solid_colours(picture.rgb, picture.outside)
    flats = (find_flats if solid is None else all_flat)(picture.rgb, picture.outside)
    counts = _count_colours(picture.rgb, flats)
    found, look, number_flat = (
        _find_colours(picture.rgb, flats, counts)
        if solid is None
        else (solid, EdgeLook(), len(solid))
    )
    notes: list[str] = []
    if given:
        wanted = np.array([rgb_from_hex(code) for code, _ in given])
        rgb, missing = measure_given(picture.rgb, flats, wanted, found, number_flat)
        hexes = [code for code, _ in given]
        names = [name or nearest_name(code) for (_, name), code in zip(given, wanted, strict=True)]
        notes += [
            f"Colour {names[at]} ({hexes[at]}) is not in the picture."
            for at in np.flatnonzero(missing)
        ]
    else:
        rgb = _reduce(found, flats, counts, wish, notes)
        rgb = rgb[np.argsort(-counts.shares(rgb), kind="stable")]
        hexes = [hex_from_rgb(colour) for colour in rgb]
        names = [nearest_name(colour) for colour in rgb]
    colours = tuple(
        PaletteColour(name, (float(r), float(g), float(b)), code, float(share))
        for name, (r, g, b), code, share in zip(
            tell_apart(names), rgb, hexes, counts.shares(rgb), strict=True
        )
    )
    explained = _explained_share(flats, counts, rgb)
    notes += _notes_on(colours, explained, given=bool(given))
    hard_edged = solid is not None
    return Palette(colours, explained, look.blur_px, flats.noise, tuple(notes), look, hard_edged)


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


@dataclass(frozen=True, eq=False)
class _Counts:
    """Pixels by colour, flat and rough ones apart, as `colour_counts` gives them."""

    flat: Floats
    rough: Floats

    def shares(self, colours: Floats) -> Floats:
        """Return the share of the pixels nearest to each colour."""
        every = self.flat + self.rough
        cells = np.argwhere(every > 0)
        weights = every[tuple(cells.T)]
        shown = cells * CELL + (CELL - 1) / 2
        gaps = np.array([((shown - colour) ** 2).sum(axis=1) for colour in colours])
        counts = np.bincount(gaps.argmin(axis=0), weights=weights, minlength=len(colours))
        return np.asarray(counts / max(weights.sum(), 1.0))


def _count_colours(rgb: Bytes, flats: Flats) -> _Counts:
    step = flats.step
    return _Counts(
        colour_counts(flats.sample, flats.flat[::step], step),
        colour_counts(rgb[::step], flats.rough[::step], step),
    )


def _find_colours(rgb: Bytes, flats: Flats, counts: _Counts) -> tuple[Floats, EdgeLook, int]:
    """Return flat colours and then those of thin strokes, and how many are flat."""
    modes, taken = gather_modes(counts.flat, float((counts.flat + counts.rough).sum()))
    colours = flat_colours(rgb, flats, drop_blends(rgb, flats, modes, taken))
    look = measure_edges(rgb, flats, colours)
    return add_thin_colours(rgb, flats, counts.rough, colours, look), look, len(colours)


def _reduce(found: Floats, flats: Flats, counts: _Counts, wish: Wish, notes: list[str]) -> Floats:
    every = counts.flat + counts.rough
    if isinstance(wish, int):
        if len(found) > wish:
            return merge_to(found, counts.shares(found), wish)
        if len(found) < wish:
            found = split_to(found, every, wish)
            if len(found) < wish:
                notes.append(
                    f"The picture holds only {len(found)} colours that can be told apart, "
                    f"not {wish}."
                )
        return found
    if len(found):
        graded = graded_colours(counts.flat, found)
        if _explained_share(flats, counts, found, ~graded) >= FLAT_ART_SHARE:
            return found[:MOST_COLOURS]
    return _told_apart(choose_colours(every, _COLOURS_WITHOUT_FLATS), counts)


def _told_apart(colours: Floats, counts: _Counts) -> Floats:
    """Return colours of our own choice with those joined that are hard to tell apart in resin."""
    while len(colours) > 1:
        gaps = srgb_difference(colours[:, None], colours[None])
        np.fill_diagonal(gaps, np.inf)
        if gaps.min() >= _ALIKE:
            break
        pair = list(np.unravel_index(int(gaps.argmin()), gaps.shape))
        shares = counts.shares(colours)[pair]
        joined = np.average(colours[pair], axis=0, weights=np.maximum(shares, 1e-9))
        colours = np.vstack([np.delete(colours, pair, axis=0), joined])
    return colours


def _explained_share(
    flats: Flats, counts: _Counts, colours: Floats, counted: NDArray[np.bool_] | None = None
) -> float:
    """Return the share of flat pixels that show a colour truly, times what lies beside them.

    A pixel within 4 px of a flat one counts as the edge of a flat area. Only the `counted`
    colours can be shown.
    """
    tolerance = _TRUE_WITHIN + flats.noise
    cells = np.argwhere(counts.flat > 0)
    weights = counts.flat[tuple(cells.T)]
    shown = cells * CELL + (CELL - 1) / 2
    gaps = np.array([np.abs(shown - colour).max(axis=1) for colour in colours])
    true = gaps.min(axis=0) <= tolerance
    if counted is not None:
        true &= counted[gaps.argmin(axis=0)]
    return float(weights[true].sum() / max(weights.sum(), 1.0) * flats.explained)


def _notes_on(colours: tuple[PaletteColour, ...], explained: float, *, given: bool) -> list[str]:
    notes = []
    if explained < FLAT_ART_SHARE:
        kept = "the given colours explain" if given else f"{len(colours)} colours explain"
        kept = "1 colour explains" if len(colours) == 1 and not given else kept
        notes.append(
            f"The picture has no clear flat colours: {kept} only "
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
