"""Pins beside each piece that is cut out of the blank, in waste that nothing else cuts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.compose.board import PIN_WALL_MM
from img2pour.compose.cut_outs import CUTTER_MM, CutOut, cut_out_shape
from img2pour.cut_pieces import CutPiece, CutPieces
from img2pour.write.values import Board, Pin

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.plane.regionmap import FloatArray
    from img2pour.planning import Planned

PLACES_AROUND = 180
"""Places around a cut-out at which a pin may stand."""

OFF_CENTRE = 0.04
"""How far off the middle between its two pins a piece lies, as a share of their distance, so that
it does not go back on them turned."""


def cut_pieces(
    cut_outs: Sequence[CutOut], carved: shapely.Geometry, board: Board, job: Job
) -> CutPieces:
    """Return the pieces with two pins beside each, in waste that nothing else cuts.

    Parameters
    ----------
    cut_outs : sequence of CutOut
    carved : shapely geometry
        All that is carved.
    board : Board
    job : Job
        Its blank tells whether pins are wanted, how wide they are, and the margin around the board.
    """
    shapes = [cut_out_shape(one.outlines) for one in cut_outs]
    if not cut_outs or not job.blank.pins:
        found = zip(cut_outs, shapes, strict=True)
        return CutPieces(tuple(CutPiece(one, shape) for one, shape in found))
    width = job.blank.pin_width.mm
    room = _room(shapes, carved, board, job)
    pieces, stuck = [], []
    for one, shape in zip(cut_outs, shapes, strict=True):
        pins = _pins_beside(shape, room, width)
        stuck += [] if pins else [one.name]
        room = shapely.difference(room, _around_pins(pins, width))
        pieces.append(CutPiece(one, shape, pins))
    notes = []
    if stuck:
        needed = width + 2 * (CUTTER_MM + PIN_WALL_MM)
        names = ", ".join(stuck[:4]) + (f" and {len(stuck) - 4} more" if len(stuck) > 4 else "")
        notes.append(
            f"no room for two pins {job.blank.pin_width} wide beside {names}: leave "
            f"{needed:.1f} mm between the cut-outs and a margin around the board, or write "
            "pins = false under [blank]"
        )
    return CutPieces(tuple(pieces), tuple(notes))


def _room(
    shapes: Sequence[shapely.Geometry], carved: shapely.Geometry, board: Board, job: Job
) -> shapely.Geometry:
    """Return where the middle of a pin may lie: on the blank, clear of all that is cut."""
    width, margin = job.blank.pin_width.mm, job.blank.margin.mm
    inset = width - margin
    blank = shapely.box(inset, inset, board.width_mm - inset, board.height_mm - inset)
    channels = shapely.buffer(shapely.union_all(shapes), CUTTER_MM + PIN_WALL_MM + width / 2)
    pockets = shapely.buffer(shapely.simplify(carved, 0.1), PIN_WALL_MM + width / 2)
    edge = shapely.box(0, 0, board.width_mm, board.height_mm).exterior
    beside_edge = shapely.buffer(edge, PIN_WALL_MM + width / 2)
    return shapely.difference(blank, shapely.union_all([channels, pockets, beside_edge]))


def _pins_beside(shape: shapely.Geometry, room: shapely.Geometry, width: float) -> tuple[Pin, ...]:
    """Return the two places furthest apart around a cut-out that keep it from being turned."""
    reach = CUTTER_MM + PIN_WALL_MM + width / 2 + 0.1
    around = shapely.get_exterior_ring(shapely.convex_hull(shapely.buffer(shape, reach)))
    shares = np.arange(PLACES_AROUND) / PLACES_AROUND
    points = shapely.line_interpolate_point(around, shares, normalized=True)
    points = points[shapely.covers(room, points)]
    places = shapely.get_coordinates(points)
    if len(places) < 2:
        return ()
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    x0, y0, x1, y1 = shapely.bounds(shape).tolist()
    middle = (places[:, None] + places[None]) / 2 - [(x0 + x1) / 2, (y0 + y1) / 2]
    off = np.hypot(*middle.transpose(2, 0, 1)) >= OFF_CENTRE * apart
    score: FloatArray = np.where(off & (apart > 3 * width), np.round(apart, 6), -1.0)
    if score.max() < 0:
        return ()
    one, other = divmod(int(score.argmax()), len(places))
    pair = sorted((places[one].tolist(), places[other].tolist()))
    return tuple((x, y, width) for x, y in pair)


def _around_pins(pins: Sequence[Pin], width: float) -> shapely.Geometry:
    points = shapely.points(np.array([pin[:2] for pin in pins]).reshape(-1, 2))
    return shapely.buffer(shapely.multipoints(points), width + PIN_WALL_MM)


def carved_in(planned: Planned | None) -> shapely.Geometry:
    """Return all that the stages carve, but for a seal that floods the whole board."""
    if planned is None:
        return shapely.Polygon()
    flooded = planned.plan.seal.seal.kind == "flood"
    outlines = [
        pocket.outline
        for stage in planned.plan.stages
        if not (flooded and stage.kind == "seal")
        for pocket in stage.pockets
    ]
    return shapely.union_all(outlines)
