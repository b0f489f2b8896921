"""Divides the light out of the picture at full size, in bands of rows."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.light.detail import filled
from img2pour.light.other_inks import depth_along, other_depths
from img2pour.light.patches import STROKE_PX, trust_in, without_strokes
from img2pour.light.srgb import (
    ENCODE_STEPS,
    LEVEL_OF_LINEAR,
    LOG_OF_LEVEL,
    channel_max,
    linear_of,
    log_light_of,
)

_BAND_ROWS = 192
# Around a hard shadow's edge, in reduced pixels, its depth is measured at each pixel.
_EDGE_REACH = 6
# A pixel shows the shadow's depth when nothing else is left over (natural log), within its range.
_PURE_LEFT = 0.14
_PURE_RANGE = (-0.2, 1.2)
_DARK_INK = -3.2
_PAPER_INK = -0.15
# What noise leaves of a filled stroke, in levels.
_STROKE_LEVELS = 14


@dataclass(frozen=True, eq=False)
class LightMap:
    """The light to divide out, at the reduced size.

    Attributes
    ----------
    log_light : (h, w, 3) float32
        Log of the light, scaled so that paper comes out at its wanted level.
    log_colour : (h, w, 3) float32
        Log of the drawn colour at each place, on the same scale.
    step : (3,) float64 or None
        A hard shadow's.
    covered : (h, w) bool or None
        Where it lies.
    """

    log_light: NDArray[np.float32]
    log_colour: NDArray[np.float32]
    step: NDArray[np.float64] | None
    covered: NDArray[np.bool_] | None


def divided(rgb: NDArray[np.uint8], light: LightMap) -> NDArray[np.uint8]:
    """Return the picture (H, W, 3) uint8 with the light divided out, in linear light."""
    height, width = rgb.shape[:2]
    gain = (np.exp(-light.log_light) * ENCODE_STEPS).astype(np.float32)
    near_edge = _near_edge(light)
    out = np.empty_like(rgb)
    for top in range(0, height, _BAND_ROWS):
        rows = slice(top, min(top + _BAND_ROWS, height))
        factor = stretched(gain, rows, (height, width))
        if light.step is not None and light.covered is not None and near_edge is not None:
            depth = _shadow_depth(rgb, light, near_edge, rows)
            for channel in range(3):
                factor[..., channel] *= np.exp(depth * np.float32(-light.step[channel]))
        factor *= linear_of(rgb[rows])
        np.minimum(factor, ENCODE_STEPS, out=factor)
        np.take(LEVEL_OF_LINEAR, factor.astype(np.uint16), out=out[rows], mode="clip")
    return out


def stretched(
    small: NDArray[np.float32], rows: slice, full: tuple[int, int]
) -> NDArray[np.float32]:
    """Return rows of a small picture drawn out to `full` (height, width) linearly."""
    place = (np.arange(rows.start, rows.stop) + 0.5) * small.shape[0] / full[0] - 0.5
    place = np.clip(place, 0, small.shape[0] - 1)
    upper = np.minimum(place.astype(np.intp), max(small.shape[0] - 2, 0))
    lower = np.minimum(upper + 1, small.shape[0] - 1)
    share = (place - upper).astype(np.float32)[:, None, None]
    tall = small[upper] * (1 - share) + small[lower] * share
    size = (full[1], rows.stop - rows.start)
    return np.asarray(cv2.resize(tall, size, interpolation=cv2.INTER_LINEAR), np.float32)


def _near_edge(light: LightMap) -> NDArray[np.bool_] | None:
    """Return where (reduced) a hard shadow's edge is near."""
    if light.covered is None:
        return None
    inside = light.covered.astype(np.uint8)
    kernel = np.ones((2 * _EDGE_REACH + 1,) * 2, np.uint8)
    return np.asarray(cv2.dilate(inside, kernel) != cv2.erode(inside, kernel))


def _nearest(count: int, full: int, part: slice) -> NDArray[np.intp]:
    places = (np.arange(part.start, part.stop) + 0.5) * count / full
    return np.minimum(places.astype(np.intp), count - 1)


