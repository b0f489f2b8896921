"""Which shapes touch which, and along what line.

Shapes that come from one region map have the very same vertices along a shared line, so their
segments are simply looked up. What is left (outlines computed otherwise) is compared by distance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.geometry import TOUCH_MM, Geometry, polygons_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEAST_CONTACT_MM = 10.0 * TOUCH_MM  # shapes that meet in a point do not touch along a line


@dataclass(frozen=True, eq=False)
class Contacts:
    """Segments along which two shapes touch, each listed once for either side.

    Attributes
    ----------
    shape, other : (N,) int64
        Index of the shape the segment bounds, and of the one beside it.
    part : (N,) int64
        Index of the polygon of `shape`, counted over all shapes.
    ends : (N, 2, 2) float64
        Ends of the segment, mm.
    parts : tuple of shapely Polygon
        All polygons of all shapes.
    owner : (P,) int64
        Shape of each polygon.
    """

    shape: IntArray
    other: IntArray
    part: IntArray
    ends: FloatArray
    parts: tuple[Geometry, ...]
    owner: IntArray

    @property
    def length_mm(self) -> FloatArray:
        """Length of each segment, (N,)."""
        steps = self.ends[:, 1] - self.ends[:, 0]
        length: FloatArray = np.hypot(steps[:, 0], steps[:, 1])
        return length

    @property
    def middle(self) -> FloatArray:
        """Middle of each segment, (N, 2)."""
        middle: FloatArray = self.ends.mean(axis=1)
        return middle

    def between(self, one: int, two: int) -> NDArray[np.bool_]:
        """Return which segments bound shape `one` against shape `two`."""
        found: NDArray[np.bool_] = (self.shape == one) & (self.other == two)
        return found

    def line(self, which: NDArray[np.bool_]) -> Geometry:
        """Return chosen segments, merged into lines."""
        return merged_lines(self.ends[which])


def merged_lines(ends: FloatArray) -> Geometry:
    """Return segments, (N, 2, 2), merged into lines."""
    if len(ends) == 0:
        return shapely.MultiLineString()
    return shapely.line_merge(shapely.multilinestrings(shapely.linestrings(ends)))


def find_contacts(shapes: Sequence[Geometry]) -> Contacts:
    """Find along which segments shapes touch each other."""
    polygons = [polygons_of(shape) for shape in shapes]
    parts = [part for of_shape in polygons for part in of_shape]
    counts = [len(of_shape) for of_shape in polygons]
    owner = np.repeat(np.arange(len(shapes), dtype=np.int64), counts)
    ends, part = _segments(parts)
    exact = _same_segments(ends, owner[part])
    near = _near_segments(ends, owner[part], exact)
    index = np.concatenate([exact[:, 0], near[0]])
    other = np.concatenate([exact[:, 1], near[1]])
    lines = np.concatenate([ends[exact[:, 0]], near[2]])
    return Contacts(owner[part[index]], other, part[index], lines, tuple(parts), owner)


def _segments(parts: Sequence[Geometry]) -> tuple[FloatArray, IntArray]:
    """Return the segments of all rings, (S, 2, 2), and the polygon of each, (S,)."""
    if not parts:
        return np.empty((0, 2, 2)), np.empty(0, dtype=np.int64)
    rings, of_part = shapely.get_rings(np.array(parts, dtype=object), return_index=True)
    points, of_ring = shapely.get_coordinates(rings, return_index=True)
    joined = of_ring[1:] == of_ring[:-1]
    ends = np.stack([points[:-1], points[1:]], axis=1)[joined]
    return ends, of_part[of_ring[:-1][joined]].astype(np.int64)


def _same_segments(ends: FloatArray, owner: IntArray) -> IntArray:
    """Return rows (segment, shape beside it) for segments that two shapes have in common."""
    if len(ends) == 0:
        return np.empty((0, 2), dtype=np.int64)
    first, second = ends[:, 0], ends[:, 1]
    swap = (first[:, 0] > second[:, 0]) | (
        (first[:, 0] == second[:, 0]) & (first[:, 1] > second[:, 1])
    )
    low = np.where(swap[:, None], second, first)
    high = np.where(swap[:, None], first, second)
    order = np.lexsort((high[:, 1], high[:, 0], low[:, 1], low[:, 0]))
    rows = np.concatenate([low, high], axis=1)[order]
    same = np.flatnonzero((rows[1:] == rows[:-1]).all(axis=1))
    one, two = order[same], order[same + 1]
    apart = owner[one] != owner[two]
    one, two = one[apart], two[apart]
    both = np.stack([np.concatenate([one, two]), np.concatenate([owner[two], owner[one]])], axis=1)
    return both[np.argsort(both[:, 0], kind="stable")].astype(np.int64)


def _near_segments(
    ends: FloatArray, owner: IntArray, exact: IntArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return segments that lie on each other without being the same: index, shape beside, ends."""
    left = np.ones(len(ends), dtype=bool)
    left[exact[:, 0]] = False
    index = np.flatnonzero(left)
    lines = shapely.linestrings(ends[index]) if len(index) else np.empty(0, dtype=object)
    one, two = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=TOUCH_MM)
    differ = owner[index[one]] != owner[index[two]]
    one, two = one[differ], two[differ]
    overlap, whole = _overlaps(ends[index[one]], ends[index[two]])
    one, two, overlap = one[whole], two[whole], overlap[whole]
    return index[one].astype(np.int64), owner[index[two]], overlap


def _overlaps(one: FloatArray, two: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return the part of each segment that lies along another, and whether there is any."""
    step = one[:, 1] - one[:, 0]
    length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-300)
    along = step / length[:, None]
    offset = two - one[:, :1]
    at = (offset * along[:, None]).sum(axis=2)
    aside = np.abs(offset[..., 0] * along[:, None, 1] - offset[..., 1] * along[:, None, 0])
    start = np.clip(at.min(axis=1), 0.0, length)
    end = np.clip(at.max(axis=1), 0.0, length)
    found = one[:, :1] + np.stack([start, end], axis=1)[..., None] * along[:, None]
    lies_along = (aside <= TOUCH_MM).all(axis=1)
    return found, lies_along & (end - start > LEAST_CONTACT_MM)


def touching_line(shape: Geometry, others: Sequence[Geometry]) -> Geometry:
    """Return the lines along which a shape touches any of some others."""
    contacts = find_contacts([shape, *others])
    return contacts.line(contacts.shape == 0)
