"""Where a piece of art lies on the board: its size, place, turn and mirror, as one matrix."""

from __future__ import annotations

import numpy as np

from img2pour.errors import SettingsError
from img2pour.job.places import ANCHORS, ArtPlace, Spot
from img2pour.plane.placement import Placement
from img2pour.plane.regionmap import FloatArray

Bounds = tuple[float, float, float, float]


def art_placement(
    place: ArtPlace,
    bounds: Bounds,
    board_mm: tuple[float, float],
    *,
    y_down: bool,
    mm_per_unit: float | None = None,
) -> Placement:
    """Return the placement of a piece of art on the board.

    Parameters
    ----------
    place : ArtPlace
    bounds : (x0, y0, x1, y1)
        The art's frame in its own units: pixels of a traced picture, or a drawing's millimetres.
    board_mm : (width, height)
    y_down : bool
        True for pictures, whose first row is at the top.
    mm_per_unit : float, optional
        Scale where neither width nor height is given.

    Raises
    ------
    SettingsError
        When no size is given and the art has none of its own.
    """
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    wished = [(place.width, width), (place.height, height)]
    scales = [length.mm / own for length, own in wished if length is not None]
    scale = min(scales, default=mm_per_unit)
    if scale is None:
        raise SettingsError(
            "how large shall the piece of art be? Give its width or its height", name="width"
        )
    angle = np.radians(place.turn_deg)
    cosine, sine = np.cos(angle), np.sin(angle)
    if place.turn_deg % 90 == 0:
        cosine, sine = np.round(cosine), np.round(sine)
    flips = np.diag([-1.0 if place.mirror else 1.0, -1.0 if y_down else 1.0])
    linear = scale * np.array([[cosine, -sine], [sine, cosine]]) @ flips
    middle = np.array([bounds[0] + bounds[2], bounds[1] + bounds[3]]) / 2
    box = scale * np.array([[abs(cosine), abs(sine)], [abs(sine), abs(cosine)]]) @ [width, height]
    target = place_mm(place.spot, board_mm) + (0.5 - np.array(ANCHORS[place.spot.anchor])) * box
    matrix = np.eye(3)
    matrix[:2, :2] = linear
    matrix[:2, 2] = target - linear @ middle
    return Placement(matrix)


def place_mm(spot: Spot, board_mm: tuple[float, float]) -> FloatArray:
    """Return where a spot lies on the board, (2,)."""
    if spot.x is not None and spot.y is not None:
        return np.array([spot.x.mm, spot.y.mm])
    there: FloatArray = np.array(ANCHORS[spot.anchor]) * np.array(board_mm)
    return there
