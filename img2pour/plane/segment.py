"""The fewest lines and arcs that explain the points: dynamic programming over candidate breaks.

All outlines advance together: spans grow by one cell at a time for every start at once, their
sums are carried along, and spans that neither a line nor an arc explains any more are let go.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.corners import Candidates, Outlines
from img2pour.plane.moments import (
    centred,
    circle_variance,
    line_variance,
    run_sums,
    shifted,
)
from img2pour.plane.regionmap import FloatArray, IntArray

LINE_COST, ARC_COST = 6.0, 8.0
"""Price of a piece, in units of half a squared residual over the points' variance."""

HOPELESS = 3.0
"""A span whose rms is above this many times the allowance is not grown further."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Lines and arcs in order along each outline.

    Attributes
    ----------
    first, last : (P,) int64
        Points first .. last - 1 belong to the piece.
    is_arc : (P,) bool
    offsets : (A + 1,) int64
        Pieces of each outline.
    """

    first: IntArray
    last: IntArray
    is_arc: NDArray[np.bool_]
    offsets: IntArray


@dataclass(frozen=True, eq=False)
class _Spans:
    """Spans that a piece may cover: candidates `start` to `end` at a cost."""

    start: IntArray
    end: IntArray
    cost: FloatArray
    is_arc: NDArray[np.bool_]


def segment(
    outlines: Outlines, breaks: Candidates, weights: FloatArray, allowance_px: float
) -> Pieces:
    """Return the cheapest pieces for every outline.

    Parameters
    ----------
    outlines : Outlines
    breaks : Candidates
    weights : (N,) float64
        0 for points that are not to be trusted (beside corners and nodes), else 1.
    allowance_px : float
        Residual (rms) that is taken for noise: twice it costs, HOPELESS times it is refused.
    """
    spans = _all_spans(outlines, breaks, weights, allowance_px)
    chosen = _cheapest(spans, breaks)
    return _pieces(spans, chosen, breaks)


def _all_spans(
    outlines: Outlines, breaks: Candidates, weights: FloatArray, allowance_px: float
) -> _Spans:
    """Grow spans from every candidate, cell by cell."""
    last_of_arc = np.repeat(breaks.offsets[1:] - 1, np.diff(breaks.offsets))
    has_cell = np.arange(len(breaks.index)) < last_of_arc
    origin = outlines.points[np.minimum(breaks.index, len(outlines.points) - 1)]
    cells = _cell_sums(outlines, breaks, weights, has_cell, origin)
    start = np.flatnonzero(has_cell)
    sums = cells[:, start]
    end = start + 1
    found: list[_Spans] = []
    while len(start):
        cost, is_arc, rms = _costs(sums, allowance_px)
        fits = (rms <= HOPELESS * allowance_px) | (end == start + 1)
        found.append(_Spans(start[fits], end[fits], cost[fits], is_arc[fits]))
        grows = fits & (end < last_of_arc[start])
        start, end, sums = start[grows], end[grows], sums[:, grows]
        step = origin[end] - origin[start]
        sums = sums + shifted(cells[:, end], *step.T)
        end = end + 1
    return _Spans(
        np.concatenate([span.start for span in found]),
        np.concatenate([span.end for span in found]),
        np.concatenate([span.cost for span in found]),
        np.concatenate([span.is_arc for span in found]),
    )


def _cell_sums(
    outlines: Outlines,
    breaks: Candidates,
    weights: FloatArray,
    has_cell: NDArray[np.bool_],
    origin: FloatArray,
) -> FloatArray:
    """Return the sums of the points from each candidate to the next, (9, M), about it."""
    sums = np.zeros((9, len(breaks.index)))
    cell = np.flatnonzero(has_cell & (np.append(np.diff(breaks.index), 0) > 0))
    if len(cell) == 0:
        return sums
    bounds = np.append(breaks.index[cell], len(outlines.points))
    owner = np.repeat(cell, np.diff(bounds))
    local = outlines.points[bounds[0] :] - origin[owner]
    sums[:, cell] = run_sums(local, weights[bounds[0] :], bounds - bounds[0])
    return sums


def _costs(
    sums: FloatArray, allowance_px: float
) -> tuple[FloatArray, NDArray[np.bool_], FloatArray]:
    """Return the cost of the better of line and arc, which it is, and its rms in pixels."""
    means = centred(sums)
    count = sums[0]
    allowed = allowance_px**2
    line, circle = line_variance(means), circle_variance(means)
    line_cost = LINE_COST + count * np.maximum(line / allowed - 1, 0) / 2
    arc_cost = ARC_COST + count * np.maximum(circle / allowed - 1, 0) / 2
    is_arc = (arc_cost < line_cost) & (count > 3)
    rms = np.sqrt(np.where(is_arc, circle, line))
    return np.where(is_arc, arc_cost, line_cost), is_arc, rms


def _cheapest(spans: _Spans, breaks: Candidates) -> IntArray:
    """Return, for every candidate, the span that ends there on the cheapest way, -1 for none."""
    place = np.arange(len(breaks.index)) - np.repeat(breaks.offsets[:-1], np.diff(breaks.offsets))
    best = np.where(place == 0, 0.0, np.inf)
    chosen = np.full(len(best), -1)
    order = np.lexsort((spans.start, spans.end, place[spans.end]))
    level = place[spans.end[order]]
    bounds = np.append(np.flatnonzero(np.diff(level, prepend=-1)), len(order))
    for low, high in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        part = order[low:high]
        total = best[spans.start[part]] + spans.cost[part]
        part = part[np.lexsort((total, spans.end[part]))]
        ends, first = np.unique(spans.end[part], return_index=True)
        chosen[ends] = part[first]
        best[ends] = best[spans.start[part[first]]] + spans.cost[part[first]]
    return chosen


def _pieces(spans: _Spans, chosen: IntArray, breaks: Candidates) -> Pieces:
    """Follow the chosen spans back from the end of every outline."""
    start_of, span_of = spans.start.tolist(), chosen.tolist()
    picked: list[int] = []
    counts: list[int] = []
    for first, last in zip(
        breaks.offsets[:-1].tolist(), (breaks.offsets[1:] - 1).tolist(), strict=True
    ):
        way: list[int] = []
        place = last
        while place > first:
            way.append(span_of[place])
            place = start_of[way[-1]]
        picked.extend(reversed(way))
        counts.append(len(way))
    index = np.array(picked, dtype=np.int64)
    return Pieces(
        breaks.index[spans.start[index]],
        breaks.index[spans.end[index]],
        spans.is_arc[index],
        np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
    )
