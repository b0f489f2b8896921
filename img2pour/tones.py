"""A few tones from a photograph or painting: smooth regions by lightness, wide enough to carve.

The work in order: lightness, smoothing, thresholds that part the lightness best, and for each
threshold the area above it, opened and closed by a disc so that nothing narrower is left.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.job.values import LEAST_TONES, MOST_TONES
from img2pour.palette import Palette, PaletteColour
from img2pour.picture import Picture

# Discs larger than this are drawn on a reduced picture: the borders are smooth anyway.
_DISC_PX = 10.0
_SMOOTHING_SHARE = 0.35
# What a band is filled with can be narrow in turn.
_ROUNDS = 3
# A mean colour needs no more pixels than this.
_ENOUGH_PX = 1.5e6


@dataclass(frozen=True, eq=False)
class Posterised:
    """A picture in a few tones.

    Attributes
    ----------
    labels : (H, W) uint8
        0 is the darkest tone.
    palette : Palette
        One colour a tone: the mean of the picture where the tone lies.
    levels : tuple of float
        Lightness L* (0 to 100) of the borders between the tones.
    """

    labels: NDArray[np.uint8]
    palette: Palette
    levels: tuple[float, ...]


def posterise(picture: Picture, tones: int, smooth_px: float) -> Posterised:
    """Return the picture in `tones` tones whose regions and gaps are `smooth_px` wide or wider.

    Parameters
    ----------
    picture : Picture
    tones : int
        2 to 12. Fewer come out when the picture has fewer levels of lightness.
    smooth_px : float
        Narrowest feature that is wanted, usually the width of the bit, in pixels; above zero.

    Raises
    ------
    SettingsError
        When a number is out of range.
    """
    if not LEAST_TONES <= tones <= MOST_TONES:
        raise SettingsError(
            f"{tones} tones are not possible: use {LEAST_TONES} to {MOST_TONES}",
            name="tones",
            value=tones,
        )
    if not smooth_px > 0:
        raise SettingsError(
            f"features {smooth_px:g} px wide are not possible: give more than 0",
            name="smooth",
            value=smooth_px,
        )
    factor = max(1.0, smooth_px / _DISC_PX)
    lightness = _smoothed_lightness(picture.rgb, smooth_px / factor, factor)
    levels = best_levels(lightness, tones)
    small = np.zeros(lightness.shape, np.uint8)
    above = np.ones(lightness.shape, bool)
    for level in levels:
        above &= _closed(_opened(lightness >= level, smooth_px / factor), smooth_px / factor)
        small += above
    for _ in range(_ROUNDS):
        small = _without_narrow_bands(small, smooth_px / factor)
    small, levels = _without_empty(small, levels)
    labels = _drawn_out(small, picture.rgb.shape[:2])
    return Posterised(labels, _tone_palette(picture, labels), tuple(float(v) for v in levels))


def _smoothed_lightness(
    rgb: NDArray[np.uint8], width_px: float, factor: float
) -> NDArray[np.float32]:
    """Return L* (0 to 100) reduced by a factor and smoothed over a third of the wanted width."""
    size = (max(2, round(rgb.shape[1] / factor)), max(2, round(rgb.shape[0] / factor)))
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA) if factor > 1 else rgb
    light = cv2.cvtColor(small, cv2.COLOR_RGB2Lab)[..., 0].astype(np.float32) * (100 / 255)
    sigma = max(0.8, _SMOOTHING_SHARE * width_px)
    return np.asarray(cv2.GaussianBlur(light, (0, 0), sigma), np.float32)


def best_levels(lightness: NDArray[np.float32], tones: int) -> list[float]:
    """Return the `tones` - 1 thresholds that leave the least variance within the tones.

    Exact, by dynamic programming over a histogram of 200 steps (Fisher, "On grouping for maximum
    homogeneity", 1958). Equal lightness everywhere gives no threshold.
    """
    counts, edges = np.histogram(lightness, bins=200, range=(0.0, 100.0))
    used = np.flatnonzero(counts)
    if len(used) < 2:
        return []
    tones = min(tones, len(used))
    weight = counts[used].astype(np.float64)
    middle = (edges[used] + edges[used + 1]) / 2
    sums = [np.concatenate([[0.0], np.cumsum(weight * middle**k)]) for k in range(3)]

    def variance(start: NDArray[np.intp], stop: int) -> NDArray[np.float64]:
        mass, first, second = (s[stop] - s[start] for s in sums)
        return np.asarray(second - first**2 / mass, np.float64)

    count = len(used)
    cost = np.full((tones + 1, count + 1), np.inf)
    cut = np.zeros((tones + 1, count + 1), np.intp)
    cost[0, 0] = 0.0
    for part in range(1, tones + 1):
        for stop in range(part, count + 1):
            starts = np.arange(part - 1, stop)
            total = cost[part - 1, starts] + variance(starts, stop)
            best = int(np.argmin(total))
            cost[part, stop], cut[part, stop] = total[best], starts[best]
    borders, stop = [], count
    for part in range(tones, 1, -1):
        stop = int(cut[part, stop])
        borders.append(float((middle[stop - 1] + middle[stop]) / 2))
    return borders[::-1]


def _without_narrow_bands(labels: NDArray[np.uint8], width_px: float) -> NDArray[np.uint8]:
    """Return labels in which each tone is wide: a steep edge leaves no bands of tones between.

    What an opening takes from a tone goes to the nearest tone that is wide enough there.
    """
    wide = np.zeros(labels.shape, bool)
    for tone in np.unique(labels):
        wide |= _opened(labels == tone, width_px)
    if not wide.any():
        return labels
    _, spot = cv2.distanceTransformWithLabels(
        (~wide).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    table = np.zeros(int(spot.max()) + 1, np.uint8)
    table[spot[wide]] = labels[wide]
    return np.asarray(table[spot], np.uint8)


def _drawn_out(labels: NDArray[np.uint8], full: tuple[int, int]) -> NDArray[np.uint8]:
    """Return labels at full size (H, W), their borders without stairs.

    A signed distance from each level's border is smooth across it and can be drawn out.
    """
    if labels.shape == full:
        return labels
    large = np.zeros(full, np.uint8)
    above = np.ones(full, bool)
    for tone in range(1, int(labels.max()) + 1):
        mask = labels >= tone
        signed = _distance(mask) - _distance(~mask)
        wide = cv2.resize(signed, (full[1], full[0]), interpolation=cv2.INTER_LINEAR)
        above &= np.asarray(wide > 0)
        large += above
    return large


def _distance(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the distance of each set pixel from the nearest unset one (half a pixel less)."""
    distance = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    return np.asarray(np.maximum(distance - 0.5, 0), np.float32)


def _opened(mask: NDArray[np.bool_], width_px: float) -> NDArray[np.bool_]:
    """Return the parts of the mask that a disc of this width fits into."""
    radius = width_px / 2
    inner = _distance(mask) >= radius
    if not inner.any():
        return inner
    outer = cv2.distanceTransform((~inner).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    return np.asarray((outer <= radius - 0.5) | inner, np.bool_) & mask


def _closed(mask: NDArray[np.bool_], width_px: float) -> NDArray[np.bool_]:
    return ~_opened(~mask, width_px)


def _without_empty(
    labels: NDArray[np.uint8], levels: list[float]
) -> tuple[NDArray[np.uint8], list[float]]:
    """Return labels without numbers that no pixel has, and the thresholds that are left."""
    present = np.unique(labels)
    renumber = np.zeros(256, np.uint8)
    renumber[present] = np.arange(len(present), dtype=np.uint8)
    return renumber[labels], [levels[int(name) - 1] for name in present[1:]]


def _tone_palette(picture: Picture, labels: NDArray[np.uint8]) -> Palette:
    """Return the mean colour of the picture in each tone, and the tone's share."""
    step = max(1, int(np.sqrt(labels.size / _ENOUGH_PX)))
    pick = (slice(step // 2, None, step),) * 2
    inside = slice(None) if picture.outside is None else ~picture.outside[pick].ravel()
    names = labels[pick].ravel()[inside]
    pixels = picture.rgb[pick].reshape(-1, 3)[inside]
    counts = np.bincount(names, minlength=int(labels.max()) + 1)
    sums = np.stack([np.bincount(names, pixels[:, c], len(counts)) for c in range(3)], axis=1)
    colours = []
    for tone, count in enumerate(counts):
        rgb = sums[tone] / max(count, 1)
        red, green, blue = (round(float(v)) for v in rgb)
        colours.append(
            PaletteColour(
                f"tone {tone + 1}",
                (float(rgb[0]), float(rgb[1]), float(rgb[2])),
                f"#{red:02x}{green:02x}{blue:02x}",
                float(count / max(counts.sum(), 1)),
            )
        )
    return Palette(tuple(colours), explained_share=1.0, blur_px=0.0, noise=0.0, notes=())
