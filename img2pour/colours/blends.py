"""Blended pixels between flat areas: which end of the blend each one belongs to."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colours.blendspace import BlendSpace
from img2pour.colours.blur import EdgeLook
from img2pour.colours.nearest import FAR

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Bits = NDArray[np.unsignedinteger]
Places = NDArray[np.intp]

CORE, NEITHER = 255, 1
# A colour from elsewhere must explain a pixel this much better (squared RGB distance) than the
# colours of the areas nearby.
_MARGIN = 24.0**2
# A pixel lies between two neighbours when they differ from it in opposite ways (squared RGB).
_SLOPE = 12**2
_ALONG_AXES = ((0, 1), (1, 0))
_ALL_LINES = (*_ALONG_AXES, (1, 1), (1, -1))
# With more colours nearby, blends of three explain everything and nothing.
_MOST_IN_TRIPLES = 5


def settle_blends(
    found: Bytes, rgb: Bytes, core: Bytes, colours: Floats, look: EdgeLook, reach_px: int
) -> Bytes:
    """Settle the labels of all pixels that are not core.

    Parameters
    ----------
    found : ndarray of uint8, shape (H, W)
        Nearest colours, with FAR added where they are not near.
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    core : ndarray of uint8, shape (H, W)
        CORE for core pixels, NEITHER for pixels to leave out, 0 for those to settle.
    colours : ndarray of float64, shape (K, 3)
        The palette, at most 64 colours.
    look : EdgeLook
        How edges are blended.
    reach_px : int
        How far around a pixel core colours count as nearby.

    Returns
    -------
    ndarray of uint8, shape (H, W)
        The nearest colour for core pixels and those left out, the settled one for all others.
    """
    labels = found & np.uint8(FAR - 1)
    space = BlendSpace.of(colours, look)
    blended = np.flatnonzero(core.ravel() == 0)
    if len(blended) == 0:
        return labels
    number = len(colours)
    nearby = _core_colours_near(labels, core, number, reach_px).ravel()[blended]
    pixels = rgb.reshape(-1, 3)[blended]
    best = np.zeros(len(blended), dtype=np.float32)
    settled = labels.reshape(-1)[blended]
    for inside, members in _groups(nearby, number):
        best[members], settled[members] = _best_nearby(space, pixels[members], inside)
    kept = np.flatnonzero(_shows_one_of_many(found, rgb, blended, nearby, number))
    settled[kept], best[kept] = labels.reshape(-1)[blended[kept]], 0
    evidence = _Evidence.of(found, rgb, blended, nearby, number)
    # Colours shown close by, in thin strokes, come before any other of the palette; and the
    # middle of a stroke, where it is purest, before its sides.
    for shown_only, middle_only in ((True, False), (False, True), (True, False), (False, False)):
        at = np.flatnonzero((best > _MARGIN) & (nearby != 0))
        if middle_only:
            at = at[~_on_slope(rgb, blended[at])]
        others = ~nearby[at]
        if shown_only:
            others &= evidence.near(blended[at], reach_px)
        doubtful = _Doubtful(pixels[at], best[at], settled[at], nearby[at])
        changed = doubtful.try_others(space, others)
        best[at], settled[at] = doubtful.best, doubtful.label
        if middle_only:
            evidence.add(blended[at[changed]], doubtful.label[changed])
    labels.reshape(-1)[blended] = settled
    return labels


def _groups(nearby: Bits, number: int) -> Iterator[tuple[list[int], NDArray[np.intp]]]:
    """Yield the colours of each set of bits, and the places that have that set."""
    order = np.argsort(nearby, kind="stable")
    sets, first = np.unique(nearby[order], return_index=True)
    for bits, members in zip(sets, np.split(order, first[1:]), strict=True):
        yield [k for k in range(number) if int(bits) >> k & 1], members


def _best_nearby(space: BlendSpace, pixels: Bytes, inside: list[int]) -> tuple[Singles, Bytes]:
    """Fit blends of the colours nearby, of three where two do not explain a pixel."""
    inside = inside or list(range(len(space.place)))
    pairs = list(combinations(inside, 2)) or [(inside[0], inside[0])]
    best, label = space.best(pixels, pairs)
    if 3 <= len(inside) <= _MOST_IN_TRIPLES:
        rest = np.flatnonzero(best > _MARGIN)
        inner, inner_label = space.best_of_three(pixels[rest], list(combinations(inside, 3)))
        closer = inner < best[rest]
        best[rest[closer]], label[rest[closer]] = inner[closer], inner_label[closer]
    return best, label


def _shows_one_of_many(
    found: Bytes, rgb: Bytes, blended: Places, nearby: Bits, number: int
) -> NDArray[np.bool_]:
    """Tell where a pixel shows a colour nearby as it is, and three or more are nearby.

    One of them can then be a blend of two others; on the slope of an edge it is taken for that.
    """
    own = _powers(number)[found.reshape(-1)[blended]]
    shows = np.asarray((own & nearby != 0) & (np.bitwise_count(nearby) >= 3))
    at = np.flatnonzero(shows)
    shows[at] = ~_on_slope(rgb, blended[at], _ALONG_AXES)
    return shows


@dataclass(frozen=True, eq=False)
class _Evidence:
    """Pixels that show a colour without core nearby: its bit at each, shape (H, W)."""

    bits: Bits
    powers: Bits

    @classmethod
    def of(
        cls, found: Bytes, rgb: Bytes, blended: Places, nearby: Bits, number: int
    ) -> "_Evidence":
        """Take the pixels that are near to such a colour and not on the slope of an edge."""
        powers = _powers(number)
        shown = powers[found.reshape(-1)[blended]]
        places = blended[(shown & ~nearby) != 0]
        places = places[~_on_slope(rgb, places)]
        evidence = cls(np.zeros(found.shape, dtype=powers.dtype), powers)
        evidence.add(places, found.reshape(-1)[places])
        return evidence

    def add(self, places: Places, labels: Bytes) -> None:
        self.bits.reshape(-1)[places] = self.powers[labels]

    def near(self, places: Places, reach_px: int) -> Bits:
        """Return all bits in the square windows around places."""
        height, width = self.bits.shape
        row, column = np.divmod(places, width)
        shown = np.zeros(len(places), dtype=self.bits.dtype)
        for down in range(-reach_px, reach_px + 1):
            rows = np.clip(row + down, 0, height - 1)
            for right in range(-reach_px, reach_px + 1):
                shown |= self.bits[rows, np.clip(column + right, 0, width - 1)]
        return shown


def _on_slope(
    rgb: Bytes, places: Places, lines: Sequence[tuple[int, int]] = _ALL_LINES
) -> NDArray[np.bool_]:
    """Tell where a pixel lies between its neighbours in colour, along any of the lines."""
    height, width = rgb.shape[:2]
    row, column = np.divmod(places, width)
    own = rgb[row, column].astype(np.int32)
    slope = np.zeros(len(places), dtype=bool)
    for down, right in lines:
        before, after = (
            rgb[
                np.clip(row + side * down, 0, height - 1),
                np.clip(column + side * right, 0, width - 1),
            ]
            - own
            for side in (-1, 1)
        )
        slope |= np.einsum("nc,nc->n", before, after) < -_SLOPE
    return slope


@dataclass(frozen=True, eq=False)
class _Doubtful:
    """Pixels that the colours nearby do not explain: best fit so far, label, bits of those."""

    pixels: Bytes
    best: Singles
    label: Bytes
    nearby: Bits

    def try_others(self, space: BlendSpace, others: Bits) -> NDArray[np.bool_]:
        """Take blends of another colour and one nearby where they explain a pixel far better.

        Returns
        -------
        ndarray of bool, shape (n,)
            True where one was taken.
        """
        number = len(space.place)
        least = self.best - _MARGIN
        taken = np.zeros(len(self.best), dtype=bool)
        for other in range(number):
            has_other = np.flatnonzero(_has(others, other))
            for known in range(number):
                both = has_other[_has(self.nearby[has_other], known)]
                if len(both) == 0:
                    continue
                distance, label = space.best(self.pixels[both], [(other, known)])
                better = distance < least[both]
                changed = both[better]
                least[changed] = self.best[changed] = distance[better]
                self.label[changed] = label[better]
                taken[changed] = True
        return taken


def _has(bits: Bits, at: int) -> NDArray[np.bool_]:
    return np.asarray(bits >> np.asarray(at, bits.dtype) & np.asarray(1, bits.dtype) != 0)


def _core_colours_near(labels: Bytes, core: Bytes, number: int, reach_px: int) -> Bits:
    """Return for each pixel a bit per colour that has core within a square window."""
    powers = _powers(number)
    # OpenCV looks bytes up far faster, but knows no wider unsigned numbers.
    if powers.dtype == np.uint8:
        bits = np.asarray(cv2.LUT(labels, powers), dtype=np.uint8)
    else:
        bits = powers[labels]
    np.multiply(bits, core == CORE, out=bits)
    return _spread(_spread(bits, reach_px, axis=0), reach_px, axis=1)


def _powers(number: int) -> Bits:
    """Return the bit of each label, none for other values."""
    powers = np.zeros(256, dtype=_bits_for(number))
    for at in range(number):
        powers[at] = 1 << at
    return powers


def _bits_for(number: int) -> type[np.unsignedinteger]:
    if number <= 8:
        return np.uint8
    if number <= 16:
        return np.uint16
    return np.uint32 if number <= 32 else np.uint64


def _spread(bits: Bits, reach: int, axis: int) -> Bits:
    """Combine each value with those up to `reach` before and after it along an axis."""
    size = bits.shape[axis]
    pad = [(0, 0), (0, 0)]
    pad[axis] = (reach, reach)
    window = np.pad(bits, pad)
    covered, needed = 1, 2 * reach + 1
    while covered < needed:
        step = min(covered, needed - covered)
        length = window.shape[axis] - step
        window = _part(window, 0, length, axis) | _part(window, step, length, axis)
        covered += step
    return _part(window, 0, size, axis)


def _part(bits: Bits, start: int, length: int, axis: int) -> Bits:
    return bits[start : start + length] if axis == 0 else bits[:, start : start + length]
