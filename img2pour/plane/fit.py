"""Lines and arcs for the whole map: segment, join, relax, cut what is still off, and assemble."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.caps import with_caps
from img2pour.plane.circles import Circle, circle_outline, find_circles
from img2pour.plane.corners import Outlines, begin_at_corner, candidates
from img2pour.plane.draft import Draft, residuals
from img2pour.plane.edges import EdgePoints
from img2pour.plane.edit import contract_arcs, with_arcs
from img2pour.plane.joints import find_joints, smooth_ends, with_joints
from img2pour.plane.near_nodes import arcs_to_contract, with_joined_nodes
from img2pour.plane.outlines import cut_pieces, cut_wide_pieces, draft_map, trusted
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap, face_areas
from img2pour.plane.relax import RelaxSettings, relax
from img2pour.plane.safety import mended
from img2pour.plane.segment import CornerSettings, Pieces, segment
from img2pour.plane.tips import without_cut_tips
from img2pour.plane.walk import Walk
from img2pour.plane.wedges import with_nodes_at_crossings

TANGENT_PX = 60.0
"""Weight of a kink of a radian: 1 degree then costs as much as one point a pixel off."""

LEAST_LEFT = 0.3
"""Share of its first length below which a piece has been squeezed out."""

NOISE_REACH = 3.3
"""Points of nothing but noise lie within so many times the allowance."""

MOST_CUTS = 3
"""Rounds in which pieces that are still off are cut in two."""


@dataclass(frozen=True)
class FitSettings:
    """How closely the lines and arcs follow the points.

    Attributes
    ----------
    tolerance_px : float
        Greatest distance between the points and the fitted outline, noise aside.
    blur_px : float
        Sigma of the picture's blur.
    """

    tolerance_px: float
    blur_px: float

    def corners(self) -> CornerSettings:
        """Return what is not trusted beside corners: a third of a pixel, and the blur's reach."""
        reach = round(1.5 * self.blur_px)
        return CornerSettings(2 + reach, 3 + reach, 0.3 + 0.5 * self.blur_px)

    def tip_px(self) -> float:
        """Return by how much pixels and blur round off a flat corner."""
        return 0.7 + 0.35 * self.blur_px

    def relaxing(self, allowance_px: FloatArray) -> RelaxSettings:
        """Return the settings of the least squares; a pixel's own variance is 1/12."""
        return RelaxSettings(allowance_px, self.blur_px**2 + 1 / 12, TANGENT_PX)


def fit(
    walked: Walk, edges: EdgePoints, allowance_px: FloatArray, settings: FitSettings
) -> RegionMap:
    """Return the region map with its edges as lines and arcs.

    Parameters
    ----------
    walked : Walk
        The raw map; faces, arcs and their order are kept.
    edges : EdgePoints
        Points on the edges, from :func:`img2pour.plane.edges.edge_points`.
    allowance_px : (A,) float64
        Residual (rms) of each arc's points that is noise.
    settings : FitSettings
    """
    closed = walked.region_map.arc_nodes[:, 0] == walked.region_map.arc_nodes[:, 1]
    outlines = begin_at_corner(Outlines(edges.points, edges.offsets, closed))
    circles = find_circles(outlines, allowance_px, settings.blur_px)
    outlines = _without(outlines, circles)
    pieces = _first_pieces(walked.region_map, outlines, allowance_px, settings)
    whole = face_areas(walked.region_map)
    joined = _with_one_node_each(walked.region_map, outlines, pieces, allowance_px, settings)
    for raw, own, gone in (joined, (walked.region_map, pieces, joined[2][:0])):
        draft = _cut_until_close(raw, outlines, own, allowance_px, settings)
        draft = with_nodes_at_crossings(draft)
        fitted = contract_arcs(_assemble(raw, draft, circles), gone)
        found = mended(fitted, contract_arcs(raw, gone), _edges_of(edges, gone), whole)
        if found is not None:
            return found
    return walked.region_map


