"""Where each copy of a piece is cut out of the blank: an outline around all that it covers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from img2pour.compose.around import grown
from img2pour.plane.overlay import FillLayer, Layer, MapLayer, Outline, lay
from img2pour.plane.regionmap import (
    OUTSIDE_COLOUR,
    FloatArray,
    RegionMap,
    ring_areas,
    ring_outline,
    rings,
)
from img2pour.plane.shapes import colour_shapes

CUTTER_MM = 6.35
"""Width of the channel around a cut-out: a 1/4 in cutter. Common practice, no source."""

SAGITTA_MM = 0.01


@dataclass(frozen=True, eq=False)
class CutOut:
    """Where one copy is cut out.

    Attributes
    ----------
    piece : str
        What the piece is called.
    number : int
        Which of its copies, from 1.
    outlines : tuple of (vertices, bulges)
        Closed, anticlockwise, in mm on the board; several where its parts lie apart.
    """

    piece: str
    number: int
    outlines: tuple[Outline, ...]

    @property
    def name(self) -> str:
        """The piece and the number of the copy."""
        return f"{self.piece}, copy {self.number}"


def cut_out(layers: Sequence[Layer], around_mm: float) -> tuple[Outline, ...]:
    """Return the outlines of all within `around_mm` of what layers cover, without holes.

    Parameters
    ----------
    layers : sequence of Layer
        Of one copy, its moat too.
    around_mm : float
        Left around it; 0 cuts along its own outline.
    """
    outlines = _outer(_together(layers))
    if around_mm > 0 and outlines:
        outlines = _outer(_together([FillLayer(grown(outlines, around_mm), 0, 0)]))
    return tuple(outlines)


def _together(layers: Sequence[Layer]) -> RegionMap:
    """Return what layers cover as a map of one colour."""
    shown = [_of_one_colour(layer) for layer in layers]
    points = np.concatenate([_points(layer) for layer in shown])
    # An arc reaches at most half its chord beyond its ends.
    reach = float(np.ptp(points, axis=0).max())
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    return lay(shown, bounds, joined=frozenset({0, OUTSIDE_COLOUR})).region_map


def _points(layer: Layer) -> FloatArray:
    if isinstance(layer, MapLayer):
        return layer.region_map.vertices
    return np.concatenate([vertices for vertices, _ in layer.outlines])


def _of_one_colour(layer: Layer) -> Layer:
    if isinstance(layer, FillLayer):
        return replace(layer, colour=0)
    seen = layer.region_map
    colours = np.where(seen.face_colours == OUTSIDE_COLOUR, OUTSIDE_COLOUR, 0)
    return MapLayer(replace(seen, face_colours=colours), layer.piece)


def _outer(covered: RegionMap) -> list[Outline]:
    """Return the outlines around the parts that are covered; holes are left out."""
    found = rings(covered)
    areas = ring_areas(covered, found)
    return [
        ring_outline(covered, found.ring(i))
        for i, face in enumerate(found.faces.tolist())
        if face >= 0 and covered.face_colours[face] == 0 and areas[i] > 0
    ]


def cut_out_shape(outlines: Sequence[Outline]) -> object:
    """Return a cut-out as a shapely geometry, its arcs as chords within `SAGITTA_MM`."""
    return colour_shapes(_together([FillLayer(outlines, 0, 0)]), 1, SAGITTA_MM)[0]


def cut_out_findings(cut_outs: Sequence[CutOut], board_mm: tuple[float, float]) -> tuple[str, ...]:
    """Return where cut-outs leave no room for the cutter, and which reach beyond the board."""
    import shapely

    shapes = np.array([cut_out_shape(one.outlines) for one in cut_outs], dtype=object)
    said = []
    if len(shapes):
        left, right = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=CUTTER_MM)
        pairs = sorted((a, b) for a, b in zip(left.tolist(), right.tolist(), strict=True) if a < b)
        for a, b in pairs:
            gap = float(shapely.distance(shapes[a], shapes[b]))
            how = "overlap" if gap <= 0 else f"are {gap:.2f} mm apart"
            said.append(
                f"{cut_outs[a].name}, and {cut_outs[b].name}: their cut-outs {how}, and a cutter "
                f"takes {CUTTER_MM:g} mm; set them further apart"
            )
    board = shapely.box(0, 0, *board_mm).buffer(1e-6)
    said += [
        f"{one.name}: its cut-out reaches beyond the board; move it, or take a larger board"
        for one, shape in zip(cut_outs, shapes, strict=True)
        if not shapely.covers(board, shape)
    ]
    return tuple(said)
