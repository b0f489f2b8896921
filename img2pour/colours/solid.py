"""Small pictures without blended edges, such as icons: their colours are there to be counted.

In a picture of a few dozen pixels hardly any 5 x 5 window is flat, so that the search for flat
areas finds nothing; but where every pixel has exactly the colour of its area, nothing need be
searched for.
"""

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

_MOST_PX = 200 * 200
_MOST_COLOURS = 32
# Share of a colour's pixels that lie in 2 x 2 blocks of it: blends along edges form none.
_LEAST_SOLID = 0.5
_LEAST_COVERED = 0.995
# Nearer colours (RGB) are steps of a shading.
_LEAST_GAP = 12.0


def solid_colours(rgb: Bytes, outside: NDArray[np.bool_] | None) -> Floats | None:
    """Return the exact colours of a small picture whose areas meet without a blend.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    outside : ndarray of bool, shape (H, W), or None
        Pixels that do not count.

    Returns
    -------
    ndarray of float64, shape (K, 3), or None
        The colours, most pixels first; None for other pictures.
    """
    if rgb.shape[0] * rgb.shape[1] > _MOST_PX or min(rgb.shape[:2]) < 2:
        return None
    codes = (rgb.astype(np.int32) * np.array([1 << 16, 1 << 8, 1])).sum(axis=2)
    inside = np.ones(codes.shape, bool) if outside is None else ~outside
    found, index, counts = np.unique(codes[inside], return_inverse=True, return_counts=True)
    in_blocks = np.bincount(index, _in_blocks(codes)[inside], minlength=len(found))
    kept = np.flatnonzero(in_blocks >= np.maximum(_LEAST_SOLID * counts, 4))
    if len(kept) > _MOST_COLOURS or counts[kept].sum() < _LEAST_COVERED * counts.sum():
        return None
    kept = kept[np.argsort(-counts[kept], kind="stable")]
    colours = np.stack([found >> 16, found >> 8 & 255, found & 255], axis=1)[kept].astype(float)
    gaps = np.linalg.norm(colours[:, None] - colours[None], axis=2)
    np.fill_diagonal(gaps, np.inf)
    return colours if gaps.min(initial=np.inf) >= _LEAST_GAP else None


def _in_blocks(codes: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Return which pixels lie in a 2 x 2 block of one colour."""
    level, upright = codes[:, 1:] == codes[:, :-1], codes[1:] == codes[:-1]
    block = level[1:] & level[:-1] & upright[:, 1:]
    inside = np.zeros(codes.shape, bool)
    for down in (0, 1):
        for right in (0, 1):
            part = inside[down : down + block.shape[0], right : right + block.shape[1]]
            part |= block
    return inside
