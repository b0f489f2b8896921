"""A pose of the picture that does not depend on how it is turned, mirrored or shifted.

Walking and fitting make many small choices by order: where a closed outline begins, which of two
equal costs is taken. Done in a pose that comes from the picture itself, they are the same choices
for a turned, mirrored or shifted picture, and so is the result.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.placement import Placement
from img2pour.plane.regionmap import IntArray


@dataclass(frozen=True)
class Pose:
    """How a picture is mirrored and turned: first left-right, then up-down, then x with y."""

    flips_x: bool
    flips_y: bool
    swaps: bool

    def view(self, image: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return a view of the image (H, W) or (H, W, 3) in this pose."""
        if self.flips_x:
            image = image[:, ::-1]
        if self.flips_y:
            image = image[::-1]
        if self.swaps:
            image = image.swapaxes(0, 1)
        return image

    def placement(self, width: float, height: float) -> Placement:
        """Return the placement from this pose back to a picture of this width and height."""
        x = np.array([-1.0, 0, width] if self.flips_x else [1.0, 0, 0])
        y = np.array([0, -1.0, height] if self.flips_y else [0, 1.0, 0])
        matrix = np.stack([x, y, np.array([0, 0, 1.0])])
        return Placement(matrix[:, [1, 0, 2]] if self.swaps else matrix)


def find_pose(labels: NDArray[np.uint8]) -> Pose:
    """Return the pose in which the longer tails of the edges lie towards +x and +y, x the longer.

    The places of all cracks between pixels are taken about their own mean: their third moment says
    which way each axis runs, the second ones (the third where those agree) which axis comes first.
    """
    rows, columns = _cracks_per_line(labels)
    x_spread, x_tail = _moments(columns)
    y_spread, y_tail = _moments(rows)
    longer = (y_spread, abs(y_tail)) > (x_spread, abs(x_tail))
    return Pose(x_tail < 0, y_tail < 0, longer)


def _cracks_per_line(labels: NDArray[np.uint8]) -> tuple[IntArray, IntArray]:
    """Return how many cracks lie on each half row and half column, (2H - 1,) and (2W - 1,)."""
    height, width = labels.shape
    rows, columns = np.zeros(2 * height - 1, np.int64), np.zeros(2 * width - 1, np.int64)
    for row, column in ((1, 0), (0, 1)):
        cracks = labels[row:, column:] != labels[: height - row, : width - column]
        y, x = np.divmod(np.flatnonzero(cracks), width - column)
        rows += np.bincount(2 * y + row, minlength=len(rows))
        columns += np.bincount(2 * x + column, minlength=len(columns))
    return rows, columns


def _moments(counts: IntArray) -> tuple[int, int]:
    """Return the second and third moment of places about their mean, times n^2 and n^3: exact."""
    used = np.flatnonzero(counts)
    many, place = counts[used], used - len(counts) // 2
    n, total, squares, cubes = _power_sums(many, place)
    second = n * n * squares - n * total**2
    third = n**3 * cubes - 3 * n * n * total * squares + 2 * n * total**3
    return second, third


def _power_sums(many: IntArray, place: IntArray) -> tuple[int, int, int, int]:
    """Return the sums of many x place^k for k = 0 to 3; in Python's numbers where 64 bits end."""
    farthest = int(np.abs(place).max(initial=0))
    if int(many.sum()) * farthest**3 >= 1 << 63:
        many, place = many.astype(object), place.astype(object)
    powers = (many, many * place, many * place**2, many * place**3)
    n, total, squares, cubes = (int(power.sum()) for power in powers)
    return n, total, squares, cubes
