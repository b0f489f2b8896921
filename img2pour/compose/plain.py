"""Plain shapes as exact outlines, centred on the origin, in millimetres."""

from __future__ import annotations

import numpy as np

from img2pour.errors import SettingsError
from img2pour.plane.overlay import Outline
from img2pour.plane.regionmap import FloatArray

QUARTER_BULGE = float(np.tan(np.pi / 8))
"""Bulge of a quarter circle."""

LEAST_CORNERS, MOST_CORNERS = 3, 1000


def rectangle(width_mm: float, height_mm: float, corner_mm: float = 0.0) -> Outline:
    """Return a rectangle, its corners rounded by `corner_mm`.

    Raises
    ------
    SettingsError
        When a side is not above 0, or the rounding is more than half of it.
    """
    _need_positive(width=width_mm, height=height_mm)
    if not 0 <= corner_mm <= min(width_mm, height_mm) / 2 + 1e-9:
        raise SettingsError(
            f"corners rounded by {corner_mm:g} mm do not fit a rectangle of {width_mm:g} x "
            f"{height_mm:g} mm; give at most {min(width_mm, height_mm) / 2:g} mm",
            name="corner",
            value=corner_mm,
        )
    x, y = width_mm / 2, height_mm / 2
    corners = np.array([[x, -y], [x, y], [-x, y], [-x, -y]])
    if corner_mm == 0:
        return corners, np.zeros(4)
    # Each corner: where its arc begins, and where it ends.
    arriving = np.array([[1, 0], [0, 1], [-1, 0], [0, -1.0]])
    points = np.stack(
        [corners - corner_mm * arriving, corners + corner_mm * np.roll(arriving, -1, axis=0)],
        axis=1,
    ).reshape(-1, 2)
    bulges = np.tile([QUARTER_BULGE, 0.0], 4)
    length = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    return points[length > 1e-9], bulges[length > 1e-9]


def disc(diameter_mm: float) -> Outline:
    """Return a circle: two half circles."""
    _need_positive(diameter=diameter_mm)
    return np.array([[-diameter_mm / 2, 0], [diameter_mm / 2, 0]]), np.ones(2)


def ring(diameter_mm: float, band_mm: float) -> tuple[Outline, Outline]:
    """Return the outlines of a ring: the circle outside, and the one inside turned the other way.

    Raises
    ------
    SettingsError
        When the band is not narrower than the radius.
    """
    _need_positive(diameter=diameter_mm, band=band_mm)
    _need_room(band_mm, diameter_mm)
    return disc(diameter_mm), _backwards(disc(diameter_mm - 2 * band_mm))


def polygon(corners: int, diameter_mm: float) -> Outline:
    """Return a regular polygon with its corners on a circle, one corner at the top."""
    _need_positive(diameter=diameter_mm)
    _need_corners(corners)
    return _spokes(np.full(corners, diameter_mm / 2)), np.zeros(corners)


def star(points: int, diameter_mm: float, inner_share: float | None = None) -> Outline:
    """Return a star with its points on a circle, one point at the top.

    Parameters
    ----------
    points : int
    diameter_mm : float
    inner_share : float, optional
        Radius of the notches as a share of the points' radius, between 0 and 1. Without it the
        sides of five or more points run on straight: cos(2 pi / n) / cos(pi / n), or a half for
        fewer.
    """
    _need_positive(diameter=diameter_mm)
    _need_corners(points)
    if inner_share is None:
        inner_share = np.cos(2 * np.pi / points) / np.cos(np.pi / points) if points >= 5 else 0.5
    if not 0 < inner_share < 1:
        raise SettingsError(
            f"the notches of a star lie at {inner_share:g} of its radius; give a share between "
            "0 and 1",
            name="inner",
            value=inner_share,
        )
    radii = diameter_mm / 2 * np.tile([1.0, inner_share], points)
    return _spokes(radii), np.zeros(2 * points)


def border(
    width_mm: float, height_mm: float, band_mm: float, corner_mm: float = 0.0
) -> tuple[Outline, Outline]:
    """Return the outlines of a frame of even width; the inner corners follow the outer ones.

    Raises
    ------
    SettingsError
        When the band leaves nothing inside.
    """
    _need_positive(band=band_mm)
    outer = rectangle(width_mm, height_mm, corner_mm)
    _need_room(band_mm, min(width_mm, height_mm))
    inner = rectangle(
        width_mm - 2 * band_mm, height_mm - 2 * band_mm, max(0.0, corner_mm - band_mm)
    )
    return outer, _backwards(inner)


def _backwards(outline: Outline) -> Outline:
    """Return an outline walked the other way."""
    vertices, bulges = outline
    return vertices[::-1].copy(), -np.roll(bulges[::-1], -1)


def _spokes(radii: FloatArray) -> FloatArray:
    angles = np.pi / 2 + 2 * np.pi * np.arange(len(radii)) / len(radii)
    return np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=1)


def _need_positive(**sizes_mm: float) -> None:
    for name, value in sizes_mm.items():
        if not (np.isfinite(value) and value > 0):
            raise SettingsError(f"{name} is {value:g} mm; give more than 0", name=name, value=value)


def _need_room(band_mm: float, across_mm: float) -> None:
    if 2 * band_mm >= across_mm:
        raise SettingsError(
            f"a band of {band_mm:g} mm leaves nothing inside {across_mm:g} mm; make it narrower",
            name="band",
            value=band_mm,
        )


def _need_corners(count: int) -> None:
    if not LEAST_CORNERS <= count <= MOST_CORNERS:
        raise SettingsError(
            f"{count} corners make no shape; give {LEAST_CORNERS} to {MOST_CORNERS}",
            name="points",
            value=count,
        )
