"""Thin places on a medial axis: necks between clear places, ends with one, islands with none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray
from img2pour.carve.medial import IntArray, MedialAxis, piece_distances

PlaceKind = Literal["neck", "end", "island"]

MARGIN_SHARE = 0.01
"""A place is thin only if it is narrower than the width of interest by this share."""

ROUNDING = 1e-9

LONG_SHARE = 1.5
TIP_SHARE = 0.25
EVEN_SHARE = 0.25
"""An end is a stroke, not a corner, if it is long and of fairly even width.

Long: wider than a quarter of the width of interest over 1.5 times that width. Even: the middle
half of its widths differ by less than a quarter of the width of interest. The widths of a corner,
however sharp, run evenly from nothing to the whole, and that middle half differs by 0.375; no board
is ever large enough for its tip.
"""


@dataclass(frozen=True)
class ThinPlace:
    """A place that is narrower than the width of interest.

    Attributes
    ----------
    kind : {"neck", "end", "island"}
        Between clear places; reaching out from one; a polygon without any.
    polygon : int
        Index of the polygon.
    width_mm : float
        Of a neck where it is narrowest, of an island where it is widest, of an end its median.
    length_mm : float
        Length of the medial axis in it.
    at_mm : tuple of float
        Where that width is.
    direction_deg : float
        In which direction the thin part runs there, 0 to 180 from the x axis.
    spine : tuple of ((x, y), (x, y))
        The pieces of the medial axis in it, mm.
    """

    kind: PlaceKind
    polygon: int
    width_mm: float
    length_mm: float
    at_mm: tuple[float, float]
    direction_deg: float
    spine: tuple[tuple[tuple[float, float], tuple[float, float]], ...]


@dataclass(frozen=True, eq=False)
class ThinPart:
    """A connected part of a medial axis that is thinner than asked for.

    Attributes
    ----------
    kind : {"neck", "end", "island"}
    points : (K,) int64
        Its points; of a neck those on the ways through it, without the corners beside them.
    edges : (E, 2) int64
        The edges between its points, corners included.
    """

    kind: PlaceKind
    points: IntArray
    edges: IntArray


def thin_parts(axis: MedialAxis, width_mm: float) -> list[ThinPart]:
    """Return the parts of a medial axis that are narrower than a width, without mere corners."""
    is_thin = _is_thin(axis, width_mm / 2.0)
    if not is_thin.any():
        return []
    thin = _parts(axis, is_thin)
    count = int(thin.max(initial=0)) + 1
    is_wide = np.zeros(int(axis.polygons.max(initial=-1)) + 1, dtype=np.bool_)
    is_wide[axis.polygons[~is_thin]] = True
    contacts = _contacts(axis, is_thin)
    inner = axis.edges[is_thin[axis.edges].all(axis=1)]
    points = np.flatnonzero(is_thin)
    # Most parts are corners, which a sum over their edges tells.
    first = np.zeros(count, dtype=np.int64)
    first[thin[points[::-1]]] = points[::-1]
    is_end = np.bincount(thin[contacts], minlength=count) == 1
    is_end |= (np.bincount(thin[contacts], minlength=count) == 0) & is_wide[axis.polygons[first]]
    asked = ~(is_end & (_wide_lengths(axis, inner, thin, count, width_mm) < LONG_SHARE * width_mm))
    ways = _by_part(contacts, thin[contacts], asked)
    edges = _by_part(inner, thin[inner[:, 0]], asked)
    parts = []
    for number, own in _by_part(points, thin[points], asked).items():
        part = _part(own, edges.get(number, inner[:0]), ways.get(number, contacts[:0]))
        if part.kind == "island" and is_wide[axis.polygons[own[0]]]:
            # The axis of a blunt region is in pieces.
            part = replace(part, kind="end")
        if part.kind != "end" or is_stroke(axis, part, width_mm):
            parts.append(part)
    return parts


def _is_thin(axis: MedialAxis, half_mm: float) -> NDArray[np.bool_]:
    """Return which points are thin; a part that only just stops being thin is no clear place."""
    is_thin = axis.clearance_mm < half_mm * (1.0 - MARGIN_SHARE)
    is_clear = axis.clearance_mm >= half_mm * (1.0 - ROUNDING)
    between = ~is_thin & ~is_clear
    number = _parts(axis, between)
    reaches = np.zeros(int(number.max(initial=0)) + 1, dtype=np.bool_)
    for one, other in ((0, 1), (1, 0)):
        leads = is_clear[axis.edges[:, one]]
        reaches[number[axis.edges[leads, other]]] = True
    is_thin |= between & ~reaches[number]
    return is_thin


def _wide_lengths(
    axis: MedialAxis, edges: IntArray, thin: IntArray, count: int, width_mm: float
) -> FloatArray:
    """Return the length of the edges of each part that are no mere tip, (count,) float64."""
    wide = edges[axis.clearance_mm[edges].min(axis=1) >= TIP_SHARE * width_mm / 2.0]
    lengths: FloatArray = np.bincount(
        thin[wide[:, 0]], weights=_lengths(axis, wide), minlength=count
    ).astype(np.float64)
    return lengths


def _by_part(items: IntArray, numbers: IntArray, asked: NDArray[np.bool_]) -> dict[int, IntArray]:
    """Return the items of every part that is asked for, by its number."""
    kept = asked[numbers]
    items, numbers = items[kept], numbers[kept]
    if len(items) == 0:
        return {}
    order = np.argsort(numbers, kind="stable")
    found, starts = np.unique(numbers[order], return_index=True)
    return dict(zip(found.tolist(), np.split(items[order], starts[1:]), strict=True))


def _part(points: IntArray, edges: IntArray, ways: IntArray) -> ThinPart:
    """Name a thin part by the number of ways that lead out of it.

    The medial axis has no small loops, only loops around holes: two ways to one place count twice.
    """
    if len(ways) >= 2:
        return ThinPart("neck", _between(points, edges, ways), edges)
    return ThinPart("end" if len(ways) else "island", points, edges)


def _between(points: IntArray, edges: IntArray, ways: IntArray) -> IntArray:
    """Return the points without the branches that lead nowhere."""
    joined: dict[int, set[int]] = {point: set() for point in points.tolist()}
    for first, second in edges.tolist():
        joined[first].add(second)
        joined[second].add(first)
    kept = set(ways.tolist())
    leaves = [point for point, others in joined.items() if len(others) < 2 and point not in kept]
    while leaves:
        leaf = leaves.pop()
        for other in joined.pop(leaf):
            joined[other].discard(leaf)
            if len(joined[other]) == 1 and other not in kept:
                leaves.append(other)
    return np.array([point for point in points.tolist() if point in joined], dtype=np.int64)


def is_stroke(axis: MedialAxis, end: ThinPart, width_mm: float) -> bool:
    """Return whether an end is more than a corner."""
    clearance = axis.clearance_mm[end.edges].min(axis=1)
    wide = clearance >= TIP_SHARE * width_mm / 2.0
    lengths = _lengths(axis, end.edges[wide])
    if lengths.sum() < LONG_SHARE * width_mm:
        return False
    order = np.argsort(clearance[wide], kind="stable")
    reached = np.cumsum(lengths[order]) / lengths.sum()
    quartiles = clearance[wide][order][np.searchsorted(reached, (0.25, 0.75))]
    return bool(quartiles[1] - quartiles[0] < EVEN_SHARE * width_mm / 2.0)


def _lengths(axis: MedialAxis, edges: IntArray) -> FloatArray:
    lengths: FloatArray = np.hypot(*(axis.points[edges[:, 0]] - axis.points[edges[:, 1]]).T)
    return lengths


def _parts(axis: MedialAxis, chosen: NDArray[np.bool_]) -> IntArray:
    """Return the number of each chosen point's connected part, from 1; 0 for the others."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    numbers = np.zeros(len(axis.points), dtype=np.int64)
    own = np.flatnonzero(chosen)
    if len(own) == 0:
        return numbers
    numbers[own] = np.arange(len(own))
    inner = numbers[axis.edges[chosen[axis.edges].all(axis=1)]]
    ones, shape = np.ones(len(inner), np.int8), (len(own), len(own))
    graph = coo_array((ones, (inner[:, 0], inner[:, 1])), shape)
    numbers[own] = connected_components(graph, directed=False)[1] + 1
    return numbers


