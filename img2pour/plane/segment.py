"""The fewest lines and arcs that explain the points: dynamic programming over candidate breaks.

All outlines advance together: spans grow by one cell at a time for every start at once, their
sums are carried along, and spans that neither a line nor an arc explains any more are let go.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

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

TINY_POINTS, TINY_COST = 3, 6.0
"""A piece of fewer points is dearer: it says nothing of its own direction."""

LINE_COST, ARC_COST = 6.0, 8.0
"""Price of a piece, in units of half a squared residual over the points' variance."""

LONG_POINTS, LONG_LINE_WAVER = 24, 1.5
"""A straight line of many points may waver more, since few curves come so near to one."""

HOPELESS = 3.0
"""A span whose rms is above this many times the allowance is not grown further."""


@dataclass(frozen=True)
class CornerSettings:
    """How far pixels and blur spoil the points beside corners and nodes.

    Attributes
    ----------
    corner_points, node_points : int
        Points on each side of a corner or beside a node that are not trusted.
    rounding_px : float
        How far off such points may be and still speak for a corner.
    """

    corner_points: int
    node_points: int
    rounding_px: float


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
    outlines: Outlines, breaks: Candidates, allowance_px: FloatArray, corners: CornerSettings
) -> Pieces:
    """Return the cheapest pieces for every outline.

    Parameters
    ----------
    outlines : Outlines
    breaks : Candidates
    allowance_px : (A,) float64
        Residual (rms) of each outline's points that is taken for noise: what is beyond it
        costs, HOPELESS times it is refused.
    corners : CornerSettings
    """
    spans = _all_spans(_ground(outlines, breaks, allowance_px, corners))
    chosen = _cheapest(spans, breaks)
    return _pieces(spans, chosen, breaks)


@dataclass(frozen=True, eq=False)
class _Ground:
    """What spans between the candidates (M of them) are grown from.

    Attributes
    ----------
    x, y : (M,) float64
        The point at each candidate, about which its sums are taken.
    cells, heads, tails : (9, M) float64
        Sums of the points to the next candidate, and of those after and before a corner that are
        not trusted.
    last : (M,) int64
        The last candidate of the same outline.
    allowance_px : (M,) float64
    """

    x: FloatArray
    y: FloatArray
    cells: FloatArray
    heads: FloatArray
    tails: FloatArray
    last: IntArray
    allowance_px: FloatArray


def _ground(
    outlines: Outlines, breaks: Candidates, allowance_px: FloatArray, corners: CornerSettings
) -> _Ground:
    """Sum up the points between the candidates, and those beside corners."""
    arc = np.repeat(np.arange(len(outlines.closed)), np.diff(breaks.offsets))
    last_of_arc, first_of_arc = breaks.offsets[arc + 1] - 1, breaks.offsets[arc]
    allowance = allowance_px[arc]
    place = np.arange(len(breaks.index))
    origin = outlines.points[np.minimum(breaks.index, len(outlines.points) - 1)]
    cells = _cell_sums(outlines, breaks, place < last_of_arc, origin)
    at_node = ~outlines.closed[arc] & ((place == first_of_arc) | (place == last_of_arc))
    trims = np.where(at_node, corners.node_points, corners.corner_points) * breaks.is_corner
    trust = np.minimum(allowance / corners.rounding_px, 1.0) ** 2
    doubt = np.where(at_node, 1.0, 1 - trust)
    heads = _trim_sums(outlines, breaks, trims, origin, ahead=True) * doubt
    tails = _trim_sums(outlines, breaks, trims, origin, ahead=False) * doubt
    x, y = np.ascontiguousarray(origin.T)
    return _Ground(x, y, cells, heads, tails, last_of_arc, allowance)


def _all_spans(ground: _Ground) -> _Spans:
    """Grow spans from every candidate, cell by cell."""
    x, y, has_tail = ground.x, ground.y, ground.tails[0] > 0
    start = np.flatnonzero(np.arange(len(x)) < ground.last)
    # What is not trusted behind a span's start is left out as long as the span grows.
    sums = ground.cells[:, start] - ground.heads[:, start]
    end = start + 1
    found: list[_Spans] = []
    while len(start):
        used, allowance = sums, ground.allowance_px[start]
        sharp = np.flatnonzero(has_tail[end])
        if len(sharp):
            used = sums.copy()
            gap_x, gap_y = x[end[sharp]] - x[start[sharp]], y[end[sharp]] - y[start[sharp]]
            used[:, sharp] -= shifted(ground.tails[:, end[sharp]], gap_x, gap_y)
        cost, is_arc, rms = _costs(used, allowance)
        fits = (rms <= HOPELESS * allowance) | (end == start + 1)
        found.append(_Spans(start[fits], end[fits], cost[fits], is_arc[fits]))
        # Beside a corner no trusted point is left at first: such a span is judged further on.
        undecided = used[0] < TINY_POINTS
        grows = np.flatnonzero((fits | undecided) & (end < ground.last[start]))
        start, end = start[grows], end[grows]
        gap_x, gap_y = x[end] - x[start], y[end] - y[start]
        sums = sums.take(grows, axis=1) + shifted(ground.cells.take(end, axis=1), gap_x, gap_y)
        end = end + 1
    return _Spans(
        np.concatenate([span.start for span in found]),
        np.concatenate([span.end for span in found]),
        np.concatenate([span.cost for span in found]),
        np.concatenate([span.is_arc for span in found]),
    )


