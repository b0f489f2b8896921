"""Material left standing between pockets: walls too thin to stand, wood that stands alone.

The limits are common practice, without a published source; they can be edited.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from img2pour.carve.inscribed import FloatArray, Polygons, inscribed_circles
from img2pour.carve.medial import MedialAxis, medial_axis
from img2pour.carve.necks import (
    MARGIN_SHARE,
    PlaceKind,
    ThinPart,
    ThinPlace,
    describe,
    median_point,
    thin_parts,
)
from img2pour.errors import SettingsError

Beside = Literal["open", "filled", "resin"]

ALONG_DEG, ACROSS_DEG = 30.0, 60.0
"""Up to the first angle from the grain a wall counts as along, from the second as across it.

In between the limit rises evenly: a step would make every mitred corner flicker.
"""

TOUCH_MM = 1e-6


@dataclass(frozen=True)
class WallLimits:
    """How thin a wall may be, in mm. Common practice, no source.

    Attributes
    ----------
    along_mm : float
        Wood whose grain runs along the wall.
    across_mm : float
        Wood whose grain runs across it.
    beside_filled_mm : float
        Wood beside a pocket that is already filled.
    in_resin_mm : float
        Cured resin.
    grain_deg : float
        Direction of the grain from the x axis.
    least_slenderness : float
        Wood that stands alone has to be this share of its height thick.
    """

    along_mm: float = 1.5
    across_mm: float = 2.5
    beside_filled_mm: float = 1.0
    in_resin_mm: float = 0.8
    grain_deg: float = 0.0
    least_slenderness: float = 0.5

    def __post_init__(self) -> None:
        """Check the values.

        Raises
        ------
        SettingsError
            If a limit is not a positive size.
        """
        for name in ("along_mm", "across_mm", "beside_filled_mm", "in_resin_mm"):
            value = getattr(self, name)
            if not 0.0 < value < 1e4:
                raise SettingsError(
                    f"least wall {value:g} mm must be more than 0", name=name, value=value
                )

    def widest_mm(self, beside: Beside) -> float:
        """Return the largest limit that may apply."""
        if beside == "filled":
            return self.beside_filled_mm
        if beside == "resin":
            return self.in_resin_mm
        return max(self.along_mm, self.across_mm)

    def least_mm(self, direction_deg: FloatArray, beside: Beside) -> FloatArray:
        """Return the limit for walls that run in some directions, (N,) float64."""
        if beside != "open":
            return np.full(len(direction_deg), self.widest_mm(beside))
        turn = np.abs((direction_deg - self.grain_deg + 90.0) % 180.0 - 90.0)
        share = np.clip((turn - ALONG_DEG) / (ACROSS_DEG - ALONG_DEG), 0.0, 1.0)
        return self.along_mm + share * (self.across_mm - self.along_mm)


@dataclass(frozen=True)
class Wall:
    """A wall too thin to stand, or wood that stands alone.

    Attributes
    ----------
    kind : {"wall", "spur", "alone"}
        Between two pieces of sound wood; reaching out from one; a piece that touches none.
    region : int
        Index of the piece of wood.
    width_mm : float
        Of a wall where it falls short most, else its median.
    least_mm : float
        What it should be.
    length_mm : float
    at_mm : tuple of float
    across_grain : bool
    spine : tuple of ((x, y), (x, y))
        Where the thin part runs.
    """

    kind: Literal["wall", "spur", "alone"]
    region: int
    width_mm: float
    least_mm: float
    length_mm: float
    at_mm: tuple[float, float]
    across_grain: bool
    spine: tuple[tuple[tuple[float, float], tuple[float, float]], ...]


def thin_walls(material: Polygons, limits: WallLimits, beside: Beside = "open") -> tuple[Wall, ...]:
    """Return the walls that are too thin to stand.

    Parameters
    ----------
    material : (N,) object
        What stands between the pockets, at the finished face; polygons that share no edge.
    limits : WallLimits
    beside : {"open", "filled", "resin"}
        Wood between open pockets; wood beside a filled one; cured resin.

    Returns
    -------
    tuple of Wall
        By piece of material, then from left to right.
    """
    if len(material) == 0:
        return ()
    width = limits.widest_mm(beside)
    axis = medial_axis(material, width)
    least = limits.least_mm(_directions(axis), beside)
    walls = [
        _wall(describe(axis, part, point), float(least[point]), limits, beside)
        for part in thin_parts(axis, width)
        if 2.0 * axis.clearance_mm[point := _weakest(axis, part, least)]
        < least[point] * (1.0 - MARGIN_SHARE)
    ]
    return tuple(sorted(walls, key=lambda wall: (wall.region, wall.at_mm)))


def _directions(axis: MedialAxis) -> FloatArray:
    """Return the direction in which the wall runs at every point: at right angles to its width."""
    directions: FloatArray = np.degrees(np.arctan2(axis.across[:, 0], -axis.across[:, 1]))
    return directions


def _weakest(axis: MedialAxis, part: ThinPart, least: FloatArray) -> int:
    """Return the point of a wall that falls short most; of a spur or a post a typical one."""
    if part.kind == "neck":
        short = least[part.points] - 2.0 * axis.clearance_mm[part.points]
        return int(part.points[short.argmax()])
    return median_point(axis, part) if len(part.edges) else int(part.points[0])


_KINDS: dict[PlaceKind, Literal["wall", "spur", "alone"]] = {
    "neck": "wall",
    "end": "spur",
    "island": "alone",
}


def _wall(place: ThinPlace, least_mm: float, limits: WallLimits, beside: Beside) -> Wall:
    return Wall(
        kind=_KINDS[place.kind],
        region=place.polygon,
        width_mm=place.width_mm,
        least_mm=least_mm,
        length_mm=place.length_mm,
        at_mm=place.at_mm,
        across_grain=beside == "open" and 2.0 * least_mm > limits.along_mm + limits.across_mm,
        spine=place.spine,
    )


def standing_alone(
    wood: Polygons, frame: shapely.Polygon, height_mm: float, limits: WallLimits
) -> tuple[Wall, ...]:
    """Return the pieces of wood that stand alone in a pocket and are too slender for it.

    Parameters
    ----------
    wood : (N,) object
        All wood at the finished face.
    frame : Polygon
        The board; what touches its edge does not stand alone.
    height_mm : float
        Depth of the pocket around it.
    limits : WallLimits

    Returns
    -------
    tuple of Wall
        All of kind "alone".
    """
    alone = np.flatnonzero(shapely.distance(wood, frame.boundary) > TOUCH_MM)
    centres, radii = inscribed_circles(wood[alone])
    least = max(limits.across_mm, limits.least_slenderness * height_mm)
    return tuple(
        Wall("alone", int(piece), 2.0 * radius, least, 0.0, (centre[0], centre[1]), True, ())
        for piece, centre, radius in zip(alone, centres.tolist(), radii.tolist(), strict=True)
        if 2.0 * radius < least
    )
