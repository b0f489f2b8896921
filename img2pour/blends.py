"""Blended pixels between flat areas: which end of the blend each one belongs to."""

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Bits = NDArray[np.unsignedinteger]

CORE, NEITHER = 255, 1
# A colour from elsewhere must explain a pixel this much better (squared RGB distance) than the
# colours of the areas nearby.
_MARGIN = 24.0**2


def settle_blends(labels: Bytes, rgb: Bytes, core: Bytes, colours: Floats, reach_px: int) -> None:
    """Set the labels of all pixels that are not core, in place.

    Parameters
    ----------
    labels : ndarray of uint8, shape (H, W)
        Nearest colours; changed where not core.
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    core : ndarray of uint8, shape (H, W)
        CORE for core pixels, NEITHER for pixels to leave out, 0 for those to settle.
    colours : ndarray of float64, shape (K, 3)
        The palette, at most 64 colours.
    reach_px : int
        How far around a pixel core colours count as nearby.
    """
    blended = np.flatnonzero(core.ravel() == 0)
    nearby = _core_colours_near(labels, core, len(colours), reach_px).ravel()[blended]
    pixels = rgb.reshape(-1, 3)[blended].astype(np.float32)
    settled = labels.reshape(-1)[blended]
    palette = colours.astype(np.float32)
    order = np.argsort(nearby, kind="stable")
    groups, first = np.unique(nearby[order], return_index=True)
    for bits, members in zip(groups, np.split(order, first[1:]), strict=True):
        inside = [k for k in range(len(colours)) if int(bits) >> k & 1]
        settled[members] = _settle_group(pixels[members], palette, inside)
    labels.reshape(-1)[blended] = settled


def _core_colours_near(labels: Bytes, core: Bytes, number: int, reach_px: int) -> Bits:
    """Return for each pixel a bit per colour that has core within a square window."""
    powers = np.zeros(256, dtype=_bits_for(number))
    for at in range(number):
        powers[at] = 1 << at
    bits = powers[labels]
    bits[core != CORE] = 0
    return _spread(_spread(bits, reach_px, axis=0), reach_px, axis=1)


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


def _settle_group(pixels: Singles, palette: Singles, inside: list[int]) -> Bytes:
    """Label pixels that have the same core colours nearby."""
    if not inside:
        inside = list(range(len(palette)))
    best, label = _best_blend(pixels, palette, _pairs(inside))
    doubtful = np.flatnonzero(best > _MARGIN)
    elsewhere = [k for k in range(len(palette)) if k not in inside]
    if len(doubtful) and elsewhere:
        pairs = [(k, n) for k in elsewhere for n in inside]
        other, other_label = _best_blend(pixels[doubtful], palette, pairs)
        better = best[doubtful] > other + _MARGIN
        label[doubtful[better]] = other_label[better]
    return label


def _pairs(members: list[int]) -> list[tuple[int, int]]:
    return list(combinations(members, 2)) or [(members[0], members[0])]


def _best_blend(
    pixels: Singles, palette: Singles, pairs: list[tuple[int, int]]
) -> tuple[Singles, Bytes]:
    """Return the least squared distance to a blend of one of the pairs, and its nearer end."""
    best = np.full(len(pixels), np.inf, dtype=np.float32)
    label = np.zeros(len(pixels), dtype=np.uint8)
    for first, second in pairs:
        from_first = pixels - palette[first]
        along = palette[second] - palette[first]
        squared = np.float32(max(float(along @ along), 1e-6))
        reach = from_first @ along
        t = np.clip(reach / squared, 0, 1)
        distance = np.einsum("nc,nc->n", from_first, from_first) - t * (2 * reach - t * squared)
        closer = distance < best
        np.copyto(best, distance, where=closer)
        np.copyto(label, np.where(t < 0.5, first, second).astype(np.uint8), where=closer)
    return best, label
