"""Scale from something of known size: two points and a length, or a bank card beside the sheet."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.straighten.lens import Lens
from img2pour.straighten.sheets import CARD_MM
from img2pour.straighten.sides import fit_sides
from img2pour.straighten.warp import project

# Longer over shorter side of an ID-1 card, and how far a seen card may be off.
_CARD_RATIO = CARD_MM[1] / CARD_MM[0]
_CARD_TOLERANCE = 0.04
_REDUCED_PX = 1200


def mm_per_px_between(
    one_px: tuple[float, float],
    two_px: tuple[float, float],
    length_mm: float,
    matrix: NDArray[np.float64],
    lens: Lens | None = None,
) -> float:
    """Return millimetres a pixel of the straightened picture from two points and their distance.

    Parameters
    ----------
    one_px, two_px : (x, y)
        In upright input pixels, as a person reads them off the photo.
    length_mm : float
        Their distance on the sheet, above zero.
    matrix, lens
        Of the `Straightened` picture.

    Raises
    ------
    SettingsError
        When the points are less than 5 px apart or the length is not above zero.
    """
    if not length_mm > 0:
        raise SettingsError(
            f"the measured length is {length_mm:g} mm: it must be above zero",
            name="measure",
            value=length_mm,
        )
    seen = np.array([one_px, two_px], np.float64)
    ends = project(matrix, lens.straight(seen) if lens else seen)
    apart = float(np.linalg.norm(ends[1] - ends[0]))
    if not apart >= 5:
        raise SettingsError(
            f"the two measured points are {apart:.1f} px apart: choose points farther apart",
            name="measure",
            value=apart,
        )
    return length_mm / apart


def find_card(
    rgb: NDArray[np.uint8],
    matrix: NDArray[np.float64],
    lens: Lens | None,
    sheet_px: NDArray[np.float64],
) -> float | None:
    """Return millimetres a pixel of the straightened picture from an ID-1 card beside the sheet.

    Parameters
    ----------
    rgb : (H, W, 3) uint8
        The whole photo.
    matrix, lens
        From photo to straightened picture: the card lies in the plane of the sheet.
    sheet_px : (4, 2) float64
        The sheet's corners in the photo; a card is sought outside it only.

    Returns
    -------
    float or None
        None when no shape outside the sheet has a card's proportion, or when several that differ
        in size have.
    """
    scale = max(1.0, max(rgb.shape[:2]) / _REDUCED_PX)
    size = (round(rgb.shape[1] / scale), round(rgb.shape[0] / scale))
    small = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
    found: list[float] = []
    for rough in _box_shapes(small, sheet_px / scale):
        measured = _card_scale(rgb, rough * scale, scale, matrix, lens)
        if measured is not None:
            found.append(measured)
    if not found or max(found) > 1.03 * min(found):
        return None
    return float(np.median(found))


def _box_shapes(small: NDArray[np.uint8], sheet: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return rough corners (4, 2) of box-like shapes outside the sheet."""
    outside = np.full(small.shape[:2], 255, np.uint8)
    cv2.fillConvexPoly(outside, np.rint(sheet).astype(np.int32), 0)
    free = np.asarray(cv2.erode(outside, np.ones((5, 5), np.uint8)), np.uint8) > 0
    smooth = cv2.bilateralFilter(small, 7, 30, 5)
    shapes: list[NDArray[np.float64]] = []
    for channel in cv2.split(cv2.cvtColor(smooth, cv2.COLOR_RGB2Lab)):
        for level in np.unique(np.percentile(channel[free], np.arange(10, 100, 8))):
            for is_above in (True, False):
                mask = (channel > level) if is_above else (channel <= level)
                shapes += _boxes_in((mask & free).astype(np.uint8))
    return _distinct(shapes)


def _boxes_in(mask: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    boxes = []
    contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    for contour in contours:
        area = cv2.contourArea(contour)
        if area < 0.002 * mask.size:
            continue
        (width, height), box = cv2.minAreaRect(contour)[1], cv2.boxPoints(cv2.minAreaRect(contour))
        if area > 0.85 * width * height and 1.1 < max(width, height) / min(width, height) < 2.4:
            hull = cv2.convexHull(contour).reshape(-1, 2)
            boxes.append(_nearest_corners(hull.astype(np.float64), box.astype(np.float64)))
    return boxes


def _nearest_corners(hull: NDArray[np.float64], box: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the tilted box with each corner moved halfway to the hull's own, clockwise."""
    middle = box.mean(axis=0)
    corners = box + 0.5
    spread = corners - middle
    order = np.argsort(np.arctan2(spread[:, 1], spread[:, 0]), kind="stable")
    reach = np.array([hull[np.argmin(np.sum((hull - c) ** 2, axis=1))] + 0.5 for c in corners])
    moved: NDArray[np.float64] = ((corners + reach) / 2)[order]
    return moved


def _distinct(shapes: list[NDArray[np.float64]]) -> list[NDArray[np.float64]]:
    kept: list[NDArray[np.float64]] = []
    for shape in shapes:
        if all(np.abs(shape.mean(0) - other.mean(0)).max() > 6 for other in kept):
            kept.append(shape)
    return kept[:12]


def _card_scale(
    rgb: NDArray[np.uint8],
    rough: NDArray[np.float64],
    scale: float,
    matrix: NDArray[np.float64],
    lens: Lens | None,
) -> float | None:
    """Return mm a pixel when the shape, fitted at full size, has a card's proportion."""
    best = max(
        (fit_sides(rgb, rough, 5 * scale, bright) for bright in (True, False)),
        key=lambda sides: float(sides.inliers.min() * np.isfinite(sides.corners).all()),
    )
    if best.inliers.min() < 0.75 or not np.all(np.isfinite(best.corners)):
        return None
    flat = project(matrix, lens.straight(best.corners) if lens else best.corners)
    edges = np.linalg.norm(np.roll(flat, -1, axis=0) - flat, axis=1)
    pairs = np.sort([(edges[0] + edges[2]) / 2, (edges[1] + edges[3]) / 2])
    if abs(pairs[1] / pairs[0] / _CARD_RATIO - 1) > _CARD_TOLERANCE:
        return None
    return float(np.sqrt(CARD_MM[0] * CARD_MM[1] / (pairs[0] * pairs[1])))
