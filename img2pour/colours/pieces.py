"""Connected pieces of a label image, and the dissolving of specks.

Pieces are 4-connected. They are found from runs of equal labels along the rows, so the work
grows with the length of the edges and not with the number of pixels.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Integers = NDArray[np.int64]

_MOST_ROUNDS = 6


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of equal labels, row by row.

    Attributes
    ----------
    start, stop : ndarray of int64, shape (R,)
        First pixel and one past the last, in the flattened picture.
    label : ndarray of uint8, shape (R,)
        The label.
    upper, lower, contact : ndarray of int64, shape (P,)
        Runs that touch across two rows, and along how many pixels.
    """

    start: Integers
    stop: Integers
    label: Bytes
    upper: Integers
    lower: Integers
    contact: Integers


def find_runs(labels: Bytes) -> Runs:
    """Cut a label image of shape (H, W) into runs."""
    height, width = labels.shape
    flat = labels.ravel()
    change = flat[1:] != flat[:-1]
    change[width - 1 :: width] = True
    start = np.concatenate([[0], np.flatnonzero(change) + 1])
    stop = np.append(start[1:], flat.size)
    first_lower = int(np.searchsorted(start, width))
    first_last = int(np.searchsorted(start, (height - 1) * width))
    lower_a = np.arange(first_lower, len(start))
    upper_a = np.searchsorted(start, start[lower_a] - width, side="right") - 1
    upper_b = np.arange(first_last)
    lower_b = np.searchsorted(start, start[upper_b] + width, side="right") - 1
    # Where both begin in the same column, the pair is in the first list already.
    new = start[lower_b] != start[upper_b] + width
    upper = np.concatenate([upper_a, upper_b[new]])
    lower = np.concatenate([lower_a, lower_b[new]])
    first = np.maximum(start[upper] + width, start[lower])
    last = np.minimum(stop[upper] + width, stop[lower])
    return Runs(start, stop, flat[start], upper, lower, last - first)


def find_pieces(runs: Runs) -> Integers:
    """Return for every run the lowest index of the runs in its piece."""
    same = runs.label[runs.upper] == runs.label[runs.lower]
    upper, lower = runs.upper[same], runs.lower[same]
    root = np.arange(len(runs.start))
    while True:
        one, other = root[upper], root[lower]
        apart = one != other
        if not apart.any():
            return root
        upper, lower, one, other = upper[apart], lower[apart], one[apart], other[apart]
        np.minimum.at(root, np.maximum(one, other), np.minimum(one, other))
        while True:
            higher = root[root]
            if np.array_equal(higher, root):
                break
            root = higher


def dissolve_specks(labels: Bytes, least_px: int, keep_label: int) -> Bytes:
    """Give pieces of fewer than `least_px` pixels to the neighbour they touch most.

    Parameters
    ----------
    labels : ndarray of uint8, shape (H, W)
        Label image.
    least_px : int
        Pieces of this many pixels and more stay.
    keep_label : int
        Pixels of this label never change, and none becomes one.

    Returns
    -------
    ndarray of uint8, shape (H, W)
        A new label image. Only counts of pixels and contacts decide, so a turned or mirrored
        picture gives the turned or mirrored result.
    """
    labels = np.ascontiguousarray(labels).copy()
    for _ in range(_MOST_ROUNDS):
        runs = find_runs(labels)
        target, settled = _new_labels(runs, labels.shape[1], least_px, keep_label)
        moved = np.flatnonzero(target != runs.label)
        _paint(labels, runs.start[moved], runs.stop[moved], target[moved])
        if settled or len(moved) == 0:
            break
    return labels


def _new_labels(runs: Runs, width: int, least_px: int, keep_label: int) -> tuple[Bytes, bool]:
    """Return new labels of the runs, and whether no speck can be left after them."""
    root = find_pieces(runs)
    area = np.bincount(root, weights=runs.stop - runs.start, minlength=len(root))[root]
    speck = (area < least_px) & (runs.label != keep_label)
    target = runs.label.copy()
    if not speck.any():
        return target, True
    one, other, contact = _contacts(runs, width)
    # A speck goes to a larger piece, or to an equally large one of a lower label: no two swap.
    larger = (area[other] > area[one]) | (
        (area[other] == area[one]) & (runs.label[other] < runs.label[one])
    )
    counted = speck[one] & larger & (runs.label[other] != keep_label)
    piece, label = root[one[counted]], runs.label[other[counted]]
    keys, place = np.unique(piece * 256 + label, return_inverse=True)
    votes = np.bincount(place, weights=contact[counted])
    order = np.lexsort((keys, -votes, keys // 256))
    piece, first = np.unique(keys[order] // 256, return_index=True)
    chosen = np.full(len(root), -1)
    chosen[piece] = keys[order][first] % 256
    moved = speck & (chosen[root] >= 0)
    target[moved] = chosen[root[moved]]
    return target, bool((moved == speck).all()) and not speck[other[counted]].any()


def _contacts(runs: Runs, width: int) -> tuple[Integers, Integers, Integers]:
    """Return unlike runs that touch, both ways round, with the length of their contact."""
    unlike = runs.label[runs.upper] != runs.label[runs.lower]
    upper, lower, across = runs.upper[unlike], runs.lower[unlike], runs.contact[unlike]
    left = np.flatnonzero(runs.stop[:-1] % width != 0)
    one = np.concatenate([upper, lower, left, left + 1])
    other = np.concatenate([lower, upper, left + 1, left])
    beside = np.ones(len(left), dtype=np.int64)
    return one, other, np.concatenate([across, across, beside, beside])


def _paint(labels: Bytes, start: Integers, stop: Integers, value: Bytes) -> None:
    length = stop - start
    offset = np.arange(int(length.sum())) - np.repeat(np.cumsum(length) - length, length)
    labels.reshape(-1)[np.repeat(start, length) + offset] = np.repeat(value, length)
