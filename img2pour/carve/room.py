"""Room for widened islands: which of them find enough of it, so that none runs into another.

Dots and strokes that were drawn closer together than a bit is wide would, all of them widened,
flow into one ragged patch. The largest are kept and those too near to them are given up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.carve.claims import TOUCH_MM, Claim, Shapes, polygons_of

WOOD_MM = 1.5
"""Least gap between two pockets in wood. Common practice, no source."""

EDGE_SHARE = 0.5
"""Of the gap, that must stay between a dot and the edge of what it lies in."""

STROKE_SHARE = 0.5
"""Of the gap, that does between strokes: they say more than dots do, and are kept if it can be."""

DOT_LENGTH = 1.5
"""Up to this many widths long, a widened island is a dot."""


@dataclass(frozen=True, eq=False)
class IslandClaim:
    """A claim for a whole island, and the island as drawn."""

    claim: Claim
    island: shapely.Polygon

    @property
    def is_dot(self) -> bool:
        """Whether it would be about as long as it is wide."""
        low_x, low_y, high_x, high_y = self.claim.area.bounds
        return bool(max(high_x - low_x, high_y - low_y) <= DOT_LENGTH * self.claim.is_mm)


def without_room(
    islands: Sequence[IslandClaim], shapes: Shapes, widths_mm: Mapping[int, float]
) -> list[IslandClaim]:
    """Return the claims that find no room; the largest islands are served first.

    Parameters
    ----------
    islands : sequence of IslandClaim
    shapes : mapping of colour to geometry
    widths_mm : mapping of colour to float
        What the bits need; other colours are wood.
    """
    lists = [polygons_of(shapes[colour]) for colour in sorted(shapes)]
    colours = [colour for colour, own in zip(sorted(shapes), lists, strict=True) for _ in own]
    polygons = np.concatenate(lists) if lists else np.empty(0, dtype=object)
    tree = shapely.STRtree(polygons)
    kept: list[shapely.Geometry] = []
    crowded = []
    for one in sorted(islands, key=lambda one: (-one.island.area, one.claim.at_mm)):
        near = tree.query(one.island, predicate="dwithin", distance=TOUCH_MM).tolist()
        hosts = [index for index in near if colours[index] != one.claim.colour]
        gap = max((widths_mm.get(colours[index], WOOD_MM) for index in hosts), default=0.0)
        gap *= 1.0 if one.is_dot else STROKE_SHARE
        near_others = bool(kept) and bool(shapely.dwithin(one.claim.area, kept, gap).any())
        host = polygons[hosts[0]] if one.is_dot and len(hosts) == 1 else None
        if near_others or (host is not None and not _is_inside(one, host, EDGE_SHARE * gap)):
            crowded.append(one)
        else:
            kept.append(one.claim.area)
    return crowded


def _is_inside(one: IslandClaim, host: shapely.Polygon, gap_mm: float) -> bool:
    """Return whether a dot keeps its distance from the outer edge of what it lies in."""
    outer = shapely.Polygon(host.exterior)
    return bool(outer.covers(one.claim.area) and one.claim.area.distance(host.exterior) >= gap_mm)
