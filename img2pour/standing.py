"""Lines that no bit needs to cut: pours on both sides are carved later and leave them standing."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
import shapely

from img2pour.carve.inscribed import Polygons, can_enter
from img2pour.carve.limit import shared_lengths
from img2pour.plane.regionmap import RegionMap

BESIDE_SHARE = 0.9
"""Of a line's outline that pours of other colours must bound."""

SIDE_SHARE = 0.2
"""Of its outline that a second pocket must bound: a line has two sides."""


def standing_faces(
    region_map: RegionMap,
    polygons: Polygons,
    entry_mm: Mapping[int, float],
    pours: Collection[int],
    least_mm: float,
) -> tuple[int, ...]:
    """Return the faces that bits cannot enter, but that pours around them can leave standing.

    Parameters
    ----------
    region_map : RegionMap
        In mm.
    polygons : (F,) object
        Its faces.
    entry_mm : mapping of int to float
        Width that the bits need, by colour; colours that are missing are not asked.
    pours : collection of int
        Colours that are poured.
    least_mm : float
        The least wall of cured resin.
    """
    colours = region_map.face_colours
    asked = np.flatnonzero(np.isin(colours, list(entry_mm)))
    needed = np.array([entry_mm[int(colour)] for colour in colours[asked]])
    narrow = asked[~can_enter(polygons[asked], needed / 2.0)]
    narrow = narrow[can_enter(polygons[narrow], least_mm / 2.0)]
    if not len(narrow):
        return ()
    shared, around = shared_lengths(region_map), shapely.length(polygons)
    poured = np.isin(colours, list(pours))
    found = []
    for face in narrow.tolist():
        sides = [
            length / around[face]
            for other, length in shared[face].items()
            if poured[other] and colours[other] != colours[face]
        ]
        if sum(sides) >= BESIDE_SHARE and sorted(sides)[-2:][0] >= SIDE_SHARE and len(sides) > 1:
            found.append(face)
    return tuple(found)
