"""Around a piece that lies on top: a moat of even width, and slivers that the cutting leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.errors import SettingsError
from img2pour.plane.edit import merge_alike, merge_faces
from img2pour.plane.overlay import (
    NO_PIECE,
    Composed,
    FillLayer,
    Layer,
    MapLayer,
    Outline,
    lay,
    paint,
)
from img2pour.plane.regionmap import (
    OUTSIDE_COLOUR,
    FloatArray,
    IntArray,
    RegionMap,
    ring_outline,
    rings,
)
from img2pour.plane.shapes import face_polygons

POLYGON = 3
"""GEOS's number for polygons."""

LEAST_TURN_RAD = 1e-7
"""A corner that turns by less needs no arc of its own around it."""


def silhouette(layer: Layer) -> list[Outline]:
    """Return the outlines of all that a layer covers, each with the covered side on its left."""
    covered = layer.region_map if isinstance(layer, MapLayer) else _painted(layer)
    shown = np.where(covered.face_colours == OUTSIDE_COLOUR, OUTSIDE_COLOUR, 0)
    whole = merge_alike(covered, shown)
    found = rings(whole)
    inner = [i for i, face in enumerate(found.faces) if face >= 0 and whole.face_colours[face] == 0]
    return [ring_outline(whole, found.ring(i)) for i in inner]


def _painted(layer: FillLayer) -> RegionMap:
    """Return filled outlines as a map of their own."""
    points = np.concatenate([vertices for vertices, _ in layer.outlines])
    # An arc reaches at most half its chord beyond its ends.
    reach = float(np.ptp(points, axis=0).max())
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    bounds = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    return paint([FillLayer(layer.outlines, 0, 0, layer.rule)], bounds)


def moat(layer: Layer, width_mm: float, colour: int, piece: int) -> FillLayer:
    """Return a layer to be laid under another one: all within `width_mm` of what that covers.

    The outline is the exact one: lines and arcs moved outwards, and arcs around the corners.

    Parameters
    ----------
    layer : MapLayer or FillLayer
        What lies on top.
    width_mm : float
    colour : int
    piece : int
        The piece of art that the moat counts as.

    Raises
    ------
    SettingsError
        When the width is not above 0.
    """
    if not (np.isfinite(width_mm) and width_mm > 0):
        raise SettingsError(f"a moat {width_mm:g} mm wide is none; give more than 0", name="moat")
    return FillLayer(grown(silhouette(layer), width_mm), colour, piece)


def grown(outlines: Sequence[Outline], width_mm: float) -> list[Outline]:
    """Return outlines that together cover all within `width_mm` of what simple outlines enclose.

    What they enclose lies on their left; they do not cross. To be filled by the nonzero rule.
    """
    return [*outlines, *(band for outline in outlines for band in _bands(outline, width_mm))]


def _bands(outline: Outline, width: float) -> list[Outline]:
    """Return what lies within `width` on the right of every piece and around every corner."""
    start, bulges = outline
    end = np.roll(start, -1, axis=0)
    chord = end - start
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    leaving, arriving = heading - 2 * np.arctan(bulges), heading + 2 * np.arctan(bulges)
    out_start, out_end = _right_of(leaving), _right_of(arriving)
    length = np.hypot(*chord.T)
    curvature = 4 * bulges / (length * (1 + bulges**2))
    # Where an arc turns around a centre nearer than the moat is wide, the band ends there.
    narrow = np.where(curvature < -1 / width, -1 / np.minimum(curvature, -1e-300), width)
    made = []
    for i in range(len(start)):
        far_start = start[i] + narrow[i] * out_start[i]
        far_end = end[i] + narrow[i] * out_end[i]
        made.append(_band(start[i], far_start, far_end, end[i], float(bulges[i])))
    turn = (np.roll(leaving, -1) - arriving + np.pi) % (2 * np.pi) - np.pi
    for i in np.flatnonzero(turn > LEAST_TURN_RAD).tolist():
        onwards = out_start[(i + 1) % len(start)]
        corner = np.array([end[i], end[i] + width * out_end[i], end[i] + width * onwards])
        made.append((corner, np.array([0.0, np.tan(turn[i] / 4), 0.0])))
    return made


