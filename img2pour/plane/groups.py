"""Connected groups of things that are linked in pairs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from img2pour.plane.regionmap import IntArray


def linked_groups(one: ArrayLike, other: ArrayLike, count: int) -> IntArray:
    """Return the group of each of `count` things, (count,), numbered by first appearance.

    Parameters
    ----------
    one, other : (n,) int
        Pairs that belong together.
    count : int
    """
    # Loaded here: it takes longer than reading a picture, beside which it can be loaded.
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    one, other = np.asarray(one), np.asarray(other)
    graph = coo_array((np.ones(len(one), np.int8), (one, other)), (count, count))
    _, groups = connected_components(graph, directed=False)
    return np.asarray(groups, dtype=np.int64)
