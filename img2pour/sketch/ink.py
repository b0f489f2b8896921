"""Where lines were drawn: darker than both their sides, whatever their tone, and narrow."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

REDUCED_PX = 1600
# The widest line, as a share of the longer side: 3 mm on a sheet of 300 mm.
_MAX_WIDTH_SHARE = 0.011
# In small pictures a line of a few pixels is a larger share; narrower windows would hollow it out.
_LEAST_WIDEST_PX = 13
# The window that fits lines of a known width: it spans their crossings.
_WINDOW_WIDTHS = 3.0
# Lines broader than this share of the widest window may be hollowed out by it.
_HOLLOW = 0.5
_VIEW = 3
# Lines stand out by this many levels, and by this many times the paper's own unevenness.
_MIN_CONTRAST = 12.0
_NOISE_TIMES = 5.0
# A line's faint parts count from this share of the usual contrast when they hang on a stronger one.
_FAINT_SHARE = 0.22
_STRONG_SHARE = 0.45


@dataclass(frozen=True, eq=False)
class Ink:
    """Drawn lines.

    Attributes
    ----------
    mask : (h, w) bool
        Line pixels of the reduced picture.
    depth : (H, W) float32
        At full size, how much darker than its surroundings each pixel is, in levels.
    contrast : float
        The usual depth in the middle of a line.
    width_px : float
        The usual width of a line at full size.
    scale : float
        Full size over reduced size.
    """

    mask: NDArray[np.bool_]
    depth: NDArray[np.float32]
    contrast: float
    width_px: float
    scale: float


def find_ink(rgb: NDArray[np.uint8], *, full_size: bool = True) -> Ink | None:
    """Return the drawn lines of an evenly lit picture (H, W, 3) uint8, or None.

    Without `full_size` its depth is that of the reduced picture.
    """
    height, width = rgb.shape[:2]
    scale = max(1.0, max(height, width) / REDUCED_PX)
    size = (round(width / scale), round(height / scale))
    resized = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA) if scale > 1 else rgb
    small = np.asarray(resized, np.uint8)
    widest = max(_LEAST_WIDEST_PX, round(_MAX_WIDTH_SHARE * max(size)))
    widest = max(widest, round(_broad_window(small, widest)))
    background = _background(small, widest)
    depth = _depth(small, background)
    contrast = _usual_contrast(depth)
    if contrast is None:
        return None
    mask = _with_hysteresis(depth, _FAINT_SHARE * contrast, _STRONG_SHARE * contrast)
    width_px = _usual_width(mask) * scale
    # Once the width is known, broader shades and smudges no longer count as dark lines.
    narrow = max(5, round(_WINDOW_WIDTHS * width_px / scale))
    if narrow < widest:
        background = _background(small, narrow)
        depth = _depth(small, background)
        mask = _with_hysteresis(depth, _FAINT_SHARE * contrast, _STRONG_SHARE * contrast)
    if full_size:
        full = cv2.resize(background, (width, height), interpolation=cv2.INTER_LINEAR)
        depth = _depth(rgb, np.asarray(full, np.uint8))
    return Ink(mask, depth, contrast, width_px, scale)


def _broad_window(small: NDArray[np.uint8], widest: int) -> float:
    """Return the window for lines so broad that the usual one would hollow them out, else 0.

    A view at a third of the size shows them with the same window.
    """
    size = (max(1, small.shape[1] // _VIEW), max(1, small.shape[0] // _VIEW))
    view = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), np.uint8)
    depth = _depth(view, _background(view, widest))
    contrast = _usual_contrast(depth)
    if contrast is None:
        return 0.0
    mask = _with_hysteresis(depth, _FAINT_SHARE * contrast, _STRONG_SHARE * contrast)
    width = _VIEW * _usual_width(mask)
    return min(_WINDOW_WIDTHS * width, _VIEW * widest) if width > _HOLLOW * widest else 0.0


def _background(small: NDArray[np.uint8], widest: int) -> NDArray[np.uint8]:
    """Return the picture with dark features narrower than `widest` pixels filled in."""
    smooth = cv2.GaussianBlur(small, (0, 0), 0.8)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (widest, widest))
    return np.asarray(cv2.morphologyEx(smooth, cv2.MORPH_CLOSE, kernel), np.uint8)


def _depth(rgb: NDArray[np.uint8], background: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return how far each pixel lies below the background in its most darkened channel."""
    red, green, blue = cv2.split(cv2.subtract(background, rgb))
    return np.asarray(cv2.max(cv2.max(red, green), blue), np.float32)


def _usual_contrast(depth: NDArray[np.float32]) -> float | None:
    noise = float(np.median(depth)) + 1.0
    floor = max(_MIN_CONTRAST, _NOISE_TIMES * noise)
    dark = depth[depth > floor]
    if dark.size < 0.0005 * depth.size:
        return None
    return float(np.percentile(dark, 70))


def _with_hysteresis(depth: NDArray[np.float32], faint: float, strong: float) -> NDArray[np.bool_]:
    """Return connected faint pixels that hold at least some strong ones."""
    weak = cv2.GaussianBlur(depth, (0, 0), 0.7) > faint
    count, label = cv2.connectedComponents(weak.astype(np.uint8), connectivity=8)
    held = np.bincount(label[(depth > strong) & weak], minlength=count)
    size = np.bincount(label.ravel(), minlength=count)
    keep = (held >= 4) & (held >= 0.02 * size)
    keep[0] = False
    return np.asarray(keep[label], np.bool_)


def _usual_width(mask: NDArray[np.bool_]) -> float:
    """Return the usual stroke width in reduced pixels: area over length, by the ridge."""
    distance = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    ridge = mask & (distance >= cv2.dilate(distance, np.ones((3, 3), np.uint8)) - 1e-6)
    values = distance[ridge]
    # Outlines are drawn at least as broad as hatching, of which there may be more.
    return float(max(1.0, 2 * np.percentile(values, 75) - 1)) if values.size else 1.0


def line_pixels(ink: Ink) -> NDArray[np.bool_]:
    """Return line pixels at full size: at least half as dark as the line's own middle."""
    reach = max(3, round(ink.width_px) | 1)
    ridge = cv2.dilate(ink.depth, np.ones((reach, reach), np.uint8))
    height, width = ink.depth.shape
    near = cv2.dilate(ink.mask.astype(np.uint8), np.ones((3, 3), np.uint8))
    near = cv2.resize(near, (width, height), interpolation=cv2.INTER_NEAREST)
    return np.asarray(
        (ink.depth > 0.5 * np.maximum(ridge, _FAINT_SHARE * ink.contrast)) & (near > 0)
    )
