"""The areas that lines enclose, and which of them are only gaps between hatching strokes."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

# A slit is narrower than this many line widths at its widest; hatching makes many of them.
_SLIT_WIDTHS = 2.2
# A cell smaller than this many squares of the line width is the pocket of a spur or a bridge.
_CRUMB_WIDTHS = 4.0
# Slits are only hatching when several lie side by side.
_FEWEST_SLITS = 3
# Slits lie side by side along this share of their length; across an outline only ends meet.
_BESIDE_SHARE = 0.5


@dataclass(frozen=True, eq=False)
class CellMap:
    """Enclosed areas of the reduced picture.

    Attributes
    ----------
    label : (h, w) int32
        0 on lines, 1 .. count in cells.
    count : int
    """

    label: NDArray[np.int32]
    count: int


def find_cells(closed: NDArray[np.uint8], depth: NDArray[np.float32], width_px: float) -> CellMap:
    """Return the cells between thinned, bridged lines (h, w) of 0/1.

    Parameters
    ----------
    depth : (h, w) float32
        How dark the lines are; hatching is told from outlines by it.
    width_px : float
        Usual line width in reduced pixels.
    """
    free = (closed == 0).astype(np.uint8)
    _, label = cv2.connectedComponents(free, connectivity=4)
    label = np.asarray(label, np.int32)
    for _ in range(4):
        groups = _merged_slits(label, depth, width_px)
        if groups is None:
            break
        label = _joined(label, groups)
    label = _without_crumbs(label, _CRUMB_WIDTHS * max(width_px, 2.0) ** 2)
    return _renumbered(label)


def _widest(label: NDArray[np.int32]) -> NDArray[np.float64]:
    """Return the width of the largest disc in each cell."""
    distance = cv2.distanceTransform((label > 0).astype(np.uint8), cv2.DIST_L2, 5)
    widest = np.zeros(int(label.max()) + 1)
    np.maximum.at(widest, label.ravel(), distance.ravel().astype(np.float64))
    return 2 * widest


def _line_between(
    label: NDArray[np.int32], depth: NDArray[np.float32]
) -> dict[tuple[int, int], tuple[int, float]]:
    """Return, for pairs of cells on both sides of a line, its length and its usual darkness."""
    spread = label.copy()
    # Lines are one pixel wide: the largest and the smallest label around tell both sides.
    kernel = np.ones((3, 3), np.uint8)
    high = cv2.dilate(spread.astype(np.float32), kernel)
    low = cv2.erode(np.where(spread > 0, spread, 1 << 22).astype(np.float32), kernel)
    on_line = (label == 0) & (high > low) & (low > 0)
    ridge = cv2.dilate(depth, kernel)
    pairs: dict[tuple[int, int], tuple[int, float]] = {}
    one, two, dark = low[on_line].astype(int), high[on_line].astype(int), ridge[on_line]
    key = one.astype(np.int64) * (1 << 24) + two
    order = np.argsort(key, kind="stable")
    for group in np.split(order, np.flatnonzero(np.diff(key[order])) + 1):
        if len(group):
            pair = (int(one[group[0]]), int(two[group[0]]))
            pairs[pair] = (len(group), float(np.median(dark[group])))
    return pairs


def _merged_slits(
    label: NDArray[np.int32], depth: NDArray[np.float32], width_px: float
) -> NDArray[np.int32] | None:
    """Return the new label of each cell once slits side by side are joined, or None if none are.

    Slits that neighbour each other are one hatched area. It goes to the cell it shares its weakest
    line with: a hatching stroke is lighter, or as dark and longer, than the outline around it.
    """
    slit = _widest(label) < _SLIT_WIDTHS * max(width_px, 2.0)
    slit[0] = False
    pairs = _line_between(label, depth)
    group = np.arange(len(slit), dtype=np.int32)
    lengths = np.bincount(label.ravel(), minlength=len(slit)) / np.maximum(_widest(label), 1.0)
    for (one, two), (length, _) in sorted(pairs.items()):
        side_by_side = length > _BESIDE_SHARE * min(lengths[one], lengths[two])
        if slit[one] and slit[two] and side_by_side:
            group = np.where(group == group[two], group[one], group)
    members = np.bincount(group[slit.nonzero()[0]], minlength=len(slit))
    hatched = np.flatnonzero(members >= _FEWEST_SLITS).tolist()
    if not hatched:
        return None
    for name in hatched:
        best, best_weight = None, np.inf
        for (one, two), (length, dark) in sorted(pairs.items()):
            sides = (group[one] == name, group[two] == name)
            if sides[0] == sides[1]:
                continue
            other = two if sides[0] else one
            weight = dark - 0.02 * length
            if weight < best_weight and not slit[other]:
                best, best_weight = other, weight
        if best is not None:
            group = np.where(group == name, group[best], group)
    return group.astype(np.int32)


def _joined(label: NDArray[np.int32], groups: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return labels renamed by groups, with the lines inside each group taken away."""
    renamed = groups[label]
    renamed[label == 0] = 0
    kernel = np.ones((3, 3), np.uint8)
    high = cv2.dilate(renamed.astype(np.float32), kernel)
    low = cv2.erode(np.where(renamed > 0, renamed, 1 << 22).astype(np.float32), kernel)
    inner = (renamed == 0) & (high == low)
    # Only lines that parted members of one group; a line that ends free in a cell stays.
    before_high = cv2.dilate(label.astype(np.float32), kernel)
    before_low = cv2.erode(np.where(label > 0, label, 1 << 22).astype(np.float32), kernel)
    inner &= before_high > before_low
    renamed[inner] = high[inner].astype(np.int32)
    return np.asarray(renamed, np.int32)


