"""Saddles of a label image: 2 x 2 blocks in which two pieces would touch in a point only.

In a block ``a b / c a`` the label a meets itself across a corner. One pixel changes so that the
region map never has a face that touches itself in a point.
"""

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Integers = NDArray[np.int64]
Floats = NDArray[np.float64]

_FREE_ROUNDS = 12


def remove_saddles(labels: Bytes, rgb: Bytes, colours: Floats, outside_label: int) -> Bytes:
    """Return the label image without saddles.

    The pixel changes whose colour objects least. Outside pixels stay outside; where only an
    outside pixel could change, a pixel beside it becomes outside.

    Parameters
    ----------
    labels : ndarray of uint8, shape (H, W)
        Label image.
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    colours : ndarray of float64, shape (K, 3)
        The palette.
    outside_label : int
        Label of pixels outside of the artwork.

    Returns
    -------
    ndarray of uint8, shape (H, W)
        A new label image. Turning or mirroring the picture gives the turned or mirrored result,
        but where two changes cost exactly the same.
    """
    labels = np.ascontiguousarray(labels).copy()
    if min(labels.shape) < 2:
        return labels
    height, width = labels.shape
    flat = labels.reshape(-1)
    corners = _all_saddles(labels)
    for round_number in range(10_000):
        if len(corners) == 0:
            break
        if round_number < _FREE_ROUNDS:
            pixel, value = _cheapest(flat, rgb, colours, corners, width, outside_label)
        else:
            pixel, value = _lowering(flat, corners, width, outside_label)
        flat[pixel] = value
        corners = _saddles_near(flat, pixel, height, width)
    return labels


def _all_saddles(labels: Bytes) -> Integers:
    """Return the upper left pixels of all saddles; both rows change in the middle of each."""
    width = labels.shape[1]
    flat = labels.reshape(-1)
    changes = flat[1:] != flat[:-1]
    both = changes[:-width] & changes[width:]
    corner = np.flatnonzero(both)
    return _saddles_among(flat, corner[corner % width < width - 1], width)


def _saddles_near(flat: Bytes, pixel: Integers, height: int, width: int) -> Integers:
    row, column = np.divmod(pixel, width)
    rows = np.concatenate([row - 1, row - 1, row, row])
    columns = np.concatenate([column - 1, column, column - 1, column])
    fits = (rows >= 0) & (columns >= 0) & (rows < height - 1) & (columns < width - 1)
    return _saddles_among(flat, np.unique(rows[fits] * width + columns[fits]), width)


def _saddles_among(flat: Bytes, corner: Integers, width: int) -> Integers:
    a, b, c, d = (flat[corner + step] for step in (0, 1, width, width + 1))
    rising = (b == c) & (a != b) & (d != b)
    falling = (a == d) & (a != b) & (a != c)
    return np.asarray(corner[rising | falling])


def _blocks(flat: Bytes, corners: Integers, width: int) -> tuple[Integers, Bytes]:
    """Return pixels and labels of the blocks, equal diagonal first: shapes (n, 4)."""
    pixels = corners[:, None] + np.array([0, width + 1, 1, width])
    labels = flat[pixels]
    rising = (labels[:, 0] != labels[:, 1]) | (labels[:, 0] == labels[:, 2])
    swapped = np.where(rising[:, None], [2, 3, 0, 1], [0, 1, 2, 3])
    return np.take_along_axis(pixels, swapped, axis=1), np.take_along_axis(labels, swapped, axis=1)


# Each way to end a saddle: which pixel of the block changes, and to the label of which.
_CHANGES = ((2, 0), (3, 0), (0, 2), (0, 3), (1, 2), (1, 3))


def _cheapest(
    flat: Bytes, rgb: Bytes, colours: Floats, corners: Integers, width: int, outside_label: int
) -> tuple[Integers, Bytes]:
    pixels, labels = _blocks(flat, corners, width)
    shown = rgb.reshape(-1, 3)[pixels].astype(np.float64)
    palette = np.zeros((256, 3))
    palette[: len(colours)] = colours
    cost = np.empty((len(corners), len(_CHANGES)))
    for at, (changed, like) in enumerate(_CHANGES):
        old, new = labels[:, changed], labels[:, like]
        gain = ((shown[:, changed] - palette[new]) ** 2).sum(axis=1)
        loss = ((shown[:, changed] - palette[old]) ** 2).sum(axis=1)
        cost[:, at] = gain - loss
        cost[new == outside_label, at] = 1e9 + loss[new == outside_label]
        cost[old == outside_label, at] = np.inf
    best = cost.argmin(axis=1)
    changed, like = np.array(_CHANGES)[best].T
    each = np.arange(len(corners))
    return pixels[each, changed], labels[each, like]


def _lowering(
    flat: Bytes, corners: Integers, width: int, outside_label: int
) -> tuple[Integers, Bytes]:
    """Change only to lower labels, outside counting as lowest: this comes to an end."""
    pixels, labels = _blocks(flat, corners[:1], width)
    rank = np.where(labels[0] == outside_label, -1, labels[0].astype(int))
    for changed, like in _CHANGES:
        if rank[like] < rank[changed]:
            return pixels[0, [changed]], labels[0, [like]]
    return pixels[0, :0], labels[0, :0]
