"""How blurred the edges of a picture are.

Along a row that crosses a straight edge the coverage p runs from 0 to 1. For a Gaussian edge of
sigma s the integral of p (1 - p) is s / sqrt(pi), whatever the edge's place between the pixels;
the slope of the edge to the row is taken out by comparing the rows above and below.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import linear_from_srgb, srgb_from_linear
from img2pour.colours.flats import Flats

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_LONGEST_RAMP_PX = 26
_LEAST_CONTRAST = 40.0
_MOST_RAMPS = 600
# Larger pictures are looked at in every second, third ... row.
_ENOUGH_PX = 2e6
_FEWEST_CROSSINGS = 12
# Pairs of colours whose blends in linear light stray this far from the straight segment show
# which way a picture was blended; pixels further off than a tenth of the step show other things.
_LEAST_BEND = 12.0
_STRAY = 0.01
_LEAST_VOTES = 0.3
# A pixel averages over its own square, which alone looks like a sigma of sqrt(1/12).
_PIXEL_VARIANCE = 1 / 12
# Lightness and colour differences of JPEG (ITU-T T.871), scaled to keep RGB distances nearly.
TO_LUMA_CHROMA = np.array(
    [[0.518, 1.017, 0.197], [-0.169, -0.331, 0.500], [0.500, -0.419, -0.081]]
) * np.array([[1.0], [1.3], [1.3]])
# JPEG with colour at half the resolution blurs it by a sigma of about 0.8 px on top.
_SUBSAMPLED_VARIANCE = 0.3
# Below this noise a picture was never compressed with losses.
_LOSSLESS_NOISE = 0.3


@dataclass(frozen=True)
class EdgeLook:
    """How the edges of a picture look.

    Attributes
    ----------
    blur_px : float
        Sigma of the blur of lightness, beyond that of the pixels themselves; 0 when there are
        too few edges between flat areas.
    subsampled : bool
        Colour is blurred more than lightness, as in most JPEG files; where there are too few
        edges to see that, any noise counts as a sign of it.
    linear_light : bool
        Edge pixels are mixed in linear light (cameras, scanners), not in encoded sRGB.
    """

    blur_px: float = 0.0
    subsampled: bool = False
    linear_light: bool = False


def measure_edges(rgb: Bytes, flats: Flats, colours: Floats) -> EdgeLook:
    """Measure blur and blending at edges between flat areas.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    flats : Flats
        Its flat pixels.
    colours : ndarray of float64, shape (K, 3)
        The palette.

    Returns
    -------
    EdgeLook
        Medians over all edges that were looked at.
    """
    unseen = EdgeLook(subsampled=flats.noise > _LOSSLESS_NOISE)
    if len(colours) < 2:
        return unseen
    crossings = [_crossings(rgb, flats, colours, turned=turned) for turned in (False, True)]
    starts, ends, pixels, inside = (np.concatenate(parts) for parts in zip(*crossings, strict=True))
    if len(starts) < _FEWEST_CROSSINGS:
        return unseen
    y, c = TO_LUMA_CHROMA[:1].T, TO_LUMA_CHROMA[1:].T
    luma = _Profiles.of(starts @ y, ends @ y, pixels @ y, inside)
    chroma = _Profiles.of(starts @ c, ends @ c, pixels @ c, inside)
    plain = _Profiles.of(starts, ends, pixels, inside)
    sharpest = luma if luma.count >= _FEWEST_CROSSINGS else plain
    more = chroma.variance() - sharpest.variance()
    subsampled = chroma.count >= _FEWEST_CROSSINGS and more > _SUBSAMPLED_VARIANCE
    linear_light = _mixes_in_linear_light(starts, ends, pixels[:, 1], inside)
    blur_px = float(np.sqrt(max(sharpest.variance() - _PIXEL_VARIANCE, 0.0)))
    return EdgeLook(blur_px, subsampled, linear_light)


def _crossings(
    rgb: Bytes, flats: Flats, colours: Floats, *, turned: bool
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    """Cut pieces of rows (or columns, turned) that cross from one flat colour to another.

    Returns
    -------
    starts, ends : ndarray of float64, shape (n, 3)
        The colours of both sides.
    pixels : ndarray of float64, shape (n, 3, reach, 3)
        The row above, the row itself and the row below, around the crossing.
    inside : ndarray of bool, shape (n, reach)
        True where the row belongs to the crossing.
    """
    step = max(1, round(flats.flat.size / _ENOUGH_PX))
    shape = flats.flat.shape[::-1] if turned else flats.flat.shape
    looked = cv2.transpose(flats.flat[:, ::step]) if turned else flats.flat[::step]
    first, last = _ramps(np.asarray(looked, dtype=np.uint8))
    row, left = np.divmod(first, shape[1])
    row, right = row * step, left + last - first
    axes = (1, 0, 2) if turned else (0, 1, 2)
    image = rgb.transpose(axes)
    starts = _nearest_colours(image[row, left - 1], colours)
    ends = _nearest_colours(image[row, right + 1], colours)
    falling = (ends - starts) @ TO_LUMA_CHROMA[0] < 0
    starts, ends = (
        np.where(falling[:, None], one, other) for one, other in ((ends, starts), (starts, ends))
    )
    strong = np.flatnonzero(np.linalg.norm(ends - starts, axis=1) >= _LEAST_CONTRAST)
    strong = strong[:: max(1, len(strong) // _MOST_RAMPS)]
    row, left, right = row[strong], left[strong], right[strong]
    reach = _LONGEST_RAMP_PX // 2 + 2
    columns = ((left + right) // 2)[:, None] + np.arange(-reach, reach + 1)
    inside = (columns >= left[:, None] - 2) & (columns <= right[:, None] + 2)
    columns = np.clip(columns, 0, shape[1] - 1)
    rows = np.clip(row[:, None] + np.array([-1, 0, 1]), 0, shape[0] - 1)
    pixels = image[rows[:, :, None], columns[:, None, :]].astype(np.float64)
    return starts[strong], ends[strong], pixels, inside


def _ramps(flat: Bytes) -> tuple[Integers, Integers]:
    """Return first and last pixel of the short stretches between two flat ones in a row."""
    edge = flat.copy()
    edge[:, :2] = 0
    edge[:, -2:] = 0
    solid = edge.ravel() > 0
    change = np.flatnonzero(solid[1:] != solid[:-1])
    leaving = solid[change]
    ends, begins = change[leaving], change[~leaving]
    at = np.searchsorted(begins, ends)
    kept = at < len(begins)
    first, last = ends[kept] + 1, begins[at[kept]]
    width = flat.shape[1]
    near = (last - first < _LONGEST_RAMP_PX) & ((first - 1) // width == (last + 1) // width)
    return first[near], last[near]


def _nearest_colours(pixels: Bytes, colours: Floats) -> Floats:
    gaps = ((pixels[:, None].astype(np.float64) - colours) ** 2).sum(axis=2)
    return np.asarray(colours[gaps.argmin(axis=1)])


@dataclass(frozen=True, eq=False)
class _Profiles:
    """Coverage along crossings: rows above, at and below, shape (n, 3, reach)."""

    coverage: Floats

    @classmethod
    def of(
        cls, starts: Floats, ends: Floats, pixels: Floats, inside: NDArray[np.bool_]
    ) -> "_Profiles":
        """Project the pixels on the step between both sides, where that is large enough."""
        along = ends - starts
        squared = (along**2).sum(axis=1)
        strong = squared >= _LEAST_CONTRAST**2
        from_start = pixels[strong] - starts[strong][:, None, None]
        share = np.einsum("nrpc,nc->nrp", from_start, along[strong])
        share /= squared[strong][:, None, None]
        return cls(np.where(inside[strong][:, None], np.clip(share, -0.2, 1.2), 0.0))

    @property
    def count(self) -> int:
        return len(self.coverage)

    def variance(self) -> float:
        """Return the median squared sigma, pixels included."""
        slope = (self.coverage[:, 2] - self.coverage[:, 0]).sum(axis=1) / 2
        here = self.coverage[:, 1]
        mixed = (here * (1 - here)).sum(axis=1)
        steep = np.abs(slope) < 1.0
        sigmas = np.sqrt(np.pi) * mixed[steep] / np.sqrt(1 + slope[steep] ** 2)
        return float(np.median(sigmas)) ** 2 if len(sigmas) else 0.0


def _mixes_in_linear_light(
    starts: Floats, ends: Floats, pixels: Floats, inside: NDArray[np.bool_]
) -> bool:
    """Tell which path between the two colours the pixels of most crossings keep to."""
    middle = srgb_from_linear((linear_from_srgb(starts) + linear_from_srgb(ends)) / 2)
    bend = _off_line(starts, ends, middle[:, None])[:, 0]
    bent = bend >= _LEAST_BEND**2
    starts, ends, pixels, inside = starts[bent], ends[bent], pixels[bent], inside[bent]
    straight = np.where(inside, _off_line(starts, ends, pixels), 0.0)
    light_start, light = linear_from_srgb(starts), linear_from_srgb(pixels)
    light_step = linear_from_srgb(ends) - light_start
    share = _shares(light_start, light_step, light)
    mixed = light_start[:, None] + share[..., None] * light_step[:, None]
    curved = np.where(inside, ((pixels - srgb_from_linear(mixed)) ** 2).sum(axis=2), 0.0)
    contrast = ((ends - starts) ** 2).sum(axis=1)
    clear = np.minimum(straight.max(axis=1), curved.max(axis=1)) < _STRAY * contrast
    clear &= np.maximum(straight.max(axis=1), curved.max(axis=1)) > _LEAST_BEND**2 / 4
    if clear.sum() < _FEWEST_CROSSINGS:
        return False
    votes = curved.sum(axis=1)[clear] < straight.sum(axis=1)[clear]
    return bool(votes.mean() >= _LEAST_VOTES)


def _shares(starts: Floats, steps: Floats, pixels: Floats) -> Floats:
    """Return where pixels of shape (n, reach, 3) lie between start and start + step, 0..1."""
    squared = np.maximum((steps**2).sum(axis=1), 1e-12)
    share = np.einsum("npc,nc->np", pixels - starts[:, None], steps) / squared[:, None]
    return np.asarray(np.clip(share, 0, 1))


def _off_line(starts: Floats, ends: Floats, pixels: Floats) -> Floats:
    """Return the squared distance of pixels of shape (n, reach, 3) to their segment."""
    share = _shares(starts, ends - starts, pixels)
    nearest = starts[:, None] + share[..., None] * (ends - starts)[:, None]
    return np.asarray(((pixels - nearest) ** 2).sum(axis=2))
