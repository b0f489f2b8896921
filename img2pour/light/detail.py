"""Adds to the solved light what the drawn colours themselves show of it, patch by patch."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.light.field import LightField
from img2pour.light.patches import Patches, trust_in
from img2pour.light.shade import Shade
from img2pour.light.srgb import channel_max

# Fine to coarse, in reduced pixels: the finest scale with enough core pixels speaks.
_SCALES_PX = (2.5, 8.0, 28.0)
_ENOUGH = 0.15
# More than this (natural log) is not light that the field missed but something drawn.
_LIMIT = 0.35


def detailed_light(patches: Patches, field: LightField, shade: Shade | None) -> NDArray[np.float32]:
    """Return the log of the light (H, W, 3) without the hard shadow's own step.

    Within a patch the drawn colour is one: what a pixel deviates by is light.
    """
    smooth = field.at((patches.core.shape[0], patches.core.shape[1]))
    rest = patches.log_light - smooth - field.colours[field.group][patches.label]
    if shade is not None and field.step is not None:
        rest = rest - shade.covered[patches.label][..., None] * field.step
    rest = np.clip(rest, -_LIMIT, _LIMIT)
    weight = trust_in(channel_max(patches.log_light)) * patches.core
    found = filled(np.asarray(rest, np.float32), np.asarray(weight, np.float32), _SCALES_PX)
    return np.asarray(smooth + found, np.float32)


def filled(
    values: NDArray[np.float32], weight: NDArray[np.float32], scales_px: tuple[float, ...]
) -> NDArray[np.float32]:
    """Return weighted means of values (H, W, C), at each place at the finest scale that has any."""
    result = np.zeros_like(values)
    for sigma in reversed(scales_px):
        total, share = _blurred(values * weight[..., None], sigma), _blurred(weight, sigma)
        mean = total / np.maximum(share, 1e-4)[..., None]
        known = np.minimum(share / _ENOUGH, 1.0)[..., None]
        result = (result + known * (mean - result)).astype(np.float32)
    return result


def _blurred(image: NDArray[np.float32], sigma: float) -> NDArray[np.float32]:
    """Gaussian blur; wide ones on a reduced picture, which is as smooth and much faster."""
    factor = max(1, int(sigma / 3))
    if factor == 1:
        blurred = cv2.GaussianBlur(image, (0, 0), sigma)
        return np.asarray(blurred, np.float32).reshape(image.shape)
    height, width = image.shape[:2]
    size = (max(1, -(-width // factor)), max(1, -(-height // factor)))
    small = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma / factor)
    wide = cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(wide, np.float32).reshape(image.shape)
