"""Colours that live only in thin strokes and have no flat pixel.

A blended edge pixel lies near the segment between two colours of the palette, in encoded sRGB or
in linear light. Pixels far from all of those, at local peaks, show a colour that is missing.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colour import linear_from_srgb, srgb_difference, srgb_from_linear
from img2pour.colours.blur import TO_LUMA_CHROMA, EdgeLook
from img2pour.colours.flats import Flats
from img2pour.colours.modes import CELL
from img2pour.colours.nearest import nearest_index

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

_LEAST_DISTANCE = 30.0
_LEAST_PEAKS = 60
_SAME_COLOUR = 30.0
_MOST_ADDED = 8
# CIEDE2000 up to which a stroke passes for a known colour that overshoots beside a sharp edge.
_ALIKE = 8.0
# Of a stroke's pixels so many stand two by two; three times as many have blends beside them.
_STROKE_SHARE = 0.08
# A pixel this near to a colour is no blend.
_PLAIN = 20.0
_MOST_CELLS = 8000
_BLOCK = 512
_NEIGHBOURS = np.ones((3, 3), dtype=np.uint8)


def add_thin_colours(
    rgb: Bytes, flats: Flats, rough_counts: Floats, colours: Floats, look: EdgeLook
) -> Floats:
    """Add the colours of thin strokes to those found among flat pixels.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        The picture.
    flats : Flats
        Its flat pixels.
    rough_counts : ndarray of float64, shape (64, 64, 64)
        Counts of the pixels that are not flat, by colour.
    colours : ndarray of float64, shape (K, 3)
        Colours found so far.
    look : EdgeLook
        How the edges of the picture look.

    Returns
    -------
    ndarray of float64, shape (K + n, 3)
        The colours with those of thin strokes after them.
    """
    least = max(_LEAST_DISTANCE, 6 * flats.noise)
    enough = _LEAST_PEAKS * max(1.0, (flats.flat.size / 1e6) ** 0.5)
    if len(colours) == 0:
        return colours
    cells = np.argwhere(rough_counts > 0)
    points = cells * CELL + (CELL - 1) / 2
    distance = np.min([np.linalg.norm(points - colour, axis=1) for colour in colours], axis=0)
    cells, points = cells[distance > least], points[distance > least]
    counts = rough_counts[tuple(cells.T)]
    fullest = np.argsort(-counts, kind="stable")[:_MOST_CELLS]
    cells, points, counts = cells[fullest], points[fullest], counts[fullest]
    pairs = np.column_stack(np.triu_indices(len(colours), k=1))
    distance = _distance_to_blends(points, colours, pairs, look)
    for _ in range(_MOST_ADDED):
        if counts[distance > least].sum() < enough:
            break
        peaks = _peaks(rgb, flats.rough, cells, distance, least)
        extra = _missing_colour(rgb[peaks].astype(np.float64), cells, distance, enough)
        if extra is None:
            break
        alike = float(srgb_difference(colours, extra).min()) < _ALIKE
        if alike or not _is_stroke(rgb, flats.rough, colours, extra):
            distance = np.where(np.linalg.norm(points - extra, axis=1) < _SAME_COLOUR, 0, distance)
            continue
        number = len(colours)
        colours = np.vstack([colours, extra])
        pairs = np.column_stack([np.arange(number + 1), np.full(number + 1, number)])
        distance = np.minimum(distance, _distance_to_blends(points, colours, pairs, look))
    return colours


def _distance_to_blends(
    points: Floats, colours: Floats, pairs: NDArray[np.intp], look: EdgeLook
) -> Floats:
    """Return the least distance of each point to the blends of some pairs of colours."""
    if len(points) == 0 or len(pairs) == 0:
        return np.full(len(points), 255.0)
    first, second = colours[pairs[:, 0]], colours[pairs[:, 1]]
    if look.subsampled:
        points, starts, ends = (part @ TO_LUMA_CHROMA.T for part in (points, first, second))
    else:
        starts, ends = _blend_paths(first, second)
    distances = [
        _nearest_path(points[top : top + _BLOCK], starts, ends, look.subsampled)
        for top in range(0, len(points), _BLOCK)
    ]
    return np.sqrt(np.maximum(np.concatenate(distances), 0.0))


def _blend_paths(first: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Return starts and ends of the segments that blends of pairs of colours follow in sRGB.

    Each pair gives its straight segment, and the path of blends in linear light as three chords.
    """
    light, step = linear_from_srgb(first), linear_from_srgb(second) - linear_from_srgb(first)
    knots = [first, *(srgb_from_linear(light + t * step) for t in (0.15, 0.5)), second]
    return np.concatenate([first, *knots[:-1]]), np.concatenate([second, *knots[1:]])


