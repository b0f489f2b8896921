"""Pieces that are cut out of the blank at the end, with their pins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import shapely

from img2pour.write.outlines import Outline
from img2pour.write.values import Pin, Places

if TYPE_CHECKING:
    from img2pour.compose.cut_outs import CutOut


@dataclass(frozen=True, eq=False)
class CutPiece:
    """One piece that is cut out.

    Attributes
    ----------
    cut_out : CutOut
    shape : shapely geometry
        In mm on the board.
    pins : tuple of Pin
        Two in the waste beside it; none where there is no room, or none are wanted.
    """

    cut_out: CutOut
    shape: shapely.Geometry
    pins: tuple[Pin, ...] = ()

    @property
    def outlines(self) -> list[Outline]:
        """The outlines for drawing files."""
        return [Outline(vertices, bulges) for vertices, bulges in self.cut_out.outlines]


@dataclass(frozen=True, eq=False)
class CutPieces:
    """All pieces that are cut out, and what a person should know of them."""

    pieces: tuple[CutPiece, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def outlines(self) -> tuple[Outline, ...]:
        """All outlines."""
        return tuple(outline for piece in self.pieces for outline in piece.outlines)

    @property
    def pins(self) -> tuple[Pin, ...]:
        """All pins."""
        return tuple(pin for piece in self.pieces for pin in piece.pins)


def cut_out_data(pieces: CutPieces, places: Places) -> list[dict[str, Any]]:
    """Return the cut-outs as the report states them."""
    rows = []
    for piece in pieces.pieces:
        x0, y0, x1, y1 = shapely.bounds(piece.shape).tolist()
        rows.append(
            {
                "piece": piece.cut_out.piece,
                "copy": piece.cut_out.number,
                "at_mm": places.seen(((x0 + x1) / 2, (y0 + y1) / 2)),
                "width_mm": x1 - x0,
                "height_mm": y1 - y0,
                "area_mm2": sum(outline.area_mm2 for outline in piece.outlines),
                "pins_mm": [places.seen((x, y)) for x, y, _ in piece.pins],
            }
        )
    return rows
