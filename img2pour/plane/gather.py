"""From edges, and the region that each face belongs to, to a region map."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.cover import edge_lengths
from img2pour.plane.cuts import Edges
from img2pour.plane.faces import Faces
from img2pour.plane.regionmap import (
    NO_FACE,
    FloatArray,
    IntArray,
    RegionMap,
    arc_moments,
)

Bounds = tuple[float, float, float, float]


def absorb_slivers(edges: Edges, faces: Faces, keys: IntArray, snap: float) -> IntArray:
    """Return the keys with those of faces thinner than rounding taken from a neighbour.

    Parameters
    ----------
    edges : Edges
    faces : Faces
    keys : (F,) int64
        What each face shows.
    snap : float
        Points closer than this were made one.
    """
    lengths = edge_lengths(edges)
    around = np.zeros(len(keys))
    for side in (0, 1):
        inner = faces.sides[:, side] >= 0
        np.add.at(around, faces.sides[inner, side], lengths[inner])
    thin = faces.areas < 2 * snap * around
    keys = keys.copy()
    by_length = np.argsort(-lengths, kind="stable")
    for edge in by_length[thin[faces.sides[by_length]].any(axis=1)].tolist():
        left, right = faces.sides[edge].tolist()
        for sliver, neighbour in ((left, right), (right, left)):
            if sliver >= 0 and thin[sliver] and neighbour >= 0 and not thin[neighbour]:
                keys[sliver] = keys[neighbour]
                thin[sliver] = False
    return keys


@dataclass(frozen=True, eq=False)
class _Chains:
    """Half-edges of every arc in order, each arc in one direction."""

    halves: IntArray
    offsets: IntArray


def gather(
    edges: Edges,
    faces: Faces,
    regions: IntArray,
    colours: IntArray,
    bounds: Bounds,
) -> RegionMap:
    """Return the map of the regions; edges within one region are left out.

    Parameters
    ----------
    edges : Edges
    faces : Faces
    regions : (F,) int64
        Region of each face, NO_FACE for those beyond the frame. A region must be connected.
    colours : (R,) int64
        Colour of each region.
    bounds : (x0, y0, x1, y1)
    """
    beside = np.append(regions, NO_FACE)[faces.sides]
    kept = beside[:, 0] != beside[:, 1]
    following = _past_removed(faces.next_half, kept)
    chains = _chains(edges, kept, following)
    vertices, bulges, offsets = _outlines(edges, chains)
    first, last = chains.halves[chains.offsets[:-1]], chains.halves[chains.offsets[1:] - 1]
    arcs = np.arange(len(first))
    arc_of_half = np.full(2 * len(edges), -1)
    arc_of_half[first] = 2 * arcs
    arc_of_half[last ^ 1] = 2 * arcs + 1
    next_half = np.empty(2 * len(arcs), np.int64)
    next_half[0::2] = arc_of_half[following[last]]
    next_half[1::2] = arc_of_half[following[first ^ 1]]
    half_regions = beside.ravel()
    ends = _half_starts(edges)
    _, nodes = np.unique(np.stack([ends[first], ends[last ^ 1]], axis=1), return_inverse=True)
    made = RegionMap(
        vertices=vertices,
        bulges=bulges,
        arc_offsets=offsets,
        arc_nodes=nodes.reshape(-1, 2).astype(np.int64),
        arc_faces=np.stack([half_regions[first], half_regions[first ^ 1]], axis=1),
        next_half=next_half,
        face_colours=colours,
        bounds=bounds,
    )
    return _touching_rings_parted(made)


def _half_starts(edges: Edges) -> IntArray:
    return np.stack([edges.start, edges.end], axis=1).ravel()


def _past_removed(next_half: IntArray, kept: NDArray[np.bool_]) -> IntArray:
    """Return what follows each half-edge once the others are taken out."""
    following = next_half.copy()
    own = np.repeat(kept, 2)
    while True:
        lost = own & ~kept[following >> 1]
        if not lost.any():
            return following
        following[lost] = next_half[following[lost] ^ 1]


def _chains(edges: Edges, kept: NDArray[np.bool_], following: IntArray) -> _Chains:
    """Return the arcs: runs of edges between nodes at which other than two edges meet."""
    starts = _half_starts(edges)
    degree = np.bincount(starts[np.repeat(kept, 2)], minlength=len(edges.points))
    is_node = (degree != 2).tolist()
    start, follow = starts.tolist(), following.tolist()
    used = bytearray(len(edges))
    halves: list[int] = []
    offsets = [0]

    def run(half: int) -> None:
        while not used[half >> 1]:
            used[half >> 1] = 1
            halves.append(half)
            if is_node[start[half ^ 1]]:
                break
            half = follow[half]
        offsets.append(len(halves))

    candidates = np.flatnonzero(np.repeat(kept, 2)).tolist()
    for half in candidates:
        if is_node[start[half]] and not used[half >> 1]:
            run(half)
    for half in candidates:
        if not used[half >> 1]:
            run(half)
    return _Chains(np.array(halves, np.int64), np.array(offsets, np.int64))


def _outlines(edges: Edges, chains: _Chains) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the vertices and bulges of all arcs; cuts that are no longer needed are healed."""
    halves = chains.halves
    starts = _half_starts(edges)
    edge = halves >> 1
    sign = np.where(halves & 1, -1.0, 1.0)
    is_first = np.zeros(len(halves), bool)
    is_first[chains.offsets[:-1]] = True
    at = starts[halves]
    # A cut between two parts of one curve, of which nothing is left.
    healed = ~is_first & edges.is_cut[at]
    healed[1:] &= (edges.source[edge[1:]] == edges.source[edge[:-1]]) & (
        sign[1:] * np.sign(edges.bulges[edge[1:]]) == sign[:-1] * np.sign(edges.bulges[edge[:-1]])
    )
    healed[:1] = False
    kept = np.flatnonzero(~healed)
    turn = np.add.reduceat(sign * np.arctan(edges.bulges[edge]), kept)
    single = np.diff(np.append(kept, len(halves))) == 1
    bulges = np.where(single, sign[kept] * edges.bulges[edge[kept]], np.tan(turn))
    counts = np.add.reduceat((~healed).astype(np.int64), chains.offsets[:-1])
    offsets = np.concatenate([[0], np.cumsum(counts + 1)]).astype(np.int64)
    is_last = np.zeros(offsets[-1], bool)
    is_last[offsets[1:] - 1] = True
    vertices, all_bulges = np.empty((len(is_last), 2)), np.zeros(len(is_last))
    vertices[~is_last] = edges.points[at[kept]]
    vertices[is_last] = edges.points[starts[halves[chains.offsets[1:] - 1] ^ 1]]
    all_bulges[~is_last] = bulges
    return vertices, all_bulges, offsets


