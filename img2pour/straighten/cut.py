"""Whether a sheet that was not found runs out of the picture, and on which sides."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

# A sheet is a light area over this share of the picture; one that takes all of it is a scan.
_LEAST_SHARE, _MOST_SHARE = 0.12, 0.9
# It is this much lighter than what is around it, in levels.
_LIGHTER = 40.0
# A side of the picture cuts it when the sheet holds this share of that side.
_LEAST_HELD, _MOST_HELD = 0.08, 0.97
_MOST_SIDES = 2
# What is drawn on the sheet, in reduced pixels, does not part it.
_DRAWN_PX = 15
# A sheet has straight sides: it fills its own hull.
_LEAST_FILLED = 0.9


def sides_cut(small: NDArray[np.uint8]) -> tuple[str, ...]:
    """Return the sides of a reduced photo (H, W, 3) that cut a light sheet, in words."""
    grey = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), (0, 0), 2.0)
    _, light = cv2.threshold(grey, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    if not 0 < light.mean() < 1 or grey[light > 0].mean() - grey[light == 0].mean() < _LIGHTER:
        return ()
    sheet = _largest(light)
    if not _LEAST_SHARE < sheet.mean() < _MOST_SHARE or _filled_share(sheet) < _LEAST_FILLED:
        return ()
    rims = {"above": sheet[0], "below": sheet[-1], "left": sheet[:, 0], "right": sheet[:, -1]}
    names = {"above": "at the top", "below": "at the bottom", "left": "on the left"}
    held = {name: float(rim.mean()) for name, rim in rims.items()}
    cut = [name for name, share in held.items() if _LEAST_HELD < share < _MOST_HELD]
    if not 1 <= len(cut) <= _MOST_SIDES or max(held.values()) >= _MOST_HELD:
        return ()
    return tuple(names.get(name, "on the right") for name in cut)


def _largest(light: NDArray[np.generic]) -> NDArray[np.uint8]:
    """Return the largest light area (0/1), with what is drawn on it filled in."""
    kernel = np.ones((_DRAWN_PX, _DRAWN_PX), np.uint8)
    whole = cv2.morphologyEx(np.asarray(light, np.uint8), cv2.MORPH_CLOSE, kernel)
    _, label, stats, _ = cv2.connectedComponentsWithStats(whole, connectivity=4)
    areas = stats[1:, cv2.CC_STAT_AREA]
    mask = (label == 1 + int(np.argmax(areas))).astype(np.uint8)
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(cv2.drawContours(np.zeros_like(mask), outlines, -1, 1, -1), np.uint8)


def _filled_share(mask: NDArray[np.uint8]) -> float:
    outline = max(cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0], key=len)
    return float(mask.sum() / max(cv2.contourArea(cv2.convexHull(outline)), 1.0))
