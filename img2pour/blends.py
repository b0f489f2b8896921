"""Blended pixels between flat areas: which end of the blend each one belongs to."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from img2pour.blur import TO_LUMA_CHROMA, EdgeLook
from img2pour.colour import linear_from_srgb, srgb_from_linear

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Bits = NDArray[np.unsignedinteger]

CORE, NEITHER = 255, 1
# A colour from elsewhere must explain a pixel this much better (squared RGB distance) than the
# colours of the areas nearby.
_MARGIN = 24.0**2
# Where colour is blurred more than lightness, this much of it counts in finding the nearer end.
_CHROMA_WEIGHT = 0.4
_LIGHT_STEPS = 1024


def settle_blends(
    labels: Bytes, rgb: Bytes, core: Bytes, colours: Floats, look: EdgeLook, reach_px: int
) -> None:
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
    look : EdgeLook
        How edges are blended.
    reach_px : int
        How far around a pixel core colours count as nearby.
    """
    blended = np.flatnonzero(core.ravel() == 0)
    nearby = _core_colours_near(labels, core, len(colours), reach_px).ravel()[blended]
    settled = labels.reshape(-1)[blended]
    space = _BlendSpace.of(colours, look)
    order = np.argsort(nearby, kind="stable")
    groups, first = np.unique(nearby[order], return_index=True)
    flat = rgb.reshape(-1, 3)
    for bits, members in zip(groups, np.split(order, first[1:]), strict=True):
        inside = [k for k in range(len(colours)) if int(bits) >> k & 1]
        settled[members] = _settle_group(space, flat[blended[members]], inside)
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


def _settle_group(space: "_BlendSpace", pixels: Bytes, inside: list[int]) -> Bytes:
    """Label pixels that have the same core colours nearby."""
    every = list(range(len(space.place)))
    best, label = space.best(pixels, _pairs(inside or every))
    doubtful = np.flatnonzero(best > _MARGIN)
    elsewhere = [k for k in every if k not in inside] if inside else []
    if len(doubtful) and elsewhere:
        pairs = [(k, n) for k in elsewhere for n in inside]
        other, other_label = space.best(pixels[doubtful], pairs)
        better = best[doubtful] > other + _MARGIN
        label[doubtful[better]] = other_label[better]
    return label


def _pairs(members: list[int]) -> list[tuple[int, int]]:
    return list(combinations(members, 2)) or [(members[0], members[0])]


@dataclass(frozen=True, eq=False)
class _BlendSpace:
    """The space in which pixels are compared with blends of two colours.

    Attributes
    ----------
    to_place, to_share : ndarray of float32, shape (3, 3)
        From RGB to where distances are measured, and to where shares of a blend are.
    light : ndarray of float32, shape (256,)
        Level to light (or to itself, when blends are made of levels).
    place, share : ndarray of float32, shape (K, 3)
        The colours in both.
    look : EdgeLook
        How edges are blended.
    """

    to_place: Singles
    to_share: Singles
    light: Singles
    place: Singles
    share: Singles
    look: EdgeLook

    @classmethod
    def of(cls, colours: Floats, look: EdgeLook) -> "_BlendSpace":
        """Make the space for a palette."""
        to_place, to_share = np.eye(3), np.eye(3)
        if look.subsampled:
            to_place = TO_LUMA_CHROMA.T
            to_share = TO_LUMA_CHROMA.T * np.array([1, _CHROMA_WEIGHT, _CHROMA_WEIGHT])
        levels = np.arange(256.0)
        light, lit = levels, colours
        if look.linear_light:
            light, lit = 255 * linear_from_srgb(levels), 255 * linear_from_srgb(colours)
        single = np.float32
        return cls(
            to_place.astype(single),
            to_share.astype(single),
            light.astype(single),
            (colours @ to_place).astype(single),
            (lit @ to_share).astype(single),
            look,
        )

    def best(self, pixels: Bytes, pairs: list[tuple[int, int]]) -> tuple[Singles, Bytes]:
        """Return the least squared distance to a blend of one pair, and its nearer end."""
        place = pixels.astype(np.float32) @ self.to_place
        share = self.light[pixels] @ self.to_share
        best = np.full(len(pixels), np.inf, dtype=np.float32)
        label = np.zeros(len(pixels), dtype=np.uint8)
        for first, second in pairs:
            t = _shares(share, self.share[first], self.share[second])
            distance = self._distance(place, t, first, second)
            closer = distance < best
            np.copyto(best, distance, where=closer)
            np.copyto(label, np.where(t < 0.5, first, second).astype(np.uint8), where=closer)
        return best, label

    def _distance(self, place: Singles, t: Singles, first: int, second: int) -> Singles:
        """Return squared distances to the blends of two colours."""
        start, end = self.place[first], self.place[second]
        if self.look.subsampled:
            # Lightness may be anywhere between both, whatever the share of the colour.
            low, high = min(start[0], end[0]), max(start[0], end[0])
            level = place[:, 0]
            beyond = level - np.clip(level, low, high)
            chroma = _shares(place[:, 1:], start[1:], end[1:])
            gap = place[:, 1:] - start[1:] - chroma[:, None] * (end[1:] - start[1:])
            return np.asarray(np.einsum("nc,nc->n", gap, gap) + beyond**2)
        if self.look.linear_light:
            path = _light_path(self.share[first], self.share[second])
            gap = place - path[np.rint(t * _LIGHT_STEPS).astype(np.int32)]
        else:
            gap = place - start - t[:, None] * (end - start)
        return np.asarray(np.einsum("nc,nc->n", gap, gap))


def _shares(points: Singles, start: Singles, end: Singles) -> Singles:
    along = end - start
    squared = np.float32(max(float(along @ along), 1e-6))
    return np.asarray(np.clip((points - start) @ along / squared, 0, 1))


def _light_path(start: Singles, end: Singles) -> Singles:
    """Return the levels of blends in linear light, in even steps from start to end."""
    t = np.linspace(0, 1, _LIGHT_STEPS + 1)[:, None]
    return srgb_from_linear((start + t * (end - start)) / 255).astype(np.float32)