def _with_one_node_each(
    raw: RegionMap,
    outlines: Outlines,
    pieces: Pieces,
    allowance_px: FloatArray,
    settings: FitSettings,
) -> tuple[RegionMap, Pieces, IntArray]:
    """Join the junctions that are one point; return the map, its pieces and the arcs between."""
    first = draft_map(raw, outlines, pieces)
    draft = _relaxed_freely(first, allowance_px, settings)
    shrunk = _shrunk(first, draft, outlines.closed)
    if shrunk.any():
        pieces = _picked(pieces, ~shrunk)
        draft = _relaxed_freely(draft_map(raw, outlines, pieces), allowance_px, settings)
    gone = arcs_to_contract(raw, draft, settings.blur_px)
    if len(gone) == 0:
        return raw, pieces, gone
    return with_joined_nodes(raw, gone), _without_arcs(pieces, gone), gone


def _without_arcs(pieces: Pieces, arcs: IntArray) -> Pieces:
    """Return the pieces without those of some arcs."""
    counts = np.diff(pieces.offsets)
    return _picked(pieces, ~np.repeat(np.isin(np.arange(len(counts)), arcs), counts))


def _picked(pieces: Pieces, kept: NDArray[np.bool_]) -> Pieces:
    """Return some of the pieces; the points of the others are left to nobody."""
    before = np.concatenate([[0], np.cumsum(kept)])
    return Pieces(
        pieces.first[kept], pieces.last[kept], pieces.is_arc[kept], before[pieces.offsets]
    )


