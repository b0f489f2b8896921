"""Blended pixels between flat areas: which end of the blend each one belongs to."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from img2pour.blendspace import BlendSpace
from img2pour.blur import EdgeLook
from img2pour.nearest import FAR

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Bits = NDArray[np.unsignedinteger]

CORE, NEITHER = 255, 1
# A colour from elsewhere must explain a pixel this much better (squared RGB distance) than the
# colours of the areas nearby.
_MARGIN = 24.0**2
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
    number = len(colours)
    nearby = _core_colours_near(labels, core, number, reach_px).ravel()[blended]
    pixels = rgb.reshape(-1, 3)[blended]
    best = np.zeros(len(blended), dtype=np.float32)
    settled = labels.reshape(-1)[blended]
    for inside, members in _groups(nearby, number):
        best[members], settled[members] = _best_nearby(space, pixels[members], inside)
    # Colours shown close by, in thin strokes, come before any other of the palette.
    for shown_only in (True, False):
        at = np.flatnonzero((best > _MARGIN) & (nearby != 0))
        doubtful = _Doubtful(pixels[at], best[at], settled[at], nearby[at])
        others = ~nearby[at]
        if shown_only:
            others &= _colours_shown_near(found, blended[at], number, reach_px)
        doubtful.try_others(space, others)
        best[at], settled[at] = doubtful.best, doubtful.label
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


def _colours_shown_near(found: Bytes, pixels: NDArray[np.intp], number: int, reach_px: int) -> Bits:
    """Return a bit per colour that a pixel of the square window around shows as it is."""
    height, width = found.shape
    powers = _powers(number)
    row, column = np.divmod(pixels, width)
    shown = np.zeros(len(pixels), dtype=powers.dtype)
    for down in range(-reach_px, reach_px + 1):
        rows = np.clip(row + down, 0, height - 1)
        for right in range(-reach_px, reach_px + 1):
            shown |= powers[found[rows, np.clip(column + right, 0, width - 1)]]
    return shown


@dataclass(frozen=True, eq=False)
class _Doubtful:
    """Pixels that the colours nearby do not explain: best fit so far, label, bits of those."""

    pixels: Bytes
    best: Singles
    label: Bytes
    nearby: Bits

    def try_others(self, space: BlendSpace, others: Bits) -> None:
        """Take blends of another colour and one nearby where they explain a pixel far better."""
        number = len(space.place)
        least = self.best - _MARGIN
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


def _has(bits: Bits, at: int) -> NDArray[np.bool_]:
    return np.asarray(bits >> np.asarray(at, bits.dtype) & np.asarray(1, bits.dtype) != 0)


def _core_colours_near(labels: Bytes, core: Bytes, number: int, reach_px: int) -> Bits:
    """Return for each pixel a bit per colour that has core within a square window."""
    bits = _powers(number)[labels]
    bits[core != CORE] = 0
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
