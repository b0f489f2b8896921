"""Changes to the graph of a map that keep it a tiling: merging faces, contracting arcs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.groups import linked_groups
from img2pour.plane.regionmap import FloatArray, IntArray, RegionMap, rings


def merge_faces(region_map: RegionMap, target: IntArray) -> RegionMap:
    """Return the map with faces merged; what lay between them is gone.

    Parameters
    ----------
    region_map : RegionMap
    target : (F,) int64
        The face that each face becomes part of; itself where it stays. Chains are followed.

    Returns
    -------
    RegionMap
        Faces are numbered anew in their old order; the colour is that of the face merged into.
    """
    target = _followed(target)
    kept_faces = np.flatnonzero(target == np.arange(len(target)))
    number = np.full(len(target) + 1, -1)
    number[kept_faces] = np.arange(len(kept_faces))
    faces = np.where(region_map.arc_faces < 0, -1, number[target[region_map.arc_faces]])
    gone = (faces[:, 0] == faces[:, 1]) & (faces[:, 0] >= 0)
    merged = replace(region_map, arc_faces=faces, face_colours=region_map.face_colours[kept_faces])
    return _unpinched(_without_arcs(merged, gone, _next_past_removed(merged, gone)))


def merge_alike(region_map: RegionMap, colours: IntArray) -> RegionMap:
    """Return the map with new face colours, neighbours of one colour made one face.

    Parameters
    ----------
    region_map : RegionMap
    colours : (F,) int64
        New colour of each face.
    """
    inner = (region_map.arc_faces >= 0).all(axis=1)
    left, right = region_map.arc_faces[inner].T
    alike = colours[left] == colours[right]
    count = region_map.face_count
    group = linked_groups(left[alike], right[alike], count)
    first = np.full(group.max(initial=-1) + 1, count)
    np.minimum.at(first, group, np.arange(count))
    return merge_faces(replace(region_map, face_colours=colours), first[group])


def _followed(target: IntArray) -> IntArray:
    """Return the end of every chain of targets."""
    while (target[target] != target).any():
        target = target[target]
    return target


def _next_past_removed(region_map: RegionMap, gone: NDArray[np.bool_]) -> IntArray:
    """Return what follows each half-edge once some arcs are taken out.

    Where the next arc is gone its two faces are one, and the ring goes on with what follows its
    other side.
    """
    following = region_map.next_half.copy()
    while True:
        lost = gone[following >> 1] & ~np.repeat(gone, 2)
        if not lost.any():
            return following
        following[lost] = region_map.next_half[following[lost] ^ 1]


def _unpinched(region_map: RegionMap) -> RegionMap:
    """Return the map with rings that pass a node twice parted into rings that do not.

    Where two holes touch in a point, or a face touches itself, one ring would go round both loops.
    """
    found = rings(region_map)
    tails = region_map.arc_nodes.ravel()[found.halves]
    ring = np.repeat(np.arange(len(found)), np.diff(found.offsets))
    order = np.lexsort((tails, ring))
    again = (np.diff(ring[order]) == 0) & (np.diff(tails[order]) == 0)
    following = region_map.next_half.copy()
    for index in np.unique(ring[order[1:][again]]).tolist():
        _part_loops(found.ring(index), region_map.arc_nodes.ravel(), following)
    return replace(region_map, next_half=following)


def _part_loops(ring: IntArray, tails: IntArray, following: IntArray) -> None:
    """Link every loop of a ring to itself, in `following`."""
    way: list[int] = []
    place: dict[int, int] = {}
    for half in [*ring.tolist(), int(ring[0])]:
        node = int(tails[half])
        if node in place:
            loop = way[place[node] :]
            following[loop] = [*loop[1:], loop[0]]
            for gone in loop:
                place.pop(int(tails[gone]))
            del way[len(way) - len(loop) :]
        place[node] = len(way)
        way.append(half)


def contract_arcs(region_map: RegionMap, arcs: IntArray) -> RegionMap:
    """Return the map with some arcs shrunk to nothing; their end nodes must already be one point.

    The faces beside a contracted arc lose that contact and keep all else.
    """
    gone = np.zeros(region_map.arc_count, bool)
    gone[arcs] = True
    following = region_map.next_half.copy()
    while gone[following >> 1].any():
        lost = gone[following >> 1]
        following[lost] = region_map.next_half[following[lost]]
    return _without_arcs(region_map, gone, following)


def _without_arcs(region_map: RegionMap, gone: NDArray[np.bool_], following: IntArray) -> RegionMap:
    """Return the map without these arcs, everything numbered anew."""
    kept = ~gone
    number = np.cumsum(kept) - 1
    halves = following.reshape(-1, 2)[kept].ravel()
    counts = np.diff(region_map.arc_offsets)
    own = np.repeat(kept, counts)
    _, nodes = np.unique(region_map.arc_nodes[kept], return_inverse=True)
    return replace(
        region_map,
        vertices=region_map.vertices[own],
        bulges=region_map.bulges[own],
        arc_offsets=np.concatenate([[0], np.cumsum(counts[kept])]).astype(np.int64),
        arc_nodes=nodes.reshape(-1, 2).astype(np.int64),
        arc_faces=region_map.arc_faces[kept],
        next_half=2 * number[halves >> 1] + (halves & 1),
    )


def with_arcs(
    region_map: RegionMap, vertices: list[FloatArray], bulges: list[FloatArray]
) -> RegionMap:
    """Return the map with new geometry for all its arcs, in their order."""
    offsets = np.concatenate([[0], np.cumsum([len(points) for points in vertices])])
    return replace(
        region_map,
        vertices=np.concatenate(vertices),
        bulges=np.concatenate(bulges),
        arc_offsets=offsets.astype(np.int64),
    )
