"""Pockets that run off the finished board: how far to overrun, and where a dam is needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from img2pour.carve.claims import polygons_of, sealed
from img2pour.carve.inscribed import Polygons
from img2pour.carve.pockets import Walls
from img2pour.carve.profile import Profile

CapStyle = Literal["flat", "square"]

OVERRUN_MM = 1.0
"""Beyond the bit's radius. Common practice, no source."""

APART_MM = 1.0
"""Wood between two overruns of one stage. Common practice, no source."""

TOUCH_MM = 1e-6


@dataclass(frozen=True)
class OpenEdge:
    """A stretch of the board's edge at which a pocket is open.

    Attributes
    ----------
    region : int
        Index of the pocket's region.
    length_mm : float
        Of the dam that it needs.
    at_mm : tuple of float
        The middle of the stretch.
    """

    region: int
    length_mm: float
    at_mm: tuple[float, float]


def open_edges(regions: Polygons, frame: shapely.Polygon) -> tuple[OpenEdge, ...]:
    """Return where pockets run off the board.

    Parameters
    ----------
    regions : (N,) object
        Polygons of the pockets at the finished face.
    frame : Polygon
        The finished board.

    Returns
    -------
    tuple of OpenEdge
        By region; a stretch that goes round the board's corner is one.
    """
    found = []
    for region in _at_the_edge(regions, frame):
        for stretch in shapely.get_parts(_stretches(regions[region], frame)):
            middle = shapely.line_interpolate_point(stretch, 0.5, normalized=True)
            found.append(OpenEdge(int(region), float(stretch.length), (middle.x, middle.y)))
    return tuple(found)


def carry_over(
    outlines: Sequence[shapely.Geometry],
    radii_mm: Sequence[float],
    frame: shapely.Polygon,
    blank: shapely.Polygon | None = None,
    *,
    apart_mm: float = APART_MM,
) -> list[shapely.Geometry]:
    """Return pockets carried past the board's edge, so that the bits lose no corner there.

    Parameters
    ----------
    outlines : sequence of shapely geometry
        Pockets that are cut together, at the finished face.
    radii_mm : sequence of float
        Of the bit that cuts each of them to its edge.
    frame : Polygon
        The finished board.
    blank : Polygon, optional
        The wood on the machine; nothing is cut beyond it. The board itself if not given.
    apart_mm : float
        Wood left between two of them beyond the board: there they go straight on.

    Returns
    -------
    list of shapely geometry
        Those that run off nowhere as they were given.
    """
    beyond = shapely.difference(blank or frame, frame)
    stretches = [_stretches(outline, frame) for outline in outlines]
    wide = [_strip(s, r, "square") for s, r in zip(stretches, radii_mm, strict=True)]
    carried = []
    for index, (outline, stretch) in enumerate(zip(outlines, stretches, strict=True)):
        if stretch.is_empty or beyond.is_empty:
            carried.append(outline)
            continue
        others = shapely.union_all([w for i, w in enumerate(wide) if i != index])
        free = shapely.difference(wide[index], shapely.buffer(others, apart_mm))
        straight = _strip(stretch, radii_mm[index], "flat")
        outside = shapely.intersection(shapely.union(straight, free), beyond)
        carried.append(sealed([outline, *_touching(outside, stretch)]))
    return carried


def edge_radius_mm(profiles: Sequence[Profile], depth_mm: float, walls: Walls) -> float:
    """Return the radius at the carved face of the finest bit that cuts to the wall."""
    flats = [profile for profile in profiles if profile.is_upright]
    cutting = flats if walls == "upright" and flats else profiles
    return min(float(profile.radius_at(depth_mm)) for profile in cutting)


def _strip(stretches: shapely.MultiLineString, radius_mm: float, cap: CapStyle) -> shapely.Geometry:
    """Return what lies within the overrun of some stretches of the edge."""
    return shapely.buffer(stretches, radius_mm + OVERRUN_MM, cap_style=cap, join_style="mitre")


def _touching(
    outside: shapely.Geometry, stretch: shapely.MultiLineString
) -> list[shapely.Geometry]:
    """Return the parts that begin at the pocket; what others cut off beside it is left out."""
    return [part for part in polygons_of(outside) if part.distance(stretch) < TOUCH_MM]


def _at_the_edge(regions: Polygons, frame: shapely.Polygon) -> list[int]:
    """Return the indices of the regions that share a stretch of the board's edge."""
    near = np.flatnonzero(shapely.dwithin(regions, frame.exterior, TOUCH_MM))
    return [index for index in near.tolist() if not _stretches(regions[index], frame).is_empty]


def _stretches(region: shapely.Geometry, frame: shapely.Polygon) -> shapely.MultiLineString:
    """Return the parts of the board's edge that lie in a region's outline."""
    shared = shapely.intersection(frame.exterior, shapely.buffer(region, TOUCH_MM))
    lines = [part for part in shapely.get_parts(shared) if part.length > 10.0 * TOUCH_MM]
    if not lines:
        return shapely.MultiLineString()
    # The edge starts somewhere; a stretch across that point comes in two parts.
    merged = shapely.line_merge(shapely.MultiLineString(lines))
    return shapely.MultiLineString(list(shapely.get_parts(merged)))
