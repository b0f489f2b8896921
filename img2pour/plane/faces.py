"""The faces between edges: what follows what around each node, rings, and which lies in which."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.plane.curves import Curves, boxes, frames
from img2pour.plane.cuts import Edges
from img2pour.plane.groups import linked_groups
from img2pour.plane.regionmap import NO_FACE, FloatArray, IntArray, segment_areas

NEAR_RAD = 1e-5
"""Edges that leave a node closer together than this are told apart further out."""

SLIVER_SHARE = 1e-6
"""A face turned inside out is a sliver from rounding up to this share of the largest one."""

LEVEL_SHARE = 0.3819660113
"""How high up a part its level line runs: no even share, so that it meets no node."""


@dataclass(frozen=True, eq=False)
class Faces:
    """The faces between edges; half-edge 2e is edge e forwards, 2e + 1 backwards.

    Attributes
    ----------
    next_half : (2E,) int64
        What follows each half-edge along the ring of the face on its left.
    sides : (E, 2) int64
        Face on the left and right of each edge, NO_FACE for the one around everything.
    areas : (F,) float64
    is_planar : bool
        False where edges cross after all: then nodes and rings break Euler's formula, or a face
        is turned inside out.
    """

    next_half: IntArray
    sides: IntArray
    areas: FloatArray
    is_planar: bool


def find_faces(edges: Edges) -> Faces:
    """Return the faces between `edges`, which meet at nodes only."""
    curves = edges.curves()
    next_half = _next_halves(edges, curves)
    ring = linked_groups(np.arange(len(next_half)), next_half, len(next_half))
    part_of_node = linked_groups(edges.start, edges.end, len(edges.points))
    part = part_of_node[edges.start]
    moments = _moments(curves)
    ring_areas = _summed(ring, np.stack([moments, -moments], axis=1).ravel())
    face_of_ring, makes_sense = _ring_faces(curves, ring, part, ring_areas)
    count = int(face_of_ring.max(initial=-1)) + 1
    areas = _summed(np.where(face_of_ring < 0, count, face_of_ring), ring_areas)
    excess = (
        len(edges.points) - len(edges) + len(ring_areas) - 2 * (part_of_node.max(initial=-1) + 1)
    )
    areas = areas[:count]
    turned = areas.min(initial=0) < -SLIVER_SHARE * areas.max(initial=0)
    is_planar = bool(makes_sense and excess == 0 and not turned)
    return Faces(next_half, face_of_ring[ring].reshape(-1, 2), areas, is_planar)


def _summed(index: IntArray, values: FloatArray) -> FloatArray:
    total: FloatArray = np.zeros(int(index.max(initial=-1)) + 1)
    np.add.at(total, index, values)
    return total


def _moments(curves: Curves) -> FloatArray:
    """Return what each edge adds to the shoelace area on its left."""
    centre = curves.start.mean(axis=0) if len(curves) else np.zeros(2)
    start, end = curves.start - centre, curves.end - centre
    shoelace = (start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]) / 2
    moments: FloatArray = shoelace - segment_areas(np.hypot(*(end - start).T), curves.bulges)
    return moments


def _next_halves(edges: Edges, curves: Curves) -> IntArray:
    """Return the half-edge that follows each one: the next one clockwise at its end."""
    count = len(edges)
    origin = np.stack([edges.start, edges.end], axis=1).ravel()
    chord = curves.end - curves.start
    length = np.repeat(np.hypot(*chord.T), 2)
    heading = np.arctan2(chord[:, 1], chord[:, 0])
    outward = np.stack([heading, heading + np.pi], axis=1).ravel()
    bulge = np.stack([curves.bulges, -curves.bulges], axis=1).ravel()
    reach = np.full(len(edges.points), np.inf)
    np.minimum.at(reach, origin, length)
    angle = _angles_at(outward, length, bulge, reach[origin] / 2)
    angle = _from_widest_gap(angle, origin)
    order = np.lexsort((angle, origin))
    order = _near_ones_told_apart(order, origin, angle, (outward, length, bulge))
    # Around each node the order is anticlockwise; the face on the left of an arriving half-edge
    # lies between it and the one before it.
    first = np.searchsorted(origin[order], np.arange(len(edges.points)), side="left")
    last = np.searchsorted(origin[order], np.arange(len(edges.points)), side="right") - 1
    place = np.empty(2 * count, np.int64)
    place[order] = np.arange(2 * count)
    twin = np.arange(2 * count) ^ 1
    at = place[twin]
    node = origin[twin]
    before = np.where(at == first[node], last[node], at - 1)
    following: IntArray = order[before]
    return following


def _angles_at(
    outward: FloatArray, length: FloatArray, bulge: FloatArray, reach: FloatArray
) -> FloatArray:
    """Return the direction in which each edge crosses a circle around its first node.

    An edge of curvature k leaves the circle of radius r at asin(k r / 2) from its tangent.
    """
    curvature = 4 * bulge / (length * (1 + bulge**2))
    bend = np.arcsin(np.clip(curvature * reach / 2, -1, 1))
    angles: FloatArray = (outward - 2 * np.arctan(bulge) + bend) % (2 * np.pi)
    return angles


def _from_widest_gap(angle: FloatArray, origin: IntArray) -> FloatArray:
    """Return the angles around each node, counted from the edge after its widest gap.

    So edges in nearly one direction stand side by side, and never at both ends of the count.
    """
    order = np.lexsort((angle, origin))
    node, turned = origin[order], angle[order]
    first = np.flatnonzero(np.diff(node, prepend=-1) > 0)
    last = np.append(first[1:], len(order)) - 1
    before = np.roll(turned, 1)
    before[first] = turned[last] - 2 * np.pi
    widest = np.lexsort((before - turned, node))[first]
    zero = np.zeros(int(node.max(initial=-1)) + 1)
    zero[node[first]] = turned[widest]
    counted: FloatArray = (angle - zero[origin]) % (2 * np.pi)
    return counted


def _near_ones_told_apart(
    order: IntArray,
    origin: IntArray,
    angle: FloatArray,
    shape: tuple[FloatArray, FloatArray, FloatArray],
) -> IntArray:
    """Return the order with edges in nearly one direction compared as far out as both reach."""
    order = order.copy()
    for _ in range(len(order)):
        one, other = order[:-1], order[1:]
        near = (origin[one] == origin[other]) & (angle[other] - angle[one] < NEAR_RAD)
        which = np.flatnonzero(near)
        one, other = one[which], other[which]
        outward, length, bulge = shape
        far = np.minimum(length[one], length[other])
        turn = _angles_at(outward[other], length[other], bulge[other], far) - _angles_at(
            outward[one], length[one], bulge[one], far
        )
        turn = (turn + np.pi) % (2 * np.pi) - np.pi
        wrong = which[turn < 0]
        if len(wrong) == 0:
            break
        wrong = wrong[np.diff(wrong, prepend=-2) > 1]
        order[wrong], order[wrong + 1] = order[wrong + 1], order[wrong]
    return order


def _ring_faces(
    curves: Curves, ring: IntArray, part: IntArray, ring_areas: FloatArray
) -> tuple[IntArray, bool]:
    """Return the face of every ring, NO_FACE around everything, and whether that makes sense.

    Along a level line the right side of one crossing and the left side of the next lie in one
    face; a line through every connected part ties its outer side to the face around it.
    """
    count = len(ring_areas)
    one, other = _rings_in_one_face(curves, ring, part, count)
    group = linked_groups(one, other, count + 1)
    outer = _outlines(ring, part, ring_areas)
    by_group = np.full(int(group.max(initial=-1)) + 1, NO_FACE)
    by_group[group[outer]] = np.arange(len(outer))
    alone = len(np.unique(group[outer])) == len(outer) and not (group[outer] == group[-1]).any()
    return by_group[group[:-1]], alone


def _outlines(ring: IntArray, part: IntArray, ring_areas: FloatArray) -> IntArray:
    """Return the rings that go around a face: of each connected part all but the one around it.

    That one has the least area. A sliver turned inside out by rounding is an outline all the same.
    """
    ring_part = np.empty(len(ring_areas), np.int64)
    ring_part[ring] = np.repeat(part, 2)
    by_area = np.lexsort((ring_areas, ring_part))
    is_outline = np.ones(len(ring_areas), bool)
    is_outline[by_area[np.diff(ring_part[by_area], prepend=-1) > 0]] = False
    return np.flatnonzero(is_outline)


def _rings_in_one_face(
    curves: Curves, ring: IntArray, part: IntArray, around: int
) -> tuple[IntArray, IntArray]:
    """Return pairs of rings of one face; `around` stands for the face around everything."""
    box = boxes(curves)
    count = int(part.max(initial=-1)) + 1
    low, high = np.full((2, count), np.inf), np.full((2, count), -np.inf)
    for axis in (0, 1):
        np.minimum.at(low[axis], part, box[:, axis])
        np.maximum.at(high[axis], part, box[:, axis + 2])
    levels = low[1] + LEVEL_SHARE * (high[1] - low[1])
    query, target = _left_of(high[0], levels, box)
    points = np.stack([np.zeros(len(query)), levels[query]], axis=1)
    x, faces_right = _crossings(curves.take(target), points)
    query, target = np.repeat(query, 2), np.repeat(target, 2)
    own = (part[target] == query) & np.isfinite(x)
    begins = np.full(count, np.inf)
    np.minimum.at(begins, query[own], x[own])
    met = np.flatnonzero(np.isfinite(x) & (x <= begins[query]))
    order = met[np.lexsort((x[met], query[met]))]
    right_side = ring[2 * target[order] + np.where(faces_right[order], 0, 1)]
    left_side = ring[2 * target[order] + np.where(faces_right[order], 1, 0)]
    before = np.concatenate([[around], right_side[:-1]])
    before[np.diff(query[order], prepend=-1) > 0] = around
    return before, left_side


def _left_of(right: FloatArray, levels: FloatArray, box: FloatArray) -> tuple[IntArray, IntArray]:
    """Return pairs of a part and a curve whose box its level line meets, left of its right end."""
    lines = shapely.box(box[:, 0].min() - 1, levels, right, levels)
    found = shapely.STRtree(shapely.box(*box.T)).query(lines)
    return found[0], found[1]


def _crossings(curves: Curves, points: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return where the horizontal through each point meets its curve, twice each, (2n,).

    Returns
    -------
    x : (2n,) float64
        NaN where it does not meet.
    faces_right : (2n,) bool
        True where the curve's left is on the side of larger x.
    """
    frame = frames(curves)
    square, linear, constant = frame.terms(points)
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = np.sqrt(linear[:, 0] ** 2 - 4 * square * constant)
        q = -(linear[:, 0] + np.where(linear[:, 0] < 0, -1.0, 1.0) * inside) / 2
        steps = np.stack([constant / q, q / square], axis=1)
    steps[~np.isfinite(steps)] = np.nan
    slope = 2 * square[:, None] * steps + linear[:, :1]
    for column in (0, 1):
        met = points.copy()
        met[:, 0] += np.nan_to_num(steps[:, column])
        steps[~frame.holds(met, 0.0), column] = np.nan
    return (points[:, :1] + steps).ravel(), (slope > 0).ravel()
