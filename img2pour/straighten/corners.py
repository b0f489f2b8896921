"""Corners as a person gives them: read, checked, put in order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError

_NAMES = ("upper left", "upper right", "lower right", "lower left")


def checked_corners(
    corners: Sequence[Sequence[float]] | NDArray[np.float64], frame_px: tuple[int, int]
) -> NDArray[np.float64]:
    """Return four corners (4, 2), clockwise on the screen from the one given first.

    Parameters
    ----------
    corners : four (x, y)
        In upright input pixels, going round the sheet either way; the first is its upper left.
    frame_px : (width, height)
        Of the photo; corners may lie up to half a frame outside it.

    Raises
    ------
    SettingsError
        When there are not four, when they cross, lie on one line, or lie far outside.
    """
    points = np.asarray(corners, np.float64)
    if points.shape != (4, 2) or not np.all(np.isfinite(points)):
        raise _refusal("four corners are needed, each 'x,y' in pixels", corners)
    size = np.array(frame_px, np.float64)
    if np.any(points < -0.5 * size) or np.any(points > 1.5 * size):
        raise _refusal(f"a corner lies far outside the {frame_px[0]} x {frame_px[1]} px", corners)
    edge = np.roll(points, -1, axis=0) - points
    after = np.roll(edge, -1, axis=0)
    lengths = np.linalg.norm(edge, axis=1)
    if lengths.min() < 4:
        raise _refusal("two corners lie on the same spot", corners)
    sines = (edge[:, 0] * after[:, 1] - edge[:, 1] * after[:, 0]) / (lengths * np.roll(lengths, -1))
    if np.abs(sines).min() < 0.02:
        raise _refusal("three corners lie on one line", corners)
    if not (np.all(sines > 0) or np.all(sines < 0)):
        raise _refusal("the sides cross or bend inwards: give the corners in order", corners)
    return points if sines[0] > 0 else np.roll(points[::-1], 1, axis=0)


def corners_outside(corners: NDArray[np.float64], frame_px: tuple[int, int]) -> tuple[str, ...]:
    """Return which corners (4, 2), clockwise from the upper left, the frame cuts off, in words."""
    outside = np.any((corners < 0) | (corners > np.array(frame_px)), axis=1)
    return tuple(name for name, is_out in zip(_NAMES, outside, strict=True) if is_out)


def _refusal(message: str, value: object) -> SettingsError:
    return SettingsError(f"straighten: {message}", name="straighten", value=value)