def _nearest_path(points: Floats, starts: Floats, ends: Floats, subsampled: bool) -> Floats:
    """Return the least squared distance of each point to a path.

    With `subsampled` the first axis may lie anywhere between start and end, whatever the place
    along the other two: that is where a picture with coarser colour than lightness can be.
    """
    free = 1 if subsampled else 0
    along = (ends - starts)[:, free:].astype(np.float32)
    from_start = points[:, None, free:].astype(np.float32) - starts[:, free:].astype(np.float32)
    squared = np.maximum((along**2).sum(axis=1), 1e-6)
    t = np.clip((from_start * along).sum(axis=2) / squared, 0, 1)
    gap = ((from_start - t[..., None] * along) ** 2).sum(axis=2)
    if subsampled:
        low, high = np.minimum(starts[:, 0], ends[:, 0]), np.maximum(starts[:, 0], ends[:, 0])
        level = points[:, :1]
        gap = gap + np.maximum(np.maximum(low - level, level - high), 0) ** 2
    return np.asarray(gap.min(axis=1), dtype=np.float64)


def _peaks(
    rgb: Bytes, rough: Bytes, cells: NDArray[np.int64], distance: Floats, least: float
) -> NDArray[np.bool_]:
    """Return where the distance is at least `least` and the largest of the 3 x 3 window."""
    table = np.zeros((64, 64, 64), dtype=np.uint8)
    table[tuple(cells.T)] = np.clip(distance, 0, 255).astype(np.uint8)
    height = cv2.bitwise_and(nearest_index(rgb, table.ravel()), rough)
    top = cv2.compare(height, cv2.dilate(height, _NEIGHBOURS), cv2.CMP_EQ)
    return np.asarray((height > least) & (np.asarray(top) > 0))


def _is_stroke(rgb: Bytes, rough: Bytes, colours: Floats, extra: Floats) -> bool:
    """Return whether a colour shows as strokes do: two pixels wide, or with blends beside it.

    A seam a pixel wide, where two antialiased shapes let the ground shine through, has nothing but
    plain colours beside it.
    """
    near = _to_nearest(extra[None])
    shown = cv2.bitwise_and(_painted(rgb, near < _SAME_COLOUR), rough)
    least = _STROKE_SHARE * max(cv2.countNonZero(shown), 1)
    if cv2.countNonZero(cv2.erode(shown, np.ones((2, 2), dtype=np.uint8))) >= least:
        return True
    blended = _painted(rgb, np.minimum(near, _to_nearest(colours)) > _PLAIN)
    beside = cv2.bitwise_and(cv2.dilate(shown, _NEIGHBOURS), cv2.bitwise_not(shown))
    return cv2.countNonZero(cv2.bitwise_and(beside, blended)) >= 3 * least


def _to_nearest(colours: Floats) -> Floats:
    """Return each cell's distance to the nearest of some colours, (64, 64, 64)."""
    axis = np.arange(64) * CELL + (CELL - 1) / 2
    least = np.full((64, 64, 64), np.inf)
    for red, green, blue in colours:
        squared = (
            (axis - red)[:, None, None] ** 2
            + (axis - green)[None, :, None] ** 2
            + (axis - blue)[None, None, :] ** 2
        )
        least = np.minimum(least, squared)
    return np.asarray(np.sqrt(least))


def _painted(rgb: Bytes, cells: NDArray[np.bool_]) -> Bytes:
    """Return 255 where a pixel's colour is among some cells."""
    return np.asarray(nearest_index(rgb, np.where(cells, 255, 0).astype(np.uint8).ravel()))


def _missing_colour(
    peaks: Floats, cells: NDArray[np.int64], distance: Floats, enough: float
) -> Floats | None:
    """Return the colour that most of the peaks are near to, as its purest pixels show it."""
    if len(peaks) < enough:
        return None
    table = np.zeros((64, 64, 64))
    table[tuple(cells.T)] = distance
    height = table[tuple((peaks.astype(np.int64) // CELL).T)]
    # Ordered by colour and not by place, so that a turned picture gives the same.
    order = np.lexsort((*peaks.T, -height))
    peaks, height = peaks[order], height[order]
    free = np.ones(len(peaks), dtype=bool)
    while free.sum() >= enough:
        seed = peaks[int(np.argmax(free))]
        near = np.linalg.norm(peaks - seed, axis=1) < _SAME_COLOUR
        if near.sum() >= enough:
            purest = peaks[near][: max(12, int(near.sum() * 0.4))]
            return np.asarray(np.median(purest, axis=0))
        free &= ~near
    return None
