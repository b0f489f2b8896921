"""What is changed in the design before it is limited: strokes widened, walls merged or thickened.

The changes are worked out on chords. Only where a colour wins room is its new area painted over
the map, so everything else keeps its own lines and arcs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.adjusted import Adjusted
from img2pour.carve.claims import Shapes
from img2pour.carve.limit import limit
from img2pour.carve.widen import keep_rim, merge_walls, thicken_walls, widen_strokes
from img2pour.design import Design, roles_of
from img2pour.errors import SettingsError
from img2pour.plane.edit import merge_faces
from img2pour.plane.overlay import FillLayer, MapLayer, lay
from img2pour.write.chords import polygons_in, shape_outlines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from img2pour.carve.walls import WallLimits
    from img2pour.job.model import Job
    from img2pour.plane.regionmap import RegionMap

OVERLAP_MM = 0.05
"""Won areas are painted this far into their own colour, where the edge between them vanishes."""

REFIT_MM = 0.02
"""How far the lines and arcs of won areas may lie from their chords."""

SLIVER_MM = 0.04
"""What is narrower lies between a chord and its arc, and goes to a neighbour."""

LEAST_WON_MM2 = 1e-4


def adjust(
    design: Design,
    widths_mm: Mapping[int, float],
    limits: WallLimits,
    job: Job,
    board_mm: tuple[float, float],
) -> Adjusted:
    """Return the map with a rim kept, strokes widened and thin walls dealt with, as asked.

    Parameters
    ----------
    design : Design
        As placed.
    widths_mm : mapping of int to float
        Width that strokes of a colour must have; only these colours are widened.
    limits : WallLimits
    job : Job
    board_mm : (width, height)
        Of the finished board, along whose edge the rim is kept.
    """
    fixed = roles_of(design.colours, "outside")
    wood = roles_of(design.colours, "wood")
    old = _shapes(design)
    rim = _rim(board_mm, job.carving.rim.mm)
    rim_mm = job.carving.rim.mm
    cut_back = keep_rim(old, rim, wood, fixed, rim_mm)
    shapes, changes = cut_back.shapes, cut_back.changes
    if widths_mm:
        widened = widen_strokes(shapes, widths_mm, fixed)
        shapes, changes = widened.shapes, changes + widened.changes
    if job.carving.thin_walls != "mark":
        mend = thicken_walls if job.carving.thin_walls == "thicken" else merge_walls
        mended = mend(shapes, [index for index in wood if index in shapes], limits, fixed)
        shapes, changes = mended.shapes, changes + mended.changes
    if not changes:
        return Adjusted(design.region_map, ())
    # What was widened or merged stays off the rim as well.
    shapes = keep_rim(shapes, rim, wood, fixed, rim_mm).shapes
    return Adjusted(_repainted(design.region_map, old, shapes), changes)


def _rim(board_mm: tuple[float, float], rim_mm: float) -> shapely.Polygon:
    """Return the board's edge as wide as the rim.

    Raises
    ------
    SettingsError
        When the rim leaves nothing of the board.
    """
    if 2.0 * rim_mm >= min(board_mm):
        raise SettingsError(
            f"a rim of {rim_mm:g} mm leaves nothing of a board of {board_mm[0]:.4g} x "
            f"{board_mm[1]:.4g} mm; make it narrower",
            name="carving.rim",
            value=rim_mm,
        )
    if rim_mm == 0.0:
        return shapely.Polygon()
    width, height = board_mm
    inner = shapely.box(rim_mm, rim_mm, width - rim_mm, height - rim_mm)
    return shapely.difference(shapely.box(0, 0, width, height), inner)


def _shapes(design: Design) -> Shapes:
    """Return the area of each colour that the design shows, by its index."""
    polygons, colours = design.polygons(), design.region_map.face_colours
    return {
        int(index): shapely.union_all(polygons[colours == index])
        for index in np.unique(colours[colours >= 0])
    }


def _repainted(region_map: RegionMap, old: Shapes, new: Shapes) -> RegionMap:
    """Return the map with each colour painted over what it won."""
    layers: list[MapLayer | FillLayer] = [MapLayer(region_map, 0)]
    for colour, shape in sorted(new.items()):
        won = shapely.difference(shape, old[colour]) if colour in old else shape
        parts = [part for part in polygons_in(won) if part.area > LEAST_WON_MM2]
        if parts:
            near = shapely.union_all(shapely.buffer(parts, OVERLAP_MM))
            painted = shapely.intersection(near, shape)
            outlines = [(line.vertices, line.bulges) for line in shape_outlines(painted, REFIT_MM)]
            layers.append(FillLayer(outlines, colour, 0))
    joined = frozenset(int(colour) for colour in new)
    composed = lay(layers, region_map.bounds, joined=joined).region_map
    return _without_slivers(composed)


def _without_slivers(region_map: RegionMap) -> RegionMap:
    """Return the map with hair-thin faces given to the neighbours they touch most."""
    every = sorted({int(colour) for colour in region_map.face_colours if colour >= 0})
    found = limit(region_map, SLIVER_MM, every)
    target = np.arange(region_map.face_count)
    for face, into in found.pairs:
        target[face] = into
    return merge_faces(region_map, target)
