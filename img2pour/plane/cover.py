"""Which layer is seen in each face: a walk over all faces that keeps the state of every layer."""

from __future__ import annotations

from bisect import bisect_left, insort
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.cuts import Edges
from img2pour.plane.faces import Faces
from img2pour.plane.regionmap import FloatArray, IntArray

Rule = Literal["map", "nonzero", "evenodd"]

UNSEEN = -1
"""Layer of a face that lies beyond the frame."""


@dataclass(frozen=True, eq=False)
class Stack:
    """What the layers say on both sides of every given curve.

    Attributes
    ----------
    layers : (n,) int64
        Layer of each curve; 0 is the frame, outside of which nothing is seen.
    sides : (n, 2) int64
        Face of that layer's map on the left and on the right, -1 beyond. For outlines to be filled:
        (1, 0), and what counts is how often the outline goes around.
    rules : tuple of {"map", "nonzero", "evenodd"}
        How each layer's state decides what it covers.
    covers : tuple of (F,) bool or None
        For layers that are maps: which of their faces are seen.
    """

    layers: IntArray
    sides: IntArray
    rules: tuple[Rule, ...]
    covers: tuple[NDArray[np.bool_] | None, ...]


@dataclass(frozen=True, eq=False)
class Seen:
    """What is seen in each face.

    Attributes
    ----------
    layer : (F,) int64
        The top layer that covers the face, UNSEEN beyond the frame.
    face : (F,) int64
        The face of that layer's map; 0 for filled outlines.
    """

    layer: IntArray
    face: IntArray


@dataclass
class _State:
    """The state of all layers at the face where the walk stands, and which cover it."""

    stack: Stack
    value: list[int]
    covering: list[int]

    def set(self, layer: int, value: int) -> None:
        was, now = self._covers(layer, self.value[layer]), self._covers(layer, value)
        self.value[layer] = value
        if now and not was:
            insort(self.covering, layer)
        elif was and not now:
            del self.covering[bisect_left(self.covering, layer)]

    def _covers(self, layer: int, value: int) -> bool:
        rule = self.stack.rules[layer]
        if rule == "map":
            shown = self.stack.covers[layer]
            return value >= 0 and (shown is None or bool(shown[value]))
        return value != 0 if rule == "nonzero" else value % 2 == 1

    def top(self) -> tuple[int, int]:
        if not self.covering or self.covering[0] != 0:
            return UNSEEN, 0
        layer = self.covering[-1]
        return layer, self.value[layer] if self.stack.rules[layer] == "map" else 0


def find_seen(edges: Edges, faces: Faces, stack: Stack) -> Seen:
    """Return what is seen in each face."""
    count = len(faces.areas)
    tree = _longest_edges(faces.sides, edge_lengths(edges), count)
    first = np.searchsorted(edges.owner_of, np.arange(len(edges) + 1))
    state = _State(stack, [-1 if rule == "map" else 0 for rule in stack.rules], [])
    layer, face = np.full(count, UNSEEN), np.zeros(count, np.int64)

    def cross(half: int) -> list[tuple[int, int]]:
        """Go over an edge from its left (even half) or right; return how to go back."""
        undo = []
        edge = half >> 1
        for k in range(first[edge], first[edge + 1]):
            curve = edges.owners[k]
            own = int(stack.layers[curve])
            undo.append((own, state.value[own]))
            left, right = stack.sides[curve].tolist()
            if bool(edges.reversed[k]) != bool(half & 1):
                left, right = right, left
            is_map = stack.rules[own] == "map"
            state.set(own, right if is_map else state.value[own] + right - left)
        return undo

    # Down the tree and back up again; the face around everything has the number `count`.
    todo: list[tuple[int, int] | list[tuple[int, int]]] = list(reversed(tree[count]))
    while todo:
        step = todo.pop()
        if isinstance(step, list):
            for own, value in reversed(step):
                state.set(own, value)
            continue
        half, there = step
        todo.append(cross(half))
        layer[there], face[there] = state.top()
        todo.extend(reversed(tree[there]))
    return Seen(layer, face)


def edge_lengths(edges: Edges) -> FloatArray:
    """Return the length of every edge along its curve."""
    curves = edges.curves()
    half = 2 * np.arctan(np.abs(curves.bulges))
    stretch = np.where(half < 1e-6, 1.0, half / np.where(half < 1e-6, 1.0, np.sin(half)))
    lengths: FloatArray = np.hypot(*(curves.end - curves.start).T) * stretch
    return lengths


def _longest_edges(sides: IntArray, lengths: FloatArray, count: int) -> list[list[tuple[int, int]]]:
    """Return a tree over all faces by their longest edges: (half-edge to cross, face beyond).

    Slivers from rounding are entered last, so that they decide nothing else.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import minimum_spanning_tree

    around = np.where(sides < 0, count, sides)
    usable = np.flatnonzero(around[:, 0] != around[:, 1])
    low, high = around[usable].min(axis=1), around[usable].max(axis=1)
    order = np.lexsort((usable, -lengths[usable], high, low))
    new = np.ones(len(order), bool)
    new[1:] = (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)
    best = usable[order[new]]
    low, high = around[best].min(axis=1), around[best].max(axis=1)
    weights = 1 / np.maximum(lengths[best], 1e-12)
    chosen = minimum_spanning_tree(coo_array((weights, (low, high)), (count + 1, count + 1)))
    pairs = low * (count + 1) + high
    kept = chosen.tocoo()
    edges = best[
        np.searchsorted(pairs, np.sort(kept.row.astype(np.int64) * (count + 1) + kept.col))
    ]
    return _rooted(edges.tolist(), around, count)


def _rooted(edges: list[int], around: IntArray, count: int) -> list[list[tuple[int, int]]]:
    """Return the tree with every edge pointing away from the face around everything."""
    beside: list[list[tuple[int, int]]] = [[] for _ in range(count + 1)]
    for edge in edges:
        left, right = around[edge].tolist()
        beside[left].append((2 * edge, right))
        beside[right].append((2 * edge + 1, left))
    tree: list[list[tuple[int, int]]] = [[] for _ in range(count + 1)]
    reached = bytearray(count + 1)
    reached[count] = 1
    todo = [count]
    while todo:
        here = todo.pop()
        for half, there in beside[here]:
            if not reached[there]:
                reached[there] = 1
                tree[here].append((half, there))
                todo.append(there)
    return tree
