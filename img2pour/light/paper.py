"""Which of the drawn colours is the bare paper."""

from __future__ import annotations

import numpy as np

from img2pour.light.field import LightField
from img2pour.light.patches import Patches

# Paper is no darker than this share of the lightest larger colour (linear light).
_MIN_LIGHTNESS = 0.55
# Under the warmest lamp, white paper's channels differ by less than this factor.
_MAX_CAST = 4.0
_LARGER = 0.02


def choose_paper(patches: Patches, field: LightField) -> int | None:
    """Return the colour that is paper: light, hardly tinted, large, and along the rim; or None."""
    count = len(field.colours)
    held = np.bincount(field.group, patches.areas.astype(np.float64), count)
    areas = held / held.sum()
    label = field.group[patches.label]
    rim = np.concatenate([label[0], label[-1], label[1:-1, 0], label[1:-1, -1]])
    at_rim = np.bincount(rim, minlength=count) / rim.size
    typical_light = field.grid.reshape(-1, 3).mean(axis=0)
    light = np.exp(field.colours + typical_light)
    lightness = light.mean(axis=1)
    lightest = lightness[areas > _LARGER].max() if np.any(areas > _LARGER) else lightness.max()
    fits = (lightness >= _MIN_LIGHTNESS * lightest) & (areas > _LARGER)
    fits &= light.max(axis=1) <= _MAX_CAST * light.min(axis=1)
    if not fits.any():
        return None
    score = np.where(fits, (areas + at_rim) * lightness / lightest, -1.0)
    return int(np.argmax(score))
