"""The board with everything that is laid on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from img2pour.compose.cut_outs import CutOut
    from img2pour.design import DesignColour
    from img2pour.plane.regionmap import IntArray, RegionMap


PLACE_SAGITTA_MM = 0.05
"""Chords that fine tell in which piece a place lies."""


@dataclass(frozen=True, eq=False)
class Laid:
    """The placed artwork with the pieces laid over it.

    Attributes
    ----------
    region_map : RegionMap
        In mm.
    colours : tuple of DesignColour
        The artwork's first, in their order.
    face_pieces : (F,) int64 or None
        The piece that each face belongs to: 0 the artwork, then as in `names`, -1 the bare board;
        None where there is nothing but the artwork.
    names : tuple of str
    notes : tuple of str
        What was found.
    cut_outs : tuple of CutOut
        Where copies of pieces are cut out of the blank.
    """

    region_map: RegionMap
    colours: tuple[DesignColour, ...]
    face_pieces: IntArray | None = None
    names: tuple[str, ...] = ("artwork",)
    notes: tuple[str, ...] = ()
    cut_outs: tuple[CutOut, ...] = ()

    def pieces_at(self, places_mm: Sequence[tuple[float, float]]) -> list[str]:
        """Return the name of the piece that lies at each place, or nearest to it."""
        if self.face_pieces is None or not places_mm:
            return [self.names[0]] * len(places_mm)
        import numpy as np
        import shapely

        from img2pour.plane.shapes import face_polygons

        owned = np.flatnonzero(self.face_pieces >= 0)
        polygons = np.array(face_polygons(self.region_map, PLACE_SAGITTA_MM), dtype=object)[owned]
        nearest = shapely.STRtree(polygons).nearest(shapely.points(np.array(places_mm)))
        return [self.names[piece] for piece in self.face_pieces[owned[nearest]].tolist()]
