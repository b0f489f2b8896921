"""sRGB to linear light and back by table (IEC 61966-2-1)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_LEVELS = np.arange(256) / 255.0
LINEAR_OF_LEVEL: NDArray[np.float32] = np.where(
    _LEVELS <= 0.04045, _LEVELS / 12.92, ((_LEVELS + 0.055) / 1.055) ** 2.4
).astype(np.float32)


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
