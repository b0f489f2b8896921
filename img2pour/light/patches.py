"""Cuts a reduced picture into smooth patches and measures the colour step from each to the next.

Within a patch only the light varies. Across a border between patches either the drawn colour steps
or a hard shadow begins; the light itself is the same on both sides of a drawn edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.light.srgb import channel_max, log_light_of

# An edge is a change over two pixels of more than this many levels, plus three times the usual.
_EDGE_LEVELS = 6.0
_MIN_PATCH_PX = 20
_MIN_FOREIGN_PX = 60
MAX_PATCHES = 320
# Dark strokes up to this width, in reduced pixels, are no patches: 2 mm on a sheet of 300 mm.
STROKE_PX = 7
# A border counts when this many pixel pairs share it and no side is farther off than this.
_MIN_BORDER_PAIRS = 6
_MAX_GAP_PX = 9.0


@dataclass(frozen=True, eq=False)
class Border:
    """Where patches `one` and `two` meet.

    Attributes
    ----------
    step : (3,) float64
        Typical log of linear light of `two` minus that of `one`, a channel.
    trust : (3,) float64
        How far each channel's step can be believed, 0 (too dark on one side) to 1.
    spread : float
        Median deviation from it.
    length : int
        Pixel pairs along it.
    """

    one: int
    two: int
    step: NDArray[np.float64]
    trust: NDArray[np.float64]
    spread: float
    length: int

    def is_like(self, step: NDArray[np.float64], tolerance: float) -> bool:
        """Return whether the step, from one to two, is the given one (3,)."""
        return bool(np.max(self.trust * np.abs(self.step - step)) < tolerance)


def trust_in(log_light: NDArray[Any]) -> NDArray[Any]:
    """Return how far logs of linear light can be believed: half at 1.8 % light, little below."""
    trust: NDArray[Any] = 1 / (1 + np.exp(-2 * (log_light + 4.0)))
    return trust


@dataclass(frozen=True, eq=False)
class Patches:
    """Smooth patches of a reduced picture.

    Attributes
    ----------
    log_light : (H, W, 3) float32
        Log of linear light.
    core : (H, W) bool
        Pixels away from all edges.
    label : (H, W) int32
        Patch of each pixel: 0 .. count - 1; edge pixels belong to the nearest patch.
    areas : (count,) int64
        Core pixels.
    borders : tuple of Border
    """

    log_light: NDArray[np.float32]
    core: NDArray[np.bool_]
    label: NDArray[np.int32]
    areas: NDArray[np.int64]
    borders: tuple[Border, ...]

    @property
    def count(self) -> int:
        """How many patches there are."""
        return len(self.areas)


def find_patches(small: NDArray[np.uint8], ignore: NDArray[np.bool_] | None) -> Patches | None:
    """Return the patches of a reduced picture (H, W, 3), or None when it is all edges.

    Parameters
    ----------
    ignore : (H, W) bool or None
        Pixels that belong to no patch.
    """
    small = without_strokes(small, STROKE_PX)
    core = _edge_strength(small) <= _edge_threshold(small)
    if ignore is not None:
        core &= ~ignore
    return _from_labels(log_light_of(small), _label_cores(core))


def split_patches(patches: Patches, foreign: NDArray[np.bool_]) -> Patches | None:
    """Return the patches with their `foreign` pixels cut off, or None when there are too few.

    A pale colour that runs into the paper through a weak spot of its edge is parted that way.
    """
    kernel = np.ones((3, 3), np.uint8)
    cut = cv2.morphologyEx((foreign & patches.core).astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0
    if cut.sum() < _MIN_FOREIGN_PX:
        return None
    rim = cv2.dilate(cut.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    rest = np.where(patches.core & ~rim, patches.label, -1)
    parts = [_label_cores(cut)]
    for name in np.unique(patches.label[cut]):
        parts.append(_label_cores(rest == name))
        rest[rest == name] = -1
    untouched = np.unique(rest[rest >= 0])
    label = np.full(rest.shape, -1, np.int32)
    count = 0
    for part in parts:
        label = np.where(part >= 0, part + count, label)
        count = int(label.max()) + 1
    for name in untouched:
        label[rest == name] = count
        count += 1
    return _from_labels(patches.log_light, _largest_first(label))


def _largest_first(label: NDArray[np.int32]) -> NDArray[np.int32]:
    areas = np.bincount(label[label >= 0])
    order = np.argsort(-areas, kind="stable")[:MAX_PATCHES]
    order = order[areas[order] >= _MIN_PATCH_PX]
    renumber = np.full(len(areas) + 1, -1, np.int32)
    renumber[order] = np.arange(len(order), dtype=np.int32)
    return renumber[label]


def _from_labels(log_light: NDArray[np.float32], label: NDArray[np.int32]) -> Patches | None:
    """Return patches grown from labelled cores (-1 elsewhere), with their borders."""
    core = label >= 0
    if not core.any():
        return None
    areas = np.bincount(label[core]).astype(np.int64)
    nearest, distance = _nearest_core(core)
    grown = label.ravel()[nearest].reshape(label.shape)
    clean = _smoothed_inside(log_light, core)
    borders = _borders(clean, grown, nearest, distance)
    return Patches(log_light, core, grown, areas, borders)


def without_strokes(image: NDArray[np.uint8], width_px: int) -> NDArray[np.uint8]:
    """Return the picture with dark strokes narrower than `width_px` filled from beside them.

    Steps of light and of colour stay where they are: paper between pencil lines or hatching is one
    patch, and a shadow's edge runs on through them.
    """
    kernel = np.ones((width_px, width_px), np.uint8)
    # What the rim cuts goes on beyond it: a corner of shade there is no stroke.
    rim = (width_px,) * 4
    framed = cv2.copyMakeBorder(image, *rim, cv2.BORDER_REPLICATE)
    closed = cv2.morphologyEx(framed, cv2.MORPH_CLOSE, kernel)
    inside = slice(width_px, -width_px)
    return np.ascontiguousarray(closed[inside, inside], np.uint8)


def _edge_strength(small: NDArray[np.uint8]) -> NDArray[np.float32]:
    smooth = cv2.GaussianBlur(small, (0, 0), 0.8).astype(np.float32)
    kernel = np.array([[-1.0, 0.0, 1.0]], np.float32)
    across = cv2.filter2D(smooth, -1, kernel)
    down = cv2.filter2D(smooth, -1, kernel.T)
    return np.asarray(np.sqrt(channel_max(across**2 + down**2)), np.float32)


def _edge_threshold(small: NDArray[np.uint8]) -> float:
    return _EDGE_LEVELS + 3 * float(np.median(_edge_strength(small)[::2, ::2]))


def _label_cores(core: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Return labels (-1 outside) of the largest connected patches, the largest first."""
    _, label = cv2.connectedComponents(core.astype(np.uint8), connectivity=4)
    return _largest_first(np.asarray(label - 1, np.int32))


