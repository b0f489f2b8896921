"""Crop, mirror and turn, before the colours are looked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.picture import Picture
from img2pour.straighten import Straightened

if TYPE_CHECKING:
    from img2pour.artwork import Geometry
    from img2pour.job.touch_section import Touch

Matrix = NDArray[np.float64]
Framed = tuple[Picture, Matrix]


def framed(done: Straightened, touches: Sequence[Touch], geometry: Geometry) -> Straightened:
    """Return the straightened picture cropped, mirrored and turned, in the order of the job.

    Parameters
    ----------
    done : Straightened
    touches : sequence of Touch
        Those that are no framing are passed over.
    geometry : Geometry
        From pixels of the upright input to those of `done`.

    Raises
    ------
    SettingsError
        When a crop leaves nothing of the picture.
    """
    picture, moved = done.picture, np.eye(3)
    for touch in touches:
        if touch.action == "crop":
            corners = np.array([geometry.to_artwork(point) for point in touch.inside])
            picture, step = _cropped(picture, corners @ moved[:2, :2].T + moved[:2, 2])
        elif touch.action == "mirror":
            picture, step = _mirrored(picture, touch.across == "left-right")
        elif touch.action == "turn":
            picture, step = _turned(picture, touch.by or 180)
        else:
            continue
        moved = step @ moved
    if picture is done.picture:
        return done
    scale = done.mm_per_px
    height, width = picture.rgb.shape[:2]
    size_mm = None if scale is None else (width * scale, height * scale)
    return replace(done, picture=picture, matrix=moved @ done.matrix, size_mm=size_mm)


def _cropped(picture: Picture, corners: Matrix) -> Framed:
    """Return the part of a picture inside the box around some points."""
    height, width = picture.rgb.shape[:2]
    low, high = np.rint(corners.min(axis=0)), np.rint(corners.max(axis=0))
    left, top = max(0, int(low[0])), max(0, int(low[1]))
    right, bottom = min(width, int(high[0])), min(height, int(high[1]))
    if right <= left or bottom <= top:
        raise SettingsError(
            f"the crop lies outside the picture of {width} x {height} px; move its corners",
            name="touch.inside",
        )
    part = _changed(picture, lambda pixels: pixels[top:bottom, left:right])
    return part, np.array([[1, 0, -left], [0, 1, -top], [0, 0, 1.0]])


def _mirrored(picture: Picture, sideways: bool) -> Framed:
    """Return a picture with left and right, or up and down, in each other's place."""
    height, width = picture.rgb.shape[:2]
    if sideways:
        flipped = _changed(picture, lambda pixels: pixels[:, ::-1])
        return flipped, np.array([[-1, 0, width], [0, 1, 0], [0, 0, 1.0]])
    flipped = _changed(picture, lambda pixels: pixels[::-1])
    return flipped, np.array([[1, 0, 0], [0, -1, height], [0, 0, 1.0]])


def _turned(picture: Picture, clockwise_deg: int) -> Framed:
    """Return a picture turned by quarters."""
    height, width = picture.rgb.shape[:2]
    quarter = {
        90: [[0, -1, height], [1, 0, 0], [0, 0, 1]],
        180: [[-1, 0, width], [0, -1, height], [0, 0, 1]],
        270: [[0, 1, 0], [-1, 0, width], [0, 0, 1]],
    }
    turned = _changed(picture, lambda pixels: np.rot90(pixels, -(clockwise_deg // 90)))
    return turned, np.array(quarter[clockwise_deg], np.float64)


def _changed(picture: Picture, change: Callable[[NDArray[np.uint8]], NDArray[np.uint8]]) -> Picture:
    """Return a picture with its pixels, and what is outside, changed alike."""
    outside = None
    if picture.outside is not None:
        outside = np.ascontiguousarray(change(picture.outside.view(np.uint8))).view(np.bool_)
    return replace(picture, rgb=np.ascontiguousarray(change(picture.rgb)), outside=outside)