def _contacts(axis: MedialAxis, is_thin: NDArray[np.bool_]) -> IntArray:
    """Return the thin points from which edges lead to clear places, once per edge."""
    first, second = axis.edges[:, 0], axis.edges[:, 1]
    return np.concatenate(
        [first[is_thin[first] & ~is_thin[second]], second[is_thin[second] & ~is_thin[first]]]
    )


def describe(axis: MedialAxis, part: ThinPart, point: int) -> ThinPlace:
    """Describe a thin part by one of its points."""
    across = axis.across[point]
    half_width = float(axis.clearance_mm[point])
    return ThinPlace(
        kind=part.kind,
        polygon=int(axis.polygons[point]),
        width_mm=_width(axis, point) if part.kind == "neck" else 2.0 * half_width,
        length_mm=float(_lengths(axis, part.edges).sum()),
        at_mm=(float(axis.points[point, 0]), float(axis.points[point, 1])),
        direction_deg=float(np.degrees(np.arctan2(across[0], -across[1])) % 180.0),
        spine=tuple(_pairs(axis.points[part.edges])),
    )


def typical_point(axis: MedialAxis, part: ThinPart) -> int:
    """Return the point that stands for a thin part."""
    clearance = axis.clearance_mm[part.points]
    if part.kind == "neck":
        return int(part.points[clearance.argmin()])
    if part.kind == "end":
        return median_point(axis, part)
    # Of the widest points the one nearest to the middle of them.
    widest = part.points[clearance >= 0.99 * clearance.max()]
    points = axis.points[widest]
    return int(widest[np.hypot(*(points - points.mean(axis=0)).T).argmin()])


def median_point(axis: MedialAxis, part: ThinPart) -> int:
    """Return a point of median width, each edge weighed by its length."""
    ends = part.edges[:, 0]
    order = np.argsort(axis.clearance_mm[ends], kind="stable")
    weight = np.cumsum(_lengths(axis, part.edges)[order])
    return int(ends[order[np.searchsorted(weight, weight[-1] / 2.0)]])


def _pairs(ends: FloatArray) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [((a[0], a[1]), (b[0], b[1])) for a, b in ends.tolist()]


def _width(axis: MedialAxis, place: int) -> float:
    """Return the distance between the two sides at a place, from the outline itself."""
    outline = axis.outline
    around = [np.array([side, outline.before[side]]) for side in axis.sides[place]]
    one, other = np.repeat(around[0], 2), np.tile(around[1], 2)
    return float(piece_distances(outline, one, other).min())
