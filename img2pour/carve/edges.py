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
from img2pour.carve.voids import opened

CapStyle = Literal["flat", "square"]

OVERRUN_MM = 1.0
"""Beyond the bit's radius. Common practice, no source."""

APART_MM = 1.0
"""Wood between two overruns of one stage. Common practice, no source."""

LEAST_CORNER_MM2 = 1e-3
TOUCH_MM = 1e-6

LEAST_DAM_MM = 0.1
"""A shorter stretch is a round outline that touches the edge in a point: resin stays behind it."""


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
            if stretch.length < LEAST_DAM_MM:
                continue
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
    reaches = [
        _overrun_mm(outline, stretch, radius, frame)
        for outline, stretch, radius in zip(outlines, stretches, radii_mm, strict=True)
    ]
    wide = [_strip(s, reach, "square") for s, reach in zip(stretches, reaches, strict=True)]
    carried = []
    for index, (outline, stretch) in enumerate(zip(outlines, stretches, strict=True)):
        if stretch.is_empty or beyond.is_empty:
            carried.append(outline)
            continue
        others = shapely.union_all([w for i, w in enumerate(wide) if i != index])
        free = shapely.difference(wide[index], shapely.buffer(others, apart_mm))
        straight = _strip(stretch, reaches[index], "flat")
        outside = shapely.intersection(shapely.union(straight, free), beyond)
        carried.append(sealed([outline, *_touching(outside, stretch)]))
    return carried


def _overrun_mm(
    outline: shapely.Geometry,
    stretches: shapely.MultiLineString,
    radius_mm: float,
    frame: shapely.Polygon,
) -> float:
    """Return how far to overrun: the radius and a little, or a whole bit at acute corners.

    Where a pocket leaves the board at less than a right angle, the bit clears the corner only from
    a place that lies wholly beyond the edge.
    """
    usual, whole = radius_mm + OVERRUN_MM, 2.0 * radius_mm
    if stretches.is_empty or whole <= usual:
        return usual
    outside = shapely.difference(_strip(stretches, usual, "square"), frame)
    cut = opened(np.array([sealed([outline, outside])]), radius_mm)[0]
    near = shapely.intersection(outline, shapely.buffer(stretches, radius_mm))
    # Offsets of long sides are off by up to a hundredth of the radius.
    left = shapely.difference(near, shapely.buffer(cut, 0.02 * radius_mm))
    return whole if left.area > LEAST_CORNER_MM2 else usual


def edge_radius_mm(profiles: Sequence[Profile], depth_mm: float, walls: Walls) -> float:
    """Return the radius at the carved face of the finest bit that cuts to the wall."""
    flats = [profile for profile in profiles if profile.is_upright]
    cutting = flats if walls == "upright" and flats else profiles
    return min(float(profile.radius_at(depth_mm)) for profile in cutting)


def _strip(stretches: shapely.MultiLineString, reach_mm: float, cap: CapStyle) -> shapely.Geometry:
    """Return what lies within the overrun of some stretches of the edge."""
    return shapely.buffer(stretches, reach_mm, cap_style=cap, join_style="mitre")


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
    if not shapely.dwithin(region, frame.exterior, TOUCH_MM):
        return shapely.MultiLineString()
    shared = shapely.intersection(frame.exterior, shapely.buffer(region, TOUCH_MM))
    lines = [part for part in shapely.get_parts(shared) if part.length > 10.0 * TOUCH_MM]
    if not lines:
        return shapely.MultiLineString()
    # The edge starts somewhere; a stretch across that point comes in two parts.
    merged = shapely.line_merge(shapely.MultiLineString(lines))
    return shapely.MultiLineString(list(shapely.get_parts(merged)))