def _without_crumbs(label: NDArray[np.int32], smallest_px2: float) -> NDArray[np.int32]:
    areas = np.bincount(label.ravel())
    crumb = areas < smallest_px2
    crumb[0] = False
    cleaned = label.copy()
    cleaned[crumb[label]] = 0
    return cleaned


def _renumbered(label: NDArray[np.int32]) -> CellMap:
    """Return the cells numbered 1 upwards, in the order in which a scan by rows meets them."""
    names = np.unique(label[label > 0])
    new = np.zeros(int(label.max()) + 1, np.int32)
    new[names] = np.arange(1, len(names) + 1, dtype=np.int32)
    return CellMap(new[label], len(names))


def spread_to_middle(
    cells: CellMap, lines: NDArray[np.bool_], full: tuple[int, int]
) -> NDArray[np.int32]:
    """Return the cell of each pixel at full size (H, W), borders along the middle of the lines.

    First each pixel off the lines takes the nearest sure cell, then each line pixel the nearest
    pixel off the lines: both sides of a line are equally far from its middle.
    """
    height, width = full
    sure = cv2.erode(np.where(cells.label > 0, 1, 0).astype(np.uint8), np.ones((3, 3), np.uint8))
    core = np.where(sure > 0, cells.label, 0).astype(np.float32)
    if not core.any():
        core = cells.label.astype(np.float32)
    seeds = cv2.resize(core, (width, height), interpolation=cv2.INTER_NEAREST).astype(np.int32)
    seeds[lines] = 0
    off_lines = _nearest_label(seeds)
    off_lines[lines] = 0
    return _nearest_label(off_lines)


def _nearest_label(seeds: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return for each pixel the label of the nearest pixel that has one."""
    empty = (seeds == 0).astype(np.uint8)
    if empty.all():
        return seeds
    _, spot = cv2.distanceTransformWithLabels(
        empty, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    spot, flat, filled = spot.ravel(), seeds.ravel(), seeds.ravel().copy()
    # What lies nearest to an empty pixel touches one itself.
    rim = cv2.dilate(empty, np.ones((3, 3), np.uint8)) - empty
    known, missing = np.flatnonzero(rim), np.flatnonzero(empty)
    table = np.zeros(int(spot.max()) + 1, np.int32)
    table[spot[known]] = flat[known]
    filled[missing] = table[spot[missing]]
    return np.asarray(filled.reshape(seeds.shape), np.int32)
