"""Measuring how well blends of two or three colours explain pixels."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import linear_from_srgb, srgb_from_linear
from img2pour.colours.blur import TO_LUMA_CHROMA, EdgeLook

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

# Where colour is blurred more than lightness, this much of it counts in finding the nearer end.
_LUMA_FIRST = np.array([1.0, 0.4, 0.4], dtype=np.float32)
_LIGHT_STEPS = 1024


@dataclass(frozen=True, eq=False)
class BlendSpace:
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
    def of(cls, colours: Floats, look: EdgeLook) -> "BlendSpace":
        """Make the space for a palette."""
        to_place, to_share = np.eye(3), np.eye(3)
        if look.subsampled:
            to_place = TO_LUMA_CHROMA.T
            to_share = TO_LUMA_CHROMA.T * _LUMA_FIRST
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
        place = self._place(pixels)
        if len(pairs) == 1 and pairs[0][0] == pairs[0][1]:
            gap = place - self.place[pairs[0][0]]
            label = np.full(len(pixels), pairs[0][0], dtype=np.uint8)
            return np.einsum("nc,nc->n", gap, gap), label
        share = self._share(pixels, place)
        best = np.full(len(pixels), np.inf, dtype=np.float32)
        label = np.zeros(len(pixels), dtype=np.uint8)
        for first, second in pairs:
            t = _shares(share, self.share[first], self.share[second])
            distance = self._distance(place, t, first, second)
            closer = distance < best
            np.copyto(best, distance, where=closer)
            np.copyto(label, np.where(t < 0.5, first, second).astype(np.uint8), where=closer)
        return best, label

    def best_of_three(
        self, pixels: Bytes, triples: list[tuple[int, int, int]]
    ) -> tuple[Singles, Bytes]:
        """Return the least squared distance to the inside of a triangle, and its largest share.

        The sides of the triangles are left to `best`: pixels beyond them are infinitely far.
        """
        place = self._place(pixels)
        best = np.full(len(pixels), np.inf, dtype=np.float32)
        label = np.zeros(len(pixels), dtype=np.uint8)
        for triple in triples:
            start, *others = self.place[list(triple)].astype(np.float64)
            sides = np.array(others) - start
            gram = sides @ sides.T
            if np.linalg.det(gram) < 1.0:
                continue
            weights = (place - start) @ sides.T @ np.linalg.inv(gram)
            gap = place - start - weights @ sides
            shares = np.column_stack([1 - weights.sum(axis=1), weights])
            distance = np.einsum("nc,nc->n", gap, gap).astype(np.float32)
            closer = (distance < best) & (shares.min(axis=1) >= 0)
            best[closer] = distance[closer]
            label[closer] = np.array(triple, dtype=np.uint8)[shares[closer].argmax(axis=1)]
        return best, label

    def _place(self, pixels: Bytes) -> Singles:
        place = pixels.astype(np.float32)
        return _transformed(place, self.to_place) if self.look.subsampled else place

    def _share(self, pixels: Bytes, place: Singles) -> Singles:
        if self.look.linear_light:
            lit = np.asarray(cv2.LUT(pixels, self.light), dtype=np.float32)
            return _transformed(lit, self.to_share)
        return place * _LUMA_FIRST if self.look.subsampled else place

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


def _transformed(points: Singles, matrix: Singles) -> Singles:
    """Multiply points of shape (n, 3) by a matrix; far faster than numpy for so few columns."""
    if len(points) == 0:
        return points
    moved = cv2.transform(points[None], matrix.T.copy())
    return np.asarray(moved, dtype=np.float32).reshape(-1, 3)


def _shares(points: Singles, start: Singles, end: Singles) -> Singles:
    along = end - start
    squared = np.float32(max(float(along @ along), 1e-6))
    return np.asarray(np.clip((points - start) @ along / squared, 0, 1))


def _light_path(start: Singles, end: Singles) -> Singles:
    """Return the levels of blends in linear light, in even steps from start to end."""
    t = np.linspace(0, 1, _LIGHT_STEPS + 1)[:, None]
    return srgb_from_linear((start + t * (end - start)) / 255).astype(np.float32)
