"""Where a piece of art lies on the board: its size, place, turn and mirror, as one matrix."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from img2pour.compose import repeats
from img2pour.errors import SettingsError
from img2pour.job.piece_sections import Piece
from img2pour.job.piece_values import IN_ROWS
from img2pour.job.places import ANCHORS, ArtPlace, Spot, read_angle, read_spot
from img2pour.plane.curves import Curves, boxes
from img2pour.plane.overlay import Outline
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


@dataclass(frozen=True, eq=False)
class Frame:
    """What a piece is in its own units.

    Attributes
    ----------
    bounds, y_down, mm_per_unit
        As in :func:`art_placement`.
    seen : sequence of (vertices, bulges)
        What is seen of it: at an edge or corner of the board that is flush, descenders and points
        too. Without it the bounds are.
    """

    bounds: Bounds
    y_down: bool = False
    mm_per_unit: float | None = None
    seen: Sequence[Outline] = ()


def placements(
    piece: Piece, own: ArtPlace, frame: Frame, board_mm: tuple[float, float]
) -> list[Placement]:
    """Return where each copy of a piece lies.

    Parameters
    ----------
    piece : Piece
        Its place, turn and copies.
    own : ArtPlace
        Its size and mirror.
    frame : Frame
    board_mm : (width, height)
    """
    spot = Spot() if piece.at == IN_ROWS else read_spot(piece.at, piece.by)
    own = replace(own, spot=spot, turn_deg=read_angle(piece.turn))
    first = art_placement(
        own, frame.bounds, board_mm, y_down=frame.y_down, mm_per_unit=frame.mm_per_unit
    )
    if frame.seen and spot.x is None:
        first = _flush(first, frame.seen, spot, board_mm)
    if piece.grid is not None:
        columns, rows = piece.grid
        step = (
            piece.step_x.mm if piece.step_x is not None else 0.0,
            piece.step_y.mm if piece.step_y is not None else 0.0,
        )
        return [Placement(k.matrix @ first.matrix) for k in repeats.grid(columns, rows, step)]
    if piece.radius is None:
        return [first]
    there, back = np.eye(3), np.eye(3)
    there[:2, 2] = place_mm(spot, board_mm)
    back[:2, 2] = -there[:2, 2]
    ring = repeats.ring(piece.copies, piece.radius.mm)
    return [Placement(there @ k.matrix @ back @ first.matrix) for k in ring]


def _flush(
    placement: Placement, seen: Sequence[Outline], spot: Spot, board_mm: tuple[float, float]
) -> Placement:
    """Return the placement moved so that what is seen touches the board's edges that are meant."""
    parts = []
    for vertices, bulges in seen:
        there = placement.apply(vertices)
        turned = -bulges if placement.mirrors else bulges
        parts.append(boxes(Curves(there, np.roll(there, -1, axis=0), turned)))
    box = np.concatenate(parts)
    low, high = box[:, :2].min(axis=0), box[:, 2:].max(axis=0)
    share = np.array(ANCHORS[spot.anchor])
    shift = share * (np.array(board_mm) - (high - low)) - low
    matrix = np.eye(3)
    matrix[:2, 2] = np.where(share == 0.5, 0.0, shift)
    return Placement(matrix @ placement.matrix)