def _band(
    start: FloatArray, far_start: FloatArray, far_end: FloatArray, end: FloatArray, bulge: float
) -> Outline:
    """Return the outline of the band between a piece and the same one moved to its right."""
    if np.hypot(*(far_end - far_start)) < 1e-9:  # the pointed end at the arc's centre
        return np.array([start, far_start, end]), np.array([0.0, 0.0, -bulge])
    return np.array([start, far_start, far_end, end]), np.array([0.0, bulge, 0.0, -bulge])


def _right_of(heading: FloatArray) -> FloatArray:
    return np.stack([np.sin(heading), -np.cos(heading)], axis=1)


@dataclass(frozen=True)
class Sliver:
    """A region that the cutting left too thin.

    Attributes
    ----------
    face : int
    colour : int
    piece : int
        The piece of art it belongs to, NO_PIECE for the ground.
    width_mm : float
        Diameter of the largest circle inside.
    at_mm : (x, y)
        Its centre.
    """

    face: int
    colour: int
    piece: int
    width_mm: float
    at_mm: tuple[float, float]


def find_slivers(composed: Composed, least_mm: float) -> tuple[Sliver, ...]:
    """Return the regions under another piece of art that are thinner than `least_mm` all over.

    Parameters
    ----------
    composed : Composed
    least_mm : float
        The least wall.
    """
    made = composed.region_map
    pieces = np.append(composed.face_pieces, NO_PIECE)[made.arc_faces]
    inside = (made.arc_faces >= 0).all(axis=1)
    # Of two neighbours the one that lies lower was cut; what lies on top is as it was drawn.
    beside = np.unique(
        np.concatenate(
            [
                made.arc_faces[inside & (pieces[:, 0] < pieces[:, 1]), 0],
                made.arc_faces[inside & (pieces[:, 1] < pieces[:, 0]), 1],
            ]
        )
    )
    beside = beside[made.face_colours[beside] != OUTSIDE_COLOUR]
    polygons = np.array(face_polygons(made, least_mm / 200), dtype=object)[beside]
    # What is thinner than w all over has an area below w / 2 times the length around it.
    thin = 2 * shapely.area(polygons) / np.maximum(shapely.length(polygons), 1e-12) < least_mm
    found = []
    for face, polygon in zip(beside[thin].tolist(), polygons[thin], strict=True):
        width, at = _widest(polygon, least_mm / 100)
        if width < least_mm:
            colour, piece = int(made.face_colours[face]), int(composed.face_pieces[face])
            found.append(Sliver(face, colour, piece, width, at))
    return tuple(found)


def _widest(polygon: shapely.Polygon, tolerance: float) -> tuple[float, tuple[float, float]]:
    """Return the diameter of the largest circle in a polygon, and its centre."""
    # Chords of two arcs that run close together may cross.
    parts = shapely.get_parts(shapely.make_valid(polygon))
    parts = parts[(shapely.get_type_id(parts) == POLYGON) & (shapely.area(parts) > 0)]
    if len(parts) == 0:
        x, y = shapely.get_coordinates(polygon)[0].tolist()
        return 0.0, (x, y)
    largest = parts[int(shapely.area(parts).argmax())]
    radius = shapely.maximum_inscribed_circle(largest, tolerance)
    x, y = shapely.get_coordinates(radius)[0].tolist()
    return 2 * float(shapely.length(radius)), (x, y)


def merge_slivers(composed: Composed, slivers: tuple[Sliver, ...]) -> Composed:
    """Return the map with each sliver given to the neighbour it shares most of its outline with."""
    if not slivers:
        return composed
    made = composed.region_map
    target = np.arange(made.face_count)
    thin = {sliver.face for sliver in slivers}
    for face in sorted(thin):
        target[face] = _longest_neighbour(made, face, thin)
    merged = merge_faces(made, target)
    pieces = composed.face_pieces[np.flatnonzero(target == np.arange(len(target)))]
    # Laid anew, rings that now touch themselves are sorted out.
    return lay([MapLayer(merged, pieces)], made.bounds)


def _longest_neighbour(region_map: RegionMap, face: int, thin: set[int]) -> int:
    lengths: dict[int, float] = {}
    arcs: IntArray = np.flatnonzero((region_map.arc_faces == face).any(axis=1))
    for arc in arcs.tolist():
        left, right = region_map.arc_faces[arc].tolist()
        other = right if left == face else left
        if other >= 0 and other not in thin:
            points, _ = region_map.arc(arc)
            run = float(np.hypot(*np.diff(points, axis=0).T).sum())
            lengths[other] = lengths.get(other, 0.0) + run
    return max(sorted(lengths), key=lambda other: lengths[other]) if lengths else face