def _shrunk(first: Draft, relaxed: Draft, closed: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the pieces that their neighbours squeezed out: much shorter now, or turned round."""
    before = first.vertices[first.end] - first.vertices[first.start]
    after = relaxed.vertices[relaxed.end] - relaxed.vertices[relaxed.start]
    length = np.maximum((before**2).sum(axis=1), 1e-12)
    counts = np.diff(first.offsets)
    spare = np.repeat(counts - np.where(closed, 2, 1), counts) > 0
    shrunk: NDArray[np.bool_] = ((before * after).sum(axis=1) < LEAST_LEFT * length) & spare
    # Of two neighbours one may take the other's room, so one goes at a time.
    shrunk[1:] &= ~shrunk[:-1]
    return shrunk


def _cut_until_close(
    raw: RegionMap,
    outlines: Outlines,
    pieces: Pieces,
    allowance_px: FloatArray,
    settings: FitSettings,
) -> Draft:
    """Settle the draft, cut what is still off, drop what is squeezed out, and settle again."""
    tolerance_px = np.maximum(NOISE_REACH * allowance_px, settings.tolerance_px)
    for last in (*[False] * MOST_CUTS, True):
        first = draft_map(raw, outlines, pieces)
        draft = _settled(first, outlines.closed, allowance_px, settings)
        shrunk = _shrunk(first, draft, outlines.closed)
        off = np.flatnonzero(_off(draft, tolerance_px, pieces) & ~shrunk)
        if last or (len(off) == 0 and not shrunk.any()):
            break
        middle = (pieces.first[off] + pieces.last[off]) // 2
        pieces = cut_pieces(pieces, off, middle)
        pieces = _picked(pieces, np.insert(~shrunk, off + 1, True))
    return draft


def _edges_of(edges: EdgePoints, gone: IntArray) -> EdgePoints:
    """Return the points without those of arcs that are gone."""
    counts = np.diff(edges.offsets)
    kept = ~np.isin(np.arange(len(counts)), gone)
    own = np.repeat(kept, counts)
    offsets = np.concatenate([[0], np.cumsum(counts[kept])]).astype(np.int64)
    return EdgePoints(edges.points[own], offsets, edges.cracks[own])


def _without(outlines: Outlines, circles: list[Circle]) -> Outlines:
    """Return the outlines with the points of the circles left out."""
    keep = np.ones(len(outlines.points), bool)
    for circle in circles:
        keep[outlines.offsets[circle.arc] : outlines.offsets[circle.arc + 1]] = False
    before = np.concatenate([[0], np.cumsum(keep)])
    return Outlines(outlines.points[keep], before[outlines.offsets], outlines.closed)


def _first_pieces(
    raw: RegionMap, outlines: Outlines, allowance_px: FloatArray, settings: FitSettings
) -> Pieces:
    """Segment the outlines; arcs too short for points become one straight piece."""
    pieces = _segmented(outlines, allowance_px, settings)
    pieces = without_cut_tips(pieces, outlines, settings.tip_px(), settings.blur_px)
    pieces = cut_wide_pieces(with_caps(pieces, outlines), outlines)
    inner = (raw.arc_faces >= 0).all(axis=1)
    bare = inner & (np.diff(pieces.offsets) == 0) & ~outlines.closed
    return _with_bare(pieces, np.flatnonzero(bare))


def _segmented(outlines: Outlines, allowance_px: FloatArray, settings: FitSettings) -> Pieces:
    """Return the cheapest pieces of every outline; none where there are only circles."""
    if len(outlines.points) == 0:
        none = np.empty(0, np.int64)
        return Pieces(none, none, np.empty(0, bool), np.zeros(len(outlines.offsets), np.int64))
    return segment(outlines, candidates(outlines), allowance_px, settings.corners())


def _with_bare(pieces: Pieces, arcs: NDArray[np.int64]) -> Pieces:
    """Return the pieces with one straight piece, without points, for each of these arcs."""
    place = pieces.offsets[arcs]
    # Where no piece follows, the place is the end of the last one, or 0 without any.
    ends = np.concatenate([pieces.first, pieces.last[-1:], [0]])
    at = ends[np.minimum(place, len(pieces.first))]
    added = np.searchsorted(arcs, np.arange(len(pieces.offsets)), side="left")
    return Pieces(
        np.insert(pieces.first, place, at),
        np.insert(pieces.last, place, at),
        np.insert(pieces.is_arc, place, False),
        pieces.offsets + added,
    )


def _relaxed_freely(draft: Draft, arc_allowance_px: FloatArray, settings: FitSettings) -> Draft:
    """Relax the draft with every joint free to be a corner."""
    pulls = settings.relaxing(np.repeat(arc_allowance_px, np.diff(draft.offsets)))
    never = np.zeros((len(draft.start), 2), bool)
    return relax(trusted(draft, never, settings.corners()), pulls, 3)


def _settled(
    draft: Draft, closed: NDArray[np.bool_], arc_allowance_px: FloatArray, settings: FitSettings
) -> Draft:
    """Relax the draft: freely at first, then with the smooth joints that were found."""
    draft = _relaxed_freely(draft, arc_allowance_px, settings)
    allowance_px = np.repeat(arc_allowance_px, np.diff(draft.offsets))
    pulls = settings.relaxing(allowance_px)
    draft = with_joints(draft, find_joints(draft, closed, allowance_px))
    return relax(trusted(draft, smooth_ends(draft), settings.corners()), pulls, 4)


def _off(draft: Draft, tolerance_px: FloatArray, pieces: Pieces) -> NDArray[np.bool_]:
    """Return the pieces that still miss their points by more than the tolerance."""
    miss = np.abs(residuals(draft)) * draft.weights
    worst = np.zeros(len(draft.start))
    np.maximum.at(worst, draft.owner, miss)
    limit = np.repeat(tolerance_px, np.diff(draft.offsets))
    off: NDArray[np.bool_] = (worst > limit) & (pieces.last - pieces.first >= 8)
    return off


def _assemble(raw: RegionMap, draft: Draft, circles: list[Circle]) -> RegionMap:
    """Return the region map of the draft; arcs that were not fitted keep their raw vertices."""
    vertices: list[FloatArray] = []
    bulges: list[FloatArray] = []
    nodes = draft.vertices
    round_arcs = {circle.arc: circle for circle in circles}
    low, high = draft.offsets[:-1].tolist(), draft.offsets[1:].tolist()
    for arc in range(raw.arc_count):
        if arc in round_arcs:
            points, bulge = circle_outline(round_arcs[arc])
        elif high[arc] > low[arc]:
            part = slice(low[arc], high[arc])
            points = nodes[np.append(draft.start[part], draft.end[high[arc] - 1])]
            bulge = np.append(draft.bulges[part], 0.0)
        else:
            points, bulge = raw.arc(arc)
            points = points.copy()
            points[[0, -1]] = nodes[raw.arc_nodes[arc]]
        vertices.append(points)
        bulges.append(bulge)
    return with_arcs(raw, vertices, bulges)
