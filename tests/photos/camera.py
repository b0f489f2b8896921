"""A pinhole camera with a radial lens, over a sheet that lies on a table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class View:
    """How a sheet is seen.

    Attributes
    ----------
    size_px : (width, height) of the photo.
    sheet_to_px : (3, 3), millimetres on the sheet to pixels with the lens bulge taken out.
    bulge : k of ``undistorted = centre + (seen - centre) (1 + k rho^2)``, with rho the distance
        from the centre over half the diagonal.
    """

    size_px: tuple[int, int]
    sheet_to_px: np.ndarray
    bulge: float

    def undistorted(self, points: np.ndarray) -> np.ndarray:
        centre = np.array(self.size_px) / 2
        offset = points - centre
        rho2 = np.sum((offset / np.linalg.norm(centre)) ** 2, axis=-1, keepdims=True)
        return centre + offset * (1 + self.bulge * rho2)

    def seen(self, points: np.ndarray) -> np.ndarray:
        """Undo `undistorted`, by fixed-point steps."""
        guess = points.copy()
        for _ in range(30):
            guess = guess + points - self.undistorted(guess)
        return guess

    def sheet_points(self, seen_px: np.ndarray) -> np.ndarray:
        """Return where on the sheet (mm) each seen pixel position lies."""
        return project(np.linalg.inv(self.sheet_to_px), self.undistorted(seen_px))

    def photo_points(self, sheet_mm: np.ndarray) -> np.ndarray:
        return self.seen(project(self.sheet_to_px, sheet_mm))


def project(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Return points (..., 2) under a 3x3 homography."""
    x, y = points[..., 0], points[..., 1]
    weight = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    across = matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]
    down = matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]
    return np.stack([across / weight, down / weight], axis=-1)


def _rotation(axis: np.ndarray, angle: float) -> np.ndarray:
    """Rodrigues' formula."""
    x, y, z = axis / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross


def view_of_sheet(
    rng: np.random.Generator,
    sheet_mm: tuple[float, float],
    size_px: tuple[int, int],
    *,
    tilt_deg: float,
    bulge: float = 0.0,
    fill: float = 0.8,
) -> View:
    """Return a view in which the sheet, tilted, spans about `fill` of the frame."""
    width, height = size_px
    focal = rng.uniform(0.72, 0.95) * max(size_px)
    azimuth = rng.uniform(0, 2 * np.pi)
    roll = np.deg2rad(rng.uniform(-12, 12))
    if (sheet_mm[0] > sheet_mm[1]) != (width > height):
        roll += np.pi / 2
    tilt = _rotation(np.array([np.cos(azimuth), np.sin(azimuth), 0]), np.deg2rad(tilt_deg))
    turn = tilt @ _rotation(np.array([0.0, 0, 1]), roll)
    camera = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    centring = np.array([[1, 0, -sheet_mm[0] / 2], [0, 1, -sheet_mm[1] / 2], [0, 0, 1]])
    corners = np.array([[0, 0], [sheet_mm[0], 0], sheet_mm, [0, sheet_mm[1]]], float)
    distance = focal * max(sheet_mm) / max(size_px) / fill
    while True:
        pose = np.column_stack([turn[:, 0], turn[:, 1], [0, 0, distance]])
        matrix = camera @ pose @ centring
        box_px = project(matrix, corners)
        shift = np.array(size_px) / 2 - (box_px.min(0) + box_px.max(0)) / 2
        matrix = np.array([[1, 0, shift[0]], [0, 1, shift[1]], [0, 0, 1]]) @ matrix
        view = View(size_px, matrix / matrix[2, 2], bulge)
        spots = view.photo_points(corners)
        if np.all(spots > 0.03 * min(size_px)) and np.all(spots < np.array(size_px) * 0.97):
            return view
        distance *= 1.04
