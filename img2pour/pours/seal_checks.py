"""Checks of a seal: the border down to the floor, and the wood that is left beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from img2pour.pours.geometry import Geometry, areal, polygons_of, thin_part
from img2pour.pours.seals import SealSettings, inscribed_radius

LEAST_SHOWN_MM2 = 0.05  # thinner slivers come from chords, not from the design


def border_at_depth_mm(
    border_mm: float, depth_mm: float, *, seal_slope: float, colour_slope: float
) -> float:
    """Return how much clear stands beside the colour at a depth below the finished face.

    A sloped bit moves a pocket's wall inwards by depth x tan(half angle): the seal's own slope
    eats the border, the colour's slope adds to it.
    """
    return border_mm + depth_mm * (colour_slope - seal_slope)


@dataclass(frozen=True)
class BorderCheck:
    """The border where it is thinnest, from face to the colour's floor, and words if too thin."""

    least_mm: float
    warning: str


def check_border(
    settings: SealSettings, borders_mm: Sequence[float], depth_mm: float, colour_slope: float
) -> BorderCheck:
    """Check the border over its full depth.

    Parameters
    ----------
    settings : SealSettings
    borders_mm : sequence of float
        At the finished face, for each polygon of wood.
    depth_mm : float
        The colour's floor below the finished face.
    colour_slope : float
        Tangent of the half angle of the bit that cuts the colour's wall; 0 for a flat bit.
    """
    at_face = min(borders_mm, default=settings.border_mm)
    slopes = {"seal_slope": settings.bit_slope, "colour_slope": colour_slope}
    at_floor = border_at_depth_mm(at_face, depth_mm, **slopes)
    least = min(at_face, at_floor)
    if least >= settings.narrowest_border_mm - 1e-9:
        return BorderCheck(least, "")
    steepest = (at_face - settings.narrowest_border_mm) / depth_mm + colour_slope
    return BorderCheck(
        least,
        f"the seal's border is {at_face:.2f} mm at the face but {at_floor:.2f} mm at the floor "
        f"({depth_mm:.2f} mm down), below {settings.narrowest_border_mm:.2f} mm: cut the seal with "
        f"a flat bit, or with one whose flank leans at most {max(steepest, 0.0):.3f} mm per mm",
    )


@dataclass(frozen=True)
class ThinWood:
    """A wall of wood that the seal leaves too thin to stand."""

    at_mm: tuple[float, float]
    width_mm: float
    area_mm2: float


def thin_wood(wood: Geometry, seal_outline: Geometry, least_wall_mm: float) -> tuple[ThinWood, ...]:
    """Return the walls of wood that a seal makes too thin; those too thin before are not its doing.

    Parameters
    ----------
    wood : shapely geometry
        Before the seal.
    seal_outline : shapely geometry
    least_wall_mm : float
        A wall stands if it is this wide.
    """
    left = areal(wood.difference(seal_outline))
    thin = thin_part(left, least_wall_mm).difference(thin_part(wood, least_wall_mm))
    found = []
    for part in polygons_of(thin):
        if part.area < LEAST_SHOWN_MM2:
            continue
        point = shapely.point_on_surface(part)
        at_mm = (round(float(point.x), 3), round(float(point.y), 3))
        found.append(ThinWood(at_mm, 2.0 * inscribed_radius(part), float(part.area)))
    return tuple(sorted(found, key=lambda wall: (wall.width_mm, wall.at_mm)))
