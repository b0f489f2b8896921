"""Painting a region map in pixels with exact coverage: what every pixel holds, by area.

Every edge adds the difference between the colours on its two sides, times the part of each pixel
that lies to the edge's right, to a sheet of differences; a running sum along the rows turns that
into colours. Neighbours share edges, so no seam can show between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.placement import Placement
from img2pour.plane.regionmap import FloatArray, RegionMap
from img2pour.plane.shapes import chorded
from img2pour.write.chords import polygons_in

SAGITTA_PX = 0.005
"""Greatest distance between an arc and its chords: invisible at 256 grey levels."""


@dataclass(frozen=True, eq=False)
class Edges:
    """Straight edges between two colours, in pixels, y down.

    Attributes
    ----------
    starts, ends : (n, 2) float64
    steps : (n, 3) float64
        For an edge that runs down (towards +y): the colour at its greater x less the one at its
        smaller x.
    """

    starts: FloatArray
    ends: FloatArray
    steps: FloatArray


def map_edges(
    region_map: RegionMap, fills: FloatArray, outside: FloatArray, beyond: FloatArray
) -> Edges:
    """Return the edges of a map in pixels.

    Parameters
    ----------
    region_map : RegionMap
        In pixels, y down.
    fills : (K, 3) float64
        Colour of each colour's faces.
    outside, beyond : (3,) float64
        Colour of `outside` faces, and of what lies beyond the frame.
    """
    cut = chorded(region_map, SAGITTA_PX)
    # Index -1 is `outside` in face_colours; face -1 is beyond the frame.
    face_fills = np.vstack([np.vstack([fills, outside])[cut.face_colours], beyond])
    steps = face_fills[cut.arc_faces[:, 1]] - face_fills[cut.arc_faces[:, 0]]
    counts = np.diff(cut.arc_offsets)
    is_start = np.ones(len(cut.vertices), bool)
    is_start[cut.arc_offsets[1:] - 1] = False
    starts = np.flatnonzero(is_start)
    return Edges(
        cut.vertices[starts], cut.vertices[starts + 1], np.repeat(steps, counts - 1, axis=0)
    )


def rectangle_edges(x0: float, y0: float, x1: float, y1: float, step: FloatArray) -> Edges:
    """Return the upright edges of a rectangle whose colour is `step` more than its ground's."""
    starts = np.array([(x0, y0), (x1, y0)])
    ends = np.array([(x0, y1), (x1, y1)])
    return Edges(starts, ends, np.array([step, -step]))


def shape_edges(shape: shapely.Geometry, to_px: Placement, step: FloatArray) -> Edges:
    """Return the edges of a shapely geometry whose colour is `step` more than its ground's.

    Parameters
    ----------
    shape : shapely geometry
        In mm, y up.
    to_px : Placement
        From mm to pixels, y down.
    step : (3,) float64
    """
    # Outer rings run anticlockwise as seen: down on their left, where the shape has greater x.
    rings = shapely.get_rings(shapely.orient_polygons(polygons_in(shape)))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    placed = to_px.apply(points)
    inner = ring[1:] == ring[:-1]
    starts, ends = placed[:-1][inner], placed[1:][inner]
    return Edges(starts, ends, np.tile(step, (len(starts), 1)))


def paint(parts: list[Edges], ground: FloatArray, shape: tuple[int, int]) -> NDArray[np.uint8]:
    """Return the picture of the edges over a ground, (H, W, 3) uint8.

    Parameters
    ----------
    parts : list of Edges
    ground : (3,) float64
        The colour at the left end of every row.
    shape : (H, W)
    """
    height, width = shape
    pieces = [_pieces(edges, height, width) for edges in parts]
    cells = np.concatenate([part for piece in pieces for part in (piece.cells, piece.cells + 1)])
    changes = np.concatenate([part for piece in pieces for part in (piece.here, piece.ahead)])
    order = np.argsort(cells, kind="stable")
    cells, sums = cells[order], np.cumsum(changes[order], axis=0)
    is_last = np.append(cells[1:] != cells[:-1], True) if len(cells) else np.zeros(0, bool)
    # Every row ends with the colour at which the next begins: one run over all rows will do.
    starts = np.concatenate([[0], cells[is_last]])
    colours = np.vstack([ground, ground + sums[is_last]])
    shown = np.clip(np.rint(colours), 0, 255).astype(np.uint8)
    lengths = np.diff(starts, append=height * (width + 1))
    rows: NDArray[np.uint8] = np.repeat(shown, lengths, axis=0).reshape(height, width + 1, 3)
    return np.ascontiguousarray(rows[:, :width])


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Parts of edges that lie in one pixel each, and what they add there and one pixel on.

    A row of cells is one longer than a row of pixels, for what is added beyond the last.
    """

    cells: NDArray[np.int64]
    here: FloatArray
    ahead: FloatArray


def _pieces(edges: Edges, height: int, width: int) -> _Pieces:
    rising = edges.starts[:, 1] != edges.ends[:, 1]
    starts, ends, steps = edges.starts[rising], edges.ends[rising], edges.steps[rising]
    starts, ends, origin = _split(starts, ends, 1)
    starts, ends, second = _split(starts, ends, 0)
    steps = steps[origin[second]]
    middle = (starts + ends) / 2
    row = np.floor(middle[:, 1]).astype(np.int64)
    inside = (row >= 0) & (row < height)
    row, middle, steps = row[inside], middle[inside], steps[inside]
    drop = (ends[:, 1] - starts[:, 1])[inside]
    x = np.clip(middle[:, 0], 0, width)
    column = np.minimum(np.floor(x), width - 1).astype(np.int64)
    share = x - column
    amount = drop[:, None] * steps
    rest = amount * share[:, None]
    return _Pieces(row * (width + 1) + column, amount - rest, rest)


def _split(
    starts: FloatArray, ends: FloatArray, axis: int
) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Cut edges wherever coordinate `axis` is whole; tell which edge each part comes from."""
    low = np.minimum(starts[:, axis], ends[:, axis])
    high = np.maximum(starts[:, axis], ends[:, axis])
    first = np.floor(low)
    counts = np.maximum(np.ceil(high) - first, 1).astype(np.int64)
    origin = np.repeat(np.arange(len(starts)), counts)
    before = np.concatenate([[0], np.cumsum(counts)[:-1]])
    step = np.arange(len(origin)) - before[origin]
    length = np.where(high > low, high - low, 1.0)
    lower = np.maximum(low[origin], first[origin] + step)
    upper = np.minimum(high[origin], first[origin] + step + 1)
    forwards = (starts[:, axis] <= ends[:, axis])[origin]
    from_share = np.where(forwards, lower - low[origin], high[origin] - upper) / length[origin]
    to_share = np.where(forwards, upper - low[origin], high[origin] - lower) / length[origin]
    still = (high == low)[origin]
    from_share, to_share = np.where(still, 0.0, from_share), np.where(still, 1.0, to_share)
    run = (ends - starts)[origin]
    base = starts[origin]
    return base + from_share[:, None] * run, base + to_share[:, None] * run, origin
