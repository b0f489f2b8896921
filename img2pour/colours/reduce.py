"""Fewer or more colours than a picture shows by itself."""

import numpy as np
from numpy.typing import NDArray

from img2pour.colour import oklab_from_srgb, srgb_difference

Floats = NDArray[np.float64]

_CELL = 4
_ROUNDS = 20
_MOST_CELLS = 4000
_LEAST_GAP = 4.0


def merge_to(colours: Floats, weights: Floats, number: int) -> Floats:
    """Merge colours pair by pair until `number` are left.

    The pair that adds the least squared error (Ward's criterion, OKLab) goes first; the heavier
    colour of a pair stays as it is, so that flat areas keep their true colour.

    Parameters
    ----------
    colours : ndarray of float64, shape (K, 3)
        sRGB of 0..255.
    weights : ndarray of float64, shape (K,)
        Pixels or shares.
    number : int
        How many to keep.

    Returns
    -------
    ndarray of float64, shape (number, 3)
        The colours kept, in their order.
    """
    weights = np.maximum(weights.astype(np.float64), 1e-12)
    lab = oklab_from_srgb(colours)
    alive = list(range(len(colours)))
    while len(alive) > number:
        w = weights[alive]
        gaps = ((lab[alive][:, None] - lab[alive][None]) ** 2).sum(axis=2)
        cost = gaps * (w[:, None] * w[None]) / (w[:, None] + w[None])
        cost[np.diag_indices(len(alive))] = np.inf
        i, j = divmod(int(np.argmin(cost)), len(alive))
        light, heavy = sorted((alive[i], alive[j]), key=lambda at: (weights[at], -at))
        weights[heavy] += weights[light]
        alive.remove(light)
    return colours[alive]


def split_to(colours: Floats, counts: Floats, number: int) -> Floats:
    """Add the colours that the picture misses most until there are `number`.

    Fewer come back when no cell of the counts differs visibly from the colours any more.
    """
    cells, weights = _heaviest_cells(counts)
    points = cells * _CELL + (_CELL - 1) / 2
    lab = oklab_from_srgb(points)
    while len(colours) < number:
        if len(colours):
            known = oklab_from_srgb(colours)
            gaps = ((lab[:, None] - known[None]) ** 2).sum(axis=2).min(axis=1)
        else:
            gaps = np.ones(len(lab))
        seed = int(np.argmax(weights * gaps))
        centre = points[seed]
        if len(colours) and float(srgb_difference(colours, centre).min()) < _LEAST_GAP:
            break
        colours = np.vstack([colours, centre])
    return colours


def choose_colours(counts: Floats, number: int) -> Floats:
    """Choose colours for a picture without flat ones: weighted k-means in OKLab.

    Seeds are the heaviest far cells, so the result is the same every time.
    """
    cells, weights = _heaviest_cells(counts)
    points = cells * _CELL + (_CELL - 1) / 2
    lab = oklab_from_srgb(points)
    centres = oklab_from_srgb(split_to(np.zeros((0, 3)), counts, number))
    for _ in range(_ROUNDS):
        owner = ((lab[:, None] - centres[None]) ** 2).sum(axis=2).argmin(axis=1)
        total = np.bincount(owner, weights=weights, minlength=len(centres))
        for axis in range(3):
            sums = np.bincount(owner, weights=weights * lab[:, axis], minlength=len(centres))
            centres[:, axis] = np.where(total > 0, sums / np.maximum(total, 1), centres[:, axis])
    total = np.bincount(owner, weights=weights, minlength=len(centres))
    means = [
        np.bincount(owner, weights=weights * points[:, axis], minlength=len(centres))
        / np.maximum(total, 1)
        for axis in range(3)
    ]
    return np.stack(means, axis=1)[total > 0]


def _heaviest_cells(counts: Floats) -> tuple[NDArray[np.int64], Floats]:
    cells = np.argwhere(counts > 0)
    weights = counts[tuple(cells.T)]
    order = np.argsort(-weights, kind="stable")[:_MOST_CELLS]
    return cells[order], weights[order]
