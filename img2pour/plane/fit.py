"""Lines and arcs for the whole map: segment, join, relax, cut what is still off, and assemble."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.caps import with_caps
from img2pour.plane.circles import Circle, circle_outline, find_circles
from img2pour.plane.corners import Candidates, Outlines, begin_at_corner, candidates
from img2pour.plane.draft import Draft, residuals
from img2pour.plane.edges import EdgePoints
from img2pour.plane.joints import find_joints, smooth_ends, with_joints
from img2pour.plane.outlines import cut_pieces, cut_wide_pieces, draft_map, trusted
from img2pour.plane.regionmap import FloatArray, RegionMap
from img2pour.plane.relax import RelaxSettings, relax
from img2pour.plane.segment import Pieces, segment
from img2pour.plane.walk import Walk

TANGENT_PX = 60.0
"""Weight of a kink of a radian: 1 degree then costs as much as one point a pixel off."""

MOST_CUTS = 3
"""Rounds in which pieces that are still off are cut in two."""


@dataclass(frozen=True)
class FitSettings:
    """How closely the lines and arcs follow the points.

    Attributes
    ----------
    allowance_px : float
        Residual (rms) of the points that is noise.
    tolerance_px : float
        Greatest distance between the points and the fitted outline, noise aside.
    blur_px : float
        Sigma of the picture's blur.
    """

    allowance_px: float
    tolerance_px: float
    blur_px: float

    def relaxing(self) -> RelaxSettings:
        """Return the settings of the least squares; a pixel's own variance is 1/12."""
        return RelaxSettings(self.allowance_px, self.blur_px**2 + 1 / 12, TANGENT_PX)


def fit(walked: Walk, edges: EdgePoints, settings: FitSettings) -> RegionMap:
    """Return the region map with its edges as lines and arcs.

    Parameters
    ----------
    walked : Walk
        The raw map; faces, arcs and their order are kept.
    edges : EdgePoints
        Points on the edges, from :func:`img2pour.plane.edges.edge_points`.
    settings : FitSettings
    """
    raw = walked.region_map
    closed = raw.arc_nodes[:, 0] == raw.arc_nodes[:, 1]
    outlines = begin_at_corner(Outlines(edges.points, edges.offsets, closed))
    circles = find_circles(outlines, settings.allowance_px, settings.blur_px)
    outlines = _without(outlines, circles)
    pieces = _first_pieces(raw, outlines, settings)
    draft = _settled(draft_map(raw, outlines, pieces), closed, settings)
    for _ in range(MOST_CUTS):
        off = _off(draft, settings.tolerance_px, pieces)
        if not off.any():
            break
        which = np.flatnonzero(off)
        pieces = cut_pieces(pieces, which, (pieces.first[which] + pieces.last[which]) // 2)
        draft = _settled(draft_map(raw, outlines, pieces), closed, settings)
    return _assemble(raw, draft, circles)


def _without(outlines: Outlines, circles: list[Circle]) -> Outlines:
    """Return the outlines with the points of the circles left out."""
    keep = np.ones(len(outlines.points), bool)
    for circle in circles:
        keep[outlines.offsets[circle.arc] : outlines.offsets[circle.arc + 1]] = False
    before = np.concatenate([[0], np.cumsum(keep)])
    return Outlines(outlines.points[keep], before[outlines.offsets], outlines.closed)


def _first_pieces(raw: RegionMap, outlines: Outlines, settings: FitSettings) -> Pieces:
    """Segment the outlines; arcs too short for points become one straight piece."""
    breaks = candidates(outlines)
    pieces = segment(outlines, breaks, _weights(outlines, breaks), settings.allowance_px)
    pieces = cut_wide_pieces(with_caps(pieces, outlines), outlines)
    inner = (raw.arc_faces >= 0).all(axis=1)
    bare = inner & (np.diff(pieces.offsets) == 0) & ~outlines.closed
    return _with_bare(pieces, np.flatnonzero(bare))


def _with_bare(pieces: Pieces, arcs: NDArray[np.int64]) -> Pieces:
    """Return the pieces with one straight piece, without points, for each of these arcs."""
    place = pieces.offsets[arcs]
    at = np.append(pieces.first, pieces.last[-1:])[np.minimum(place, len(pieces.first))]
    added = np.searchsorted(arcs, np.arange(len(pieces.offsets)), side="left")
    return Pieces(
        np.insert(pieces.first, place, at),
        np.insert(pieces.last, place, at),
        np.insert(pieces.is_arc, place, False),
        pieces.offsets + added,
    )


def _weights(outlines: Outlines, breaks: Candidates) -> FloatArray:
    """Return 0 for the points beside candidate corners and at the ends of open outlines."""
    weights = np.ones(len(outlines.points))
    arc = np.repeat(np.arange(len(outlines.closed)), np.diff(breaks.offsets))
    for step in (-2, -1, 0, 1):
        at = breaks.index[breaks.is_corner] + step
        owner = arc[breaks.is_corner]
        inside = (at >= outlines.offsets[owner]) & (at < outlines.offsets[owner + 1])
        weights[at[inside]] = 0.0
    return weights


def _settled(draft: Draft, closed: NDArray[np.bool_], settings: FitSettings) -> Draft:
    """Relax the draft: freely at first, then with the smooth joints that were found."""
    never = np.zeros((len(draft.start), 2), bool)
    draft = relax(trusted(draft, never), settings.relaxing(), 3)
    draft = with_joints(draft, find_joints(draft, closed))
    return relax(trusted(draft, smooth_ends(draft)), settings.relaxing(), 4)


def _off(draft: Draft, tolerance_px: float, pieces: Pieces) -> NDArray[np.bool_]:
    """Return the pieces that still miss their points by more than the tolerance."""
    miss = np.abs(residuals(draft)) * draft.weights
    worst = np.zeros(len(draft.start))
    np.maximum.at(worst, draft.owner, miss)
    off: NDArray[np.bool_] = (worst > tolerance_px) & (pieces.last - pieces.first >= 8)
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
    offsets = np.concatenate([[0], np.cumsum([len(points) for points in vertices])])
    return replace(
        raw,
        vertices=np.concatenate(vertices),
        bulges=np.concatenate(bulges),
        arc_offsets=offsets.astype(np.int64),
    )
