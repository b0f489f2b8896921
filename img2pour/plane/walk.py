"""From a label image to the raw region map: the cracks between pixels, linked into shared arcs.

A *crack* is the unit edge between two pixels of different labels, or between a pixel and the world
beyond the frame. Each crack is walked once in each direction; crack c gives the half-cracks 2c
(towards +x or +y) and 2c + 1 (back). All of it is array work: the links are followed by doubling.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.groups import linked_groups
from img2pour.plane.regionmap import NO_FACE, OUTSIDE_COLOUR, IntArray, RegionMap

OUTSIDE_LABEL = 255
"""Label of pixels that are not part of the piece."""

BEYOND_LABEL = 254
"""Label given to the world beyond the frame while walking."""

SmallIntArray = NDArray[np.int32]

STEP_X = np.array([1, 0, -1, 0])
STEP_Y = np.array([0, 1, 0, -1])
"""Steps of the directions 0..3: +x, +y, -x, -y."""


@dataclass(frozen=True, eq=False)
class Walk:
    """The raw map and the cracks that each of its arcs follows.

    Attributes
    ----------
    region_map : RegionMap
        Outlines along the pixels' edges, in pixels.
    crack_offsets : (A + 1,) int64
        Arc a follows the cracks [crack_offsets[a], crack_offsets[a + 1]).
    starts : (C, 2) int64
        Lattice point (x, y) at which each crack of each arc begins.
    directions : (C,) int64
        0..3 for +x, +y, -x, -y.
    """

    region_map: RegionMap
    crack_offsets: IntArray
    starts: IntArray
    directions: IntArray


@dataclass(frozen=True, eq=False)
class _Halves:
    """All half-cracks, in 32 bits: lattice start (x, y), direction, and the padded label image.

    `keys` are the cracks' places, ascending among the level ones, which come first, and among the
    upright ones.
    """

    padded: NDArray[np.uint8]
    x: SmallIntArray
    y: SmallIntArray
    direction: SmallIntArray
    keys: SmallIntArray

    def labels_beside(self, ahead: int, side: int) -> NDArray[np.uint8]:
        """Return the labels of the pixels beside all half-cracks.

        Parameters
        ----------
        ahead : int
            0 for the pixel along the half-crack itself, 1 for the one beyond its end.
        side : int
            1 for the left one, -1 for the right one.
        """
        stride = self.padded.shape[1]
        # From the lattice point to the pixel's centre is half a step forward and half sideways.
        dx = (STEP_X * (2 * ahead + 1) - side * STEP_Y - 1) // 2
        dy = (STEP_Y * (2 * ahead + 1) + side * STEP_X - 1) // 2
        offset = ((dy + 1) * stride + dx + 1).astype(np.int32)
        picked: NDArray[np.uint8] = self.padded.ravel()[
            self.y * np.int32(stride) + self.x + offset[self.direction]
        ]
        return picked


def walk(labels: NDArray[np.uint8]) -> Walk:
    """Walk the cracks of a label image and return its raw region map.

    Parameters
    ----------
    labels : (H, W) uint8
        Colour indices below 254, or 255 for `outside`. No 2 x 2 block may have equal labels on a
        diagonal and others beside them (saddles), so that no face touches itself at a point.

    Returns
    -------
    Walk
        Faces are the 4-connected regions of equal label.
    """
    halves = _half_cracks(labels)
    following, at_node = _links(halves)
    chains = _chains(following, at_node)
    return _assemble(labels, halves, following, chains)


def _half_cracks(labels: NDArray[np.uint8]) -> _Halves:
    """List the cracks row by row, horizontal ones first, both ways."""
    padded = np.pad(labels, 1, constant_values=BEYOND_LABEL)
    width = labels.shape[1]
    level = np.flatnonzero(padded[:-1, 1:-1] != padded[1:, 1:-1])
    upright = np.flatnonzero(padded[1:-1, :-1] != padded[1:-1, 1:])
    level_y, level_x = np.divmod(level, width)
    upright_y, upright_x = np.divmod(upright, width + 1)
    x = np.concatenate([level_x, upright_x]).astype(np.int32)
    y = np.concatenate([level_y, upright_y]).astype(np.int32)
    along = np.repeat(np.array([0, 1], np.int32), [len(level), len(upright)])
    return _Halves(
        padded,
        np.stack([x, x + (1 - along)], axis=1).ravel(),
        np.stack([y, y + along], axis=1).ravel(),
        np.stack([along, along + 2], axis=1).ravel(),
        y * np.int32(width + 1) + x,
    )


def _links(halves: _Halves) -> tuple[IntArray, NDArray[np.bool_]]:
    """Return the half-crack that follows each one, and whether a node lies between them."""
    direction = halves.direction
    own, other = halves.labels_beside(0, 1), halves.labels_beside(0, -1)
    left, right = halves.labels_beside(1, 1), halves.labels_beside(1, -1)
    turn = np.where(left != own, 1, np.where(right != own, 0, 3)).astype(np.int32)
    at_node = (left != own).astype(np.int8) + (left != right) + (right != other) > 1
    end_x = halves.x + STEP_X.astype(np.int32)[direction]
    end_y = halves.y + STEP_Y.astype(np.int32)[direction]
    return _find(halves, end_x, end_y, (direction + turn) & 3), at_node


def _find(
    halves: _Halves, x: SmallIntArray, y: SmallIntArray, direction: SmallIntArray
) -> IntArray:
    """Return the index of the half-crack that starts at (x, y) in `direction`."""
    # A crack begins at its upper or left end: walked backwards, one step further on.
    back_x, back_y = np.minimum(STEP_X, 0).astype(np.int32), np.minimum(STEP_Y, 0).astype(np.int32)
    wanted = (y + back_y[direction]) * np.int32(halves.padded.shape[1] - 1) + x + back_x[direction]
    level_count = int(np.searchsorted(halves.direction[::2], 1))
    found = np.empty(len(wanted), np.int64)
    is_level = (direction & 1) == 0
    found[is_level] = np.searchsorted(halves.keys[:level_count], wanted[is_level])
    found[~is_level] = level_count + np.searchsorted(halves.keys[level_count:], wanted[~is_level])
    return 2 * found + (direction >> 1)


@dataclass(frozen=True, eq=False)
class _Chains:
    """Half-cracks of each arc in order; each arc in one direction only."""

    order: IntArray
    offsets: IntArray
    closed: NDArray[np.bool_]


def _chains(following: IntArray, at_node: NDArray[np.bool_]) -> _Chains:
    """Cut the links at the nodes and put the half-cracks of every arc in order."""
    count = len(following)
    inner = np.flatnonzero(~at_node)
    component = linked_groups(inner, following[inner], count)
    first_seen = np.full(component.max() + 1, count)
    np.minimum.at(first_seen, component, np.arange(count))
    kept = first_seen[component] < first_seen[component[np.arange(count) ^ 1]]
    has_end = np.zeros(len(first_seen), bool)
    has_end[component[at_node]] = True
    members = np.flatnonzero(kept)
    # A closed outline begins at its smallest half-crack; its last one is the one that leads there.
    last = at_node[members] | (
        ~has_end[component[members]] & (following[members] == first_seen[component[members]])
    )
    steps = _steps_to_end(members, following, last, count)
    order = members[np.lexsort((-steps, component[members]))]
    bounds = np.flatnonzero(np.diff(component[order])) + 1
    offsets = np.concatenate([[0], bounds, [len(order)]]).astype(np.int64)
    return _Chains(order, offsets, ~has_end[component[order[offsets[:-1]]]])


def _steps_to_end(
    members: IntArray, following: IntArray, last: NDArray[np.bool_], count: int
) -> IntArray:
    """Return how many links lie between each member and the end of its chain, by doubling."""
    place = np.zeros(count, np.int32)
    place[members] = np.arange(len(members))
    jump = np.where(last, np.arange(len(members)), place[following[members]])
    steps = np.where(last, 0, 1).astype(np.int32)
    while steps[jump].any():
        steps = steps + steps[jump]
        jump = jump[jump]
    return steps.astype(np.int64)


def _assemble(
    labels: NDArray[np.uint8], halves: _Halves, following: IntArray, chains: _Chains
) -> Walk:
    """Build the raw map from the ordered chains."""
    order, offsets = chains.order, chains.offsets
    arcs = np.arange(len(offsets) - 1)
    first, last = order[offsets[:-1]], order[offsets[1:] - 1]
    half_of_crack = np.full(len(halves.x), -1, np.int64)
    half_of_crack[first] = 2 * arcs
    half_of_crack[last ^ 1] = 2 * arcs + 1
    next_half = np.empty(2 * len(arcs), np.int64)
    next_half[0::2] = half_of_crack[following[last]]
    next_half[1::2] = half_of_crack[following[first ^ 1]]
    faces, colours = _faces(halves, following)
    directions = halves.direction[order].astype(np.int64)
    starts = np.stack([halves.x[order], halves.y[order]], axis=1).astype(np.int64)
    vertices, vertex_offsets = _corner_vertices(starts, directions, offsets)
    height, width = labels.shape
    region_map = RegionMap(
        vertices=vertices,
        bulges=np.zeros(len(vertices)),
        arc_offsets=vertex_offsets,
        arc_nodes=_number_nodes(vertices, vertex_offsets, width),
        arc_faces=np.stack([faces[first], faces[first ^ 1]], axis=1),
        next_half=next_half,
        face_colours=colours,
        bounds=(0.0, 0.0, float(width), float(height)),
    )
    return Walk(region_map, offsets, starts, directions)


def _corner_vertices(
    starts: IntArray, directions: IntArray, offsets: IntArray
) -> tuple[NDArray[np.float64], IntArray]:
    """Return the vertices of all arcs: their ends and the points at which they turn."""
    is_vertex = np.ones(len(starts), bool)
    is_vertex[1:] = directions[1:] != directions[:-1]
    is_vertex[offsets[:-1]] = True
    step = np.stack([STEP_X[directions], STEP_Y[directions]], axis=1)
    ends = starts[offsets[1:] - 1] + step[offsets[1:] - 1]
    counts = np.add.reduceat(is_vertex.astype(np.int64), offsets[:-1]) + 1
    vertex_offsets = np.concatenate([[0], np.cumsum(counts)])
    vertices = np.empty((vertex_offsets[-1], 2))
    is_end = np.zeros(len(vertices), bool)
    is_end[vertex_offsets[1:] - 1] = True
    vertices[is_end] = ends
    vertices[~is_end] = starts[is_vertex]
    return vertices, vertex_offsets


def _number_nodes(vertices: NDArray[np.float64], vertex_offsets: IntArray, width: int) -> IntArray:
    """Give numbers to the lattice points at which arcs begin or end."""
    ends = np.stack([vertices[vertex_offsets[:-1]], vertices[vertex_offsets[1:] - 1]], axis=1)
    keys = ends[..., 1] * (width + 1) + ends[..., 0]
    _, nodes = np.unique(keys.astype(np.int64), return_inverse=True)
    return nodes.reshape(-1, 2).astype(np.int64)


def _faces(halves: _Halves, following: IntArray) -> tuple[IntArray, IntArray]:
    """Return the face on the left of every half-crack, and each face's colour.

    Every outer ring is a face. A hole belongs to the face of the ring that is met first when one
    goes left from the hole's leftmost crack; that ring reaches further left, so this ends.
    """
    count = len(following)
    ring = linked_groups(np.arange(count), following, count)
    ring_count = int(ring.max()) + 1
    moment = np.where(halves.direction & 1, halves.x * STEP_Y[halves.direction], 0)
    is_hole = np.bincount(ring, moment, minlength=ring_count) < 0
    parent = np.arange(ring_count)
    holes, beside = _rings_left_of_holes(halves, ring, is_hole)
    parent[holes] = beside
    while (parent[parent] != parent).any():
        parent = parent[parent]
    labels = halves.labels_beside(0, 1)
    ring_label = np.empty(ring_count, np.int64)
    ring_label[ring] = labels
    real = np.flatnonzero((parent == np.arange(ring_count)) & (ring_label != BEYOND_LABEL))
    number = np.full(ring_count, NO_FACE)
    number[real] = np.arange(len(real))
    colours = np.where(ring_label[real] == OUTSIDE_LABEL, OUTSIDE_COLOUR, ring_label[real])
    return number[parent][ring], colours


def _rings_left_of_holes(
    halves: _Halves, ring: IntArray, is_hole: NDArray[np.bool_]
) -> tuple[IntArray, IntArray]:
    """Return each hole and the ring whose right-hand side it is seen from."""
    upright = np.flatnonzero(halves.direction == 1)
    order = upright[np.lexsort((halves.x[upright], halves.y[upright]))]
    # Half-crack +y has the hole's surrounding face on its left when it is a hole's left side.
    candidate = order[is_hole[ring[order]]]
    by_ring = candidate[np.lexsort((halves.y[candidate], halves.x[candidate], ring[candidate]))]
    holes, first = np.unique(ring[by_ring], return_index=True)
    place = np.empty(len(halves.x), np.int64)
    place[order] = np.arange(len(order))
    leftmost = place[by_ring[first]]
    inside = leftmost > 0
    before = order[np.maximum(leftmost - 1, 0)]
    beyond = ~inside | (halves.y[before] != halves.y[order[leftmost]])
    # Nothing to the left: the ring seen from beyond the frame is its own parent.
    return holes[~beyond], ring[before[~beyond] ^ 1]
