"""Placing a map that was made in pixels on the board: one matrix, nothing else."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, RegionMap


@dataclass(frozen=True, eq=False)
class Placement:
    """A similarity from one plane to another.

    Attributes
    ----------
    matrix : (3, 3) float64
        Acts on columns (x, y, 1). Scale, turn, shift and mirror only, so that arcs stay arcs.
    """

    matrix: NDArray[np.float64]

    @property
    def scale(self) -> float:
        """Length in the target for a length of 1 in the source (mm per px)."""
        return float(np.sqrt(abs(np.linalg.det(self.matrix[:2, :2]))))

    @property
    def mirrors(self) -> bool:
        """True when left and right change places, as between y down and y up."""
        return bool(np.linalg.det(self.matrix[:2, :2]) < 0)

    def apply(self, points: FloatArray) -> FloatArray:
        """Return the points (n, 2) moved by the matrix."""
        return points @ self.matrix[:2, :2].T + self.matrix[:2, 2]

    def inverse(self) -> Placement:
        """Return the placement that undoes this one."""
        inverse: FloatArray = np.linalg.inv(self.matrix).astype(np.float64)
        return Placement(inverse)


def picture_placement(
    height_px: float, mm_per_px: float, *, left_mm: float = 0.0, bottom_mm: float = 0.0
) -> Placement:
    """Return the placement of an upright picture on the board.

    Parameters
    ----------
    height_px : float
        Height of the picture; row 0 is at its top.
    mm_per_px : float
        Scale.
    left_mm, bottom_mm : float
        Where the picture's lower-left corner comes to lie.
    """
    top_mm = bottom_mm + height_px * mm_per_px
    return Placement(np.array([[mm_per_px, 0, left_mm], [0, -mm_per_px, top_mm], [0, 0, 1.0]]))


def place(region_map: RegionMap, placement: Placement) -> RegionMap:
    """Return `region_map` moved by `placement`; the same faces, arcs and order."""
    corners = np.array(region_map.bounds, dtype=np.float64).reshape(2, 2)
    low, high = np.sort(placement.apply(corners), axis=0)
    moved = replace(
        region_map,
        vertices=placement.apply(region_map.vertices),
        bounds=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
    )
    return _reverse_arcs(moved) if placement.mirrors else moved


def _reverse_arcs(mirrored: RegionMap) -> RegionMap:
    """Turn every arc around, so that left is left again after a mirror.

    Mirroring flips the sign of a bulge and so does walking backwards: the values stay, in reverse
    order. Rings are walked the other way, so what followed a half-edge now precedes it.
    """
    offsets = mirrored.arc_offsets
    arc_of = np.repeat(np.arange(mirrored.arc_count), np.diff(offsets))
    backwards = offsets[arc_of] + offsets[arc_of + 1] - 1 - np.arange(len(arc_of))
    bulges = np.zeros(len(arc_of))
    inner = np.ones(len(arc_of), bool)
    inner[offsets[1:] - 1] = False
    bulges[inner] = mirrored.bulges[backwards[inner] - 1]
    before = np.empty_like(mirrored.next_half)
    before[mirrored.next_half] = np.arange(len(before))
    return replace(
        mirrored,
        vertices=mirrored.vertices[backwards],
        bulges=bulges,
        arc_nodes=mirrored.arc_nodes[:, ::-1],
        next_half=before,
    )
