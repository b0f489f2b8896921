"""Pockets that run off the finished board: how far to overrun, and where a dam is needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.carve.inscribed import Polygons

OVERRUN_MM = 1.0
"""Beyond the bit's radius. Common practice, no source."""

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


def overrun(
    regions: Polygons,
    frame: shapely.Polygon,
    bit_radius_mm: float,
    blank: shapely.Polygon | None = None,
) -> Polygons:
    """Return the pockets carried past the board's edge, so that the bit loses no corner there.

    Parameters
    ----------
    regions : (N,) object
        Polygons of the pockets at the finished face.
    frame : Polygon
        The finished board.
    bit_radius_mm : float
        Of the bit that cuts to the edge.
    blank : Polygon, optional
        The wood on the machine; nothing is cut beyond it. The board itself if not given.

    Returns
    -------
    (N,) object
    """
    carried = regions.copy()
    for region in _at_the_edge(regions, frame):
        strip = shapely.buffer(
            _stretches(regions[region], frame),
            bit_radius_mm + OVERRUN_MM,
            cap_style="square",
            join_style="mitre",
        )
        outside = shapely.intersection(shapely.difference(strip, frame), blank or frame)
        joined = shapely.union(regions[region], outside)
        # Whatever is cut off by the blank's own shape stays with the piece that touches the pocket.
        carried[region] = max(shapely.get_parts(joined), key=shapely.area)
    return carried


def _at_the_edge(regions: Polygons, frame: shapely.Polygon) -> list[int]:
    """Return the indices of the regions that share a stretch of the board's edge."""
    near = np.flatnonzero(shapely.dwithin(regions, frame.exterior, TOUCH_MM))
    return [index for index in near.tolist() if not _stretches(regions[index], frame).is_empty]


def _stretches(region: shapely.Polygon, frame: shapely.Polygon) -> shapely.MultiLineString:
    """Return the parts of the board's edge that lie in a region's outline."""
    shared = shapely.intersection(frame.exterior, shapely.buffer(region, TOUCH_MM))
    lines = [part for part in shapely.get_parts(shared) if part.length > 10.0 * TOUCH_MM]
    if not lines:
        return shapely.MultiLineString()
    # The edge starts somewhere; a stretch across that point comes in two parts.
    merged = shapely.line_merge(shapely.MultiLineString(lines))
    return shapely.MultiLineString(list(shapely.get_parts(merged)))
