"""Published sizes of sheets and cards, and what a sheet's proportions say."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError

_INCH_MM = 25.4

# Shorter side first. ISO 216:2007 (A sizes), the US sheets in inches, ISO/IEC 7810 (ID-1 card).
SHEET_SIZES_MM: dict[str, tuple[float, float]] = {
    "a2": (420.0, 594.0),
    "a3": (297.0, 420.0),
    "a4": (210.0, 297.0),
    "a5": (148.0, 210.0),
    "letter": (8.5 * _INCH_MM, 11 * _INCH_MM),
    "legal": (8.5 * _INCH_MM, 14 * _INCH_MM),
    "tabloid": (11 * _INCH_MM, 17 * _INCH_MM),
}
CARD_MM = (53.98, 85.60)

# What a photo alone can decide: all A sizes share one proportion, so A4 stands for them.
TOLD_BY_PROPORTION = ("a4", "letter", "legal", "tabloid")
# Half of the gap between A4 (1.414) and letter (1.294), relative: beyond it no name is given.
NAMING_TOLERANCE = 0.04


@dataclass(frozen=True)
class Proportion:
    """Longer over shorter side of a sheet, as seen through the perspective.

    Attributes
    ----------
    ratio : float
        Width over height of the sheet as it stands in the upright picture.
    spread : float
        Half of the range that the unknown focal length leaves open, relative.
    focal_px : float
        The focal length it was computed with, in pixels.
    """

    ratio: float
    spread: float
    focal_px: float


def sheet_size(name: str, *, landscape: bool) -> tuple[float, float]:
    """Return width and height in mm of a sheet by name.

    Raises
    ------
    SettingsError
        When the name is not a known sheet.
    """
    key = name.strip().lower()
    if key not in SHEET_SIZES_MM:
        known = ", ".join(SHEET_SIZES_MM)
        raise SettingsError(f"unknown sheet '{name}': use one of {known}", name="sheet", value=name)
    short, long = SHEET_SIZES_MM[key]
    return (long, short) if landscape else (short, long)


def sheet_by_proportion(ratio: float) -> str | None:
    """Return the sheet whose proportion lies nearest to `ratio` (width over height), or None."""
    longer = max(ratio, 1 / ratio)
    gaps = {
        name: abs(np.log(longer * SHEET_SIZES_MM[name][0] / SHEET_SIZES_MM[name][1]))
        for name in TOLD_BY_PROPORTION
    }
    best = min(gaps, key=lambda name: gaps[name])
    return best if gaps[best] <= NAMING_TOLERANCE else None


def unit_square_homography(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the 3x3 matrix that takes the unit square's corners to `corners` (4, 2)."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float64)
    rows = []
    for (u, v), (x, y) in zip(square, corners, strict=True):
        rows.append([u, v, 1, 0, 0, 0, -u * x, -v * x])
        rows.append([0, 0, 0, u, v, 1, -u * y, -v * y])
    solved = np.linalg.solve(np.array(rows), np.asarray(corners, np.float64).reshape(8))
    return np.append(solved, 1.0).reshape(3, 3)


def sheet_proportion(corners: NDArray[np.float64], frame_px: tuple[int, int]) -> Proportion:
    """Return width over height of the rectangle that is seen as `corners`.

    The columns of the homography are perpendicular in space, which gives the focal length when the
    perspective is strong enough (Zhang, "A flexible new technique for camera calibration", 2000,
    eq. 3); else a phone's usual range stands in, and the spread says what that leaves open.

    Parameters
    ----------
    corners : (4, 2) float64
        Upper left, upper right, lower right, lower left, in pixels without lens bulge.
    frame_px : (width, height)
        Of the whole photo, whose middle is taken as the principal point.
    """
    long_side = float(max(frame_px))
    matrix = unit_square_homography(corners - np.array(frame_px) / 2)
    across, down = matrix[:, 0], matrix[:, 1]
    slant = across[2] * down[2]
    focal2 = -(across[0] * down[0] + across[1] * down[1]) / slant if abs(slant) > 1e-12 else -1.0
    # Both vanishing points near: the focal length follows from the picture.
    reach = min(abs(across[2]), abs(down[2]))
    usual = (0.65 * long_side, 1.1 * long_side)
    if reach > 0.08 and 0.4 * long_side < np.sqrt(max(focal2, 0.0)) < 2.5 * long_side:
        focal = float(np.sqrt(focal2))
        span = (focal * 0.93, focal * 1.07)
    else:
        focal, span = float(np.sqrt(usual[0] * usual[1])), usual
    low, middle, high = (_ratio_at(across, down, f) for f in (span[0], focal, span[1]))
    return Proportion(middle, abs(high - low) / (2 * middle), focal)


def _ratio_at(across: NDArray[np.float64], down: NDArray[np.float64], focal: float) -> float:
    scale = np.array([1 / focal, 1 / focal, 1.0])
    return float(np.linalg.norm(across * scale) / np.linalg.norm(down * scale))