def _touching_rings_parted(region_map: RegionMap) -> RegionMap:
    """Return the map with rings that come back to a node cut in two there.

    Such a ring is an outline with a hole that touches it at one point; as two rings each is
    simple.
    """
    start = np.stack([region_map.arc_nodes[:, 0], region_map.arc_nodes[:, 1]], axis=1).ravel()
    degree = np.bincount(start)
    following = region_map.next_half.copy()
    moments = arc_moments(region_map)
    signed = np.stack([moments, -moments], axis=1).ravel()
    seen = np.zeros(len(following), bool)
    for first in np.flatnonzero(degree[start] >= 4).tolist():
        if not seen[first]:
            ring = _ring(following, first)
            seen[ring] = True
            if len(np.unique(start[ring])) < len(ring):
                _part(ring, start, following, signed)
    return replace(region_map, next_half=following)


def _ring(following: IntArray, first: int) -> list[int]:
    ring = [first]
    half = int(following[first])
    while half != first:
        ring.append(half)
        half = int(following[half])
    return ring


def _part(ring: list[int], start: IntArray, following: IntArray, signed: FloatArray) -> None:
    """Cut one ring wherever it comes back to a node and that parts an outline from a hole."""
    path: list[int] = []
    whole = float(signed[ring].sum())
    for half in ring:
        again = [k for k, earlier in enumerate(path) if start[earlier] == start[half]]
        for begin in reversed(again):
            loop = float(signed[path[begin:]].sum())
            # One outline comes out of an outline, with holes; out of a hole come holes only.
            if (loop > 0) + (whole - loop > 0) == (whole > 0):
                following[path[-1]] = path[begin]
                del path[begin:]
                whole -= loop
                break
        if path:
            following[path[-1]] = half
        path.append(half)
    following[path[-1]] = path[0]