def _nearest_core(core: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Return for each pixel the flat index of the nearest core pixel (H*W,), and how far it is."""
    distance, spot = cv2.distanceTransformWithLabels(
        (~core).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    index = np.zeros(int(spot.max()) + 1, np.intp)
    flat = np.flatnonzero(core)
    index[spot.ravel()[flat]] = flat
    return index[spot.ravel()], np.asarray(distance, np.float32)


def _smoothed_inside(
    values: NDArray[np.float32], mask: NDArray[np.bool_], sigma: float = 1.5
) -> NDArray[np.float32]:
    """Return values smoothed without anything from outside the mask."""
    weight = mask.astype(np.float32)
    total = cv2.GaussianBlur(values * weight[..., None], (0, 0), sigma)
    share = cv2.GaussianBlur(weight, (0, 0), sigma)
    return np.asarray(total / np.maximum(share, 1e-3)[..., None], np.float32)


def _borders(
    clean: NDArray[np.float32],
    grown: NDArray[np.int32],
    nearest: NDArray[np.intp],
    distance: NDArray[np.float32],
) -> tuple[Border, ...]:
    flat = np.arange(grown.size).reshape(grown.shape)
    firsts = np.concatenate([flat[:, :-1].ravel(), flat[:-1].ravel()])
    seconds = np.concatenate([flat[:, 1:].ravel(), flat[1:].ravel()])
    labels, far = grown.ravel(), distance.ravel()
    meet = labels[firsts] != labels[seconds]
    meet &= (far[firsts] < _MAX_GAP_PX) & (far[seconds] < _MAX_GAP_PX)
    firsts, seconds = firsts[meet], seconds[meet]
    swap = labels[firsts] > labels[seconds]
    firsts, seconds = np.where(swap, seconds, firsts), np.where(swap, firsts, seconds)
    colours = clean.reshape(-1, 3).astype(np.float64)
    steps = colours[nearest[seconds]] - colours[nearest[firsts]]
    key = labels[firsts].astype(np.int64) * (1 << 20) + labels[seconds]
    order = np.argsort(key, kind="stable")
    edges = np.flatnonzero(np.diff(key[order])) + 1
    found = []
    for group in np.split(order, edges):
        if len(group) < _MIN_BORDER_PAIRS:
            continue
        step = np.median(steps[group], axis=0)
        spread = float(np.median(np.abs(steps[group] - step)))
        one, two = int(labels[firsts[group[0]]]), int(labels[seconds[group[0]]])
        darker = np.minimum(colours[nearest[seconds[group]]], colours[nearest[firsts[group]]])
        trust = trust_in(np.median(darker, axis=0))
        found.append(Border(one, two, step, trust, spread, len(group)))
    return tuple(found)


def patch_ranges(patches: Patches) -> NDArray[np.float64]:
    """Return by how much the light varies (natural log) within the three largest patches."""
    clean = _smoothed_inside(patches.log_light, patches.core, 3.0).mean(axis=2)
    inner = patches.core & (cv2.blur(patches.core.astype(np.float32), (7, 7)) > 0.99)
    ranges = []
    for patch in range(min(3, patches.count)):
        values = clean[inner & (patches.label == patch)]
        low, high = np.percentile(values, [2, 98]) if values.size else (0.0, 0.0)
        ranges.append(float(high - low))
    return np.array(ranges)
