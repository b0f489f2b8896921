"""sRGB to linear light and back by table (IEC 61966-2-1)."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

_LEVELS = np.arange(256) / 255.0
LINEAR_OF_LEVEL: NDArray[np.float32] = np.where(
    _LEVELS <= 0.04045, _LEVELS / 12.92, ((_LEVELS + 0.055) / 1.055) ** 2.4
).astype(np.float32)
# Below it a camera sees noise and stray light only.
DARK_LIGHT = 0.003
LOG_OF_LEVEL: NDArray[np.float32] = np.log(LINEAR_OF_LEVEL + DARK_LIGHT).astype(np.float32)


def linear_of(levels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return linear light 0..1 of sRGB levels of any shape (H, W, C)."""
    return np.asarray(cv2.LUT(levels, LINEAR_OF_LEVEL), np.float32)


def log_light_of(levels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return the natural log of linear light, kept finite for black."""
    return np.asarray(cv2.LUT(levels, LOG_OF_LEVEL), np.float32)


def channel_max(values: NDArray[Any]) -> NDArray[Any]:
    """Return the largest of three channels (H, W): many times faster than a general reduction."""
    largest = np.maximum(values[..., 0], values[..., 1])
    return np.asarray(np.maximum(largest, values[..., 2]))


def encoded(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return sRGB 0..255 of linear light 0..1 (clipped)."""
    value = np.clip(light, 0.0, 1.0)
    curve = 1.055 * np.maximum(value, 1e-9) ** (1 / 2.4) - 0.055
    levels: NDArray[np.float64] = 255 * np.where(value <= 0.0031308, 12.92 * value, curve)
    return levels


# Linear light in steps of 1/16384 to the nearest level: finer than half a level everywhere.
ENCODE_STEPS = 16384
LEVEL_OF_LINEAR: NDArray[np.uint8] = np.rint(
    encoded(np.arange(ENCODE_STEPS + 1) / ENCODE_STEPS)
).astype(np.uint8)