def _shadow_depth(
    rgb: NDArray[np.uint8], light: LightMap, near_edge: NDArray[np.bool_], rows: slice
) -> NDArray[np.float32]:
    """Return how far each pixel of a row band lies in the shadow, 0 to 1 (R, W)."""
    covered = light.covered
    height, width = rgb.shape[:2]
    if covered is None:
        return np.zeros((rows.stop - rows.start, width), np.float32)
    down = _nearest(covered.shape[0], height, rows)
    across = _nearest(covered.shape[1], width, slice(0, width))
    depth = covered[down][:, across].astype(np.float32)
    columns = np.flatnonzero(near_edge[down[0] : down[-1] + 1].any(axis=0))
    if columns.size == 0:
        return depth
    scale = width / covered.shape[1]
    pad = round(8 * scale)
    left = max(0, int(columns[0] * scale) - pad)
    right = min(width, int((columns[-1] + 1) * scale) + pad)
    upper, lower = max(0, rows.start - pad), min(height, rows.stop + pad)
    window = (slice(upper, lower), slice(left, right))
    measured = _measured_depth(rgb[window], light, window, (height, width))
    cut = measured[rows.start - upper : rows.stop - upper]
    here = near_edge[down][:, across[left:right]]
    depth[:, left:right] = np.where(here, cut, depth[:, left:right])
    return depth


def _measured_depth(
    rgb: NDArray[np.uint8],
    light: LightMap,
    window: tuple[slice, slice],
    full: tuple[int, int],
) -> NDArray[np.float32]:
    """Return the depth of shadow seen at each pixel of a window, filled in where none is seen.

    A pixel of a known drawn colour shows it as the share of the shadow's step that its log lies
    below the full light. Pixels of edges and strokes do not fit that and are filled from others.
    """
    if light.step is None or light.covered is None:
        return np.zeros(rgb.shape[:2], np.float32)
    down = _nearest(light.covered.shape[0], full[0], window[0])
    across = _nearest(light.covered.shape[1], full[1], window[1])
    expected = (light.log_light + light.log_colour)[down][:, across]
    ink = channel_max(light.log_colour)[down][:, across]
    bare = without_strokes(rgb, round(STROKE_PX * full[1] / light.covered.shape[1]) | 1)
    # On inks, other than on paper, a narrow dark place is a sliver of shade sooner than a stroke.
    bare[ink < _PAPER_INK] = rgb[ink < _PAPER_INK]
    soft = cv2.GaussianBlur(bare, (0, 0), 0.7)
    below = log_light_of(np.asarray(soft, np.uint8)) - expected
    step = light.step.astype(np.float32)
    # In the dark the logarithm is noise: such channels hardly speak.
    trust = np.asarray(trust_in(expected + step), np.float32)
    depth, left_over = depth_along(below, step, trust)
    pure = (left_over < _PURE_LEFT) & (depth > _PURE_RANGE[0]) & (depth < _PURE_RANGE[1])
    pure &= ink > _DARK_INK
    pure &= ~_between_inks(light, down, across)
    rows, columns = np.nonzero(~pure & (ink < _PAPER_INK))
    unlit = LOG_OF_LEVEL[rgb[rows, columns]] - light.log_light[down[rows], across[columns]]
    other, fits = other_depths(unlit, (down[rows], across[columns]), light.log_colour, step)
    rows, columns, other = rows[fits], columns[fits], other[fits]
    pure[rows, columns] = True
    sure = cv2.erode(pure.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    # The smoothed picture says which pixels to believe; their depth is read from the sharp one.
    lifted = np.asarray(cv2.subtract(bare, rgb), np.uint8)
    seen = np.where((channel_max(lifted) > _STROKE_LEVELS)[..., None], bare, rgb)
    sharp, _ = depth_along(log_light_of(seen) - expected, step, trust)
    sharp[rows, columns] = other
    scale = full[1] / light.covered.shape[1]
    sides = light.covered[down][:, across].astype(np.float32)
    rest = np.clip(sharp, 0, 1) - sides
    # What is not seen keeps the side it lies on.
    scales = (0.8, max(2.0, scale), 3 * scale)
    values = filled(rest[..., None].astype(np.float32), sure.astype(np.float32), scales)[..., 0]
    return np.asarray(np.clip(np.where(sure, sharp, sides + values), -0.2, 1.2), np.float32)


def _between_inks(
    light: LightMap, down: NDArray[np.intp], across: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return the pixels within a reduced pixel of where one drawn colour meets another."""
    colour = light.log_colour
    kernel = np.ones((3, 3), np.uint8)
    spread = cv2.dilate(colour, kernel) - cv2.erode(colour, kernel)
    mixed = channel_max(np.asarray(spread, np.float32)) > 1e-6
    return np.asarray(mixed[down][:, across])