def _cell_sums(
    outlines: Outlines, breaks: Candidates, has_cell: NDArray[np.bool_], origin: FloatArray
) -> FloatArray:
    """Return the sums of the points from each candidate to the next, (9, M), about it."""
    sums = np.zeros((9, len(breaks.index)))
    cell = np.flatnonzero(has_cell & (np.append(np.diff(breaks.index), 0) > 0))
    if len(cell) == 0:
        return sums
    bounds = np.append(breaks.index[cell], len(outlines.points))
    owner = np.repeat(cell, np.diff(bounds))
    local = outlines.points[bounds[0] :] - origin[owner]
    sums[:, cell] = run_sums(local, np.ones(len(local)), bounds - bounds[0])
    return sums


def _trim_sums(
    outlines: Outlines, breaks: Candidates, trims: IntArray, origin: FloatArray, *, ahead: bool
) -> FloatArray:
    """Return the sums of the few points after (or before) each candidate, about it."""
    arc = np.repeat(np.arange(len(outlines.closed)), np.diff(breaks.offsets))
    low, high = outlines.offsets[arc], outlines.offsets[arc + 1]
    room = (high - low) // 4
    sums = np.zeros((9, len(breaks.index)))
    for step in range(int(trims.max(initial=0))):
        at = breaks.index + step if ahead else breaks.index - 1 - step
        used = np.flatnonzero((step < np.minimum(trims, room)) & (at >= low) & (at < high))
        local = outlines.points[at[used]] - origin[used]
        sums[:, used] += run_sums(local, np.ones(len(used)), np.arange(len(used) + 1))
    return sums


def _costs(
    sums: FloatArray, allowance_px: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_], FloatArray]:
    """Return the cost of the better of line and arc, which it is, and its rms in pixels."""
    means = centred(sums)
    count = np.maximum(sums[0], 0.0)
    allowed = allowance_px**2
    variance = line_variance(means)
    waver = np.where(count > LONG_POINTS, LONG_LINE_WAVER**2, 1.0)
    cost = LINE_COST + count * np.maximum(variance / (allowed * waver) - 1, 0) / 2
    is_arc = np.zeros(len(cost), bool)
    # Where a line costs less than an arc does at best, no circle need be looked for.
    asked = np.flatnonzero((cost > ARC_COST) & (count > 2.5))
    circle = circle_variance(means.some(asked), variance[asked])
    arc_cost = ARC_COST + count[asked] * np.maximum(circle / allowed[asked] - 1, 0) / 2
    better = arc_cost < cost[asked]
    bent = asked[better]
    is_arc[bent], cost[bent], variance[bent] = True, arc_cost[better], circle[better]
    cost[count < TINY_POINTS] += TINY_COST
    return cost, is_arc, np.sqrt(variance)


def _cheapest(spans: _Spans, breaks: Candidates) -> IntArray:
    """Return, for every candidate, the span that ends there on the cheapest way, -1 for none."""
    place = np.arange(len(breaks.index)) - np.repeat(breaks.offsets[:-1], np.diff(breaks.offsets))
    best = np.where(place == 0, 0.0, np.inf)
    chosen = np.full(len(best), -1)
    order = np.lexsort((spans.start, spans.end, place[spans.end]))
    start, end, cost = spans.start[order], spans.end[order], spans.cost[order]
    ends = np.flatnonzero(np.diff(end, prepend=-1))  # the first span to each candidate
    level = place[end[ends]]
    bounds = np.append(np.flatnonzero(np.diff(level, prepend=-1)), len(ends)).tolist()
    stops = np.append(ends, len(order)).tolist()
    group = np.repeat(np.arange(len(ends)), np.diff(np.append(ends, len(order))))
    for low, high in pairwise(bounds):
        part = slice(stops[low], stops[high])
        total = best[start[part]] + cost[part]
        least = np.minimum.reduceat(total, ends[low:high] - stops[low])
        own = group[part] - low
        equal = np.flatnonzero(total == least[own])
        first = equal[np.diff(own[equal], prepend=-1) > 0]
        reached = end[ends[low:high]]
        best[reached] = least
        chosen[reached] = order[stops[low] + first]
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
