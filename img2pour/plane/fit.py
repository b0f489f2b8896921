"""Lines and arcs for the whole map: segment, join, relax, cut what is still off, and assemble."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.blunted import without_round_corners
from img2pour.plane.caps import with_caps
from img2pour.plane.circles import Circle, circle_outline, find_circles
from img2pour.plane.corners import Outlines, begin_at_corner, candidates
from img2pour.plane.draft import Draft
from img2pour.plane.edges import EdgePoints
from img2pour.plane.edit import contract_arcs, with_arcs
from img2pour.plane.ends import with_square_ends
from img2pour.plane.near_nodes import arcs_to_contract, with_joined_nodes
from img2pour.plane.outlines import cut_wide_pieces
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap, face_areas
from img2pour.plane.safety import mended
from img2pour.plane.segment import Pieces, segment
from img2pour.plane.settle import (
    FitSettings,
    Task,
    begun,
    settled,
    sharpened,
    with_nodes_joined,
)
from img2pour.plane.tips import without_cut_tips
from img2pour.plane.walk import Walk
from img2pour.plane.wedges import with_nodes_at_crossings

FLAT_PX = 0.005
"""An arc with less sagitta is a line."""


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
    task = Task(outlines, allowance_px, settings)
    whole = face_areas(walked.region_map)
    pieces, task = _first_pieces(walked.region_map, task)
    first = begun(walked.region_map, pieces, task)
    gone = arcs_to_contract(first.raw, first.draft, settings.blur_px)
    for arcs in (gone, gone[:0]) if len(gone) else (gone,):
        state = first
        if len(arcs):
            state = with_nodes_joined(first, with_joined_nodes(first.raw, arcs), arcs, task)
        state = sharpened(settled(state, task), task)
        draft = with_nodes_at_crossings(state.draft)
        fitted = contract_arcs(_assemble(state.raw, draft, circles), arcs)
        raw = contract_arcs(state.raw, arcs)
        found = mended(fitted, raw, _edges_of(edges, arcs), whole)
        if found is not None:
            return found
    return walked.region_map


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


def _first_pieces(raw: RegionMap, task: Task) -> tuple[Pieces, Task]:
    """Segment the outlines; arcs too short for points become one straight piece."""
    outlines, settings = task.outlines, task.settings
    pieces = _segmented(task)
    pieces = without_cut_tips(pieces, outlines, settings.tip_px(), settings.blur_px)
    if settings.is_blurred:
        pieces, outlines = with_square_ends(pieces, outlines, task.noise_px, settings.sigma_px)
    pieces = cut_wide_pieces(with_caps(pieces, outlines), outlines)
    inner = (raw.arc_faces >= 0).all(axis=1)
    bare = inner & (np.diff(pieces.offsets) == 0) & ~outlines.closed
    return _with_bare(pieces, np.flatnonzero(bare)), replace(task, outlines=outlines)


def _segmented(task: Task) -> Pieces:
    """Return the cheapest pieces of every outline; none where there are only circles."""
    outlines = task.outlines
    if len(outlines.points) == 0:
        none = np.empty(0, np.int64)
        return Pieces(none, none, np.empty(0, bool), np.zeros(len(outlines.offsets), np.int64))
    settings, breaks = task.settings, candidates(outlines)
    corners = settings.corners()
    if settings.is_blurred:
        breaks = without_round_corners(
            breaks, outlines, task.noise_px, settings.sigma_px, corners.corner_points
        )
    return segment(outlines, breaks, task.allowance_px, corners)


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


def _without_hair(points: FloatArray, bulges: FloatArray) -> FloatArray:
    """Return the bulges with those made 0 that leave their chord by less than shows.

    Such arcs have radii of hundreds of metres on the board, which some readers refuse.
    """
    chords = np.append(np.hypot(*np.diff(points, axis=0).T), 0.0)
    return np.where(np.abs(bulges) * chords / 2 < FLAT_PX, 0.0, bulges)


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
            bulge = _without_hair(points, np.append(draft.bulges[part], 0.0))
        else:
            points, bulge = raw.arc(arc)
            points = points.copy()
            points[[0, -1]] = nodes[raw.arc_nodes[arc]]
        vertices.append(points)
        bulges.append(bulge)
    return with_arcs(raw, vertices, bulges)
