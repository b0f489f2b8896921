"""The board with everything that is laid on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from img2pour.design import DesignColour
    from img2pour.plane.regionmap import IntArray, RegionMap


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
        What was found, letters that are too small first.
    """

    region_map: RegionMap
    colours: tuple[DesignColour, ...]
    face_pieces: IntArray | None = None
    names: tuple[str, ...] = ("artwork",)
    notes: tuple[str, ...] = ()
