"""The design: the placed region map with what becomes of each colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from img2pour.carve.inscribed import Polygons
from img2pour.errors import SettingsError
from img2pour.plane.regionmap import RegionMap
from img2pour.plane.shapes import face_polygons
from img2pour.units import quoted
from img2pour.write.chords import polygons_in

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.palette import Palette

Role = Literal["pour", "wood", "outside"]

SAGITTA_MM = 0.005
"""Chords that fine stand for arcs wherever geometry is judged."""


WOOD_TONE = "#c8a06a"
"""A plain wood, where the picture holds none."""


@dataclass(frozen=True)
class DesignColour:
    """A colour of the design: its name, ``#rrggbb``, and what becomes of it.

    `origin` names the colour that a rule parted its regions from; "" for a colour of the artwork.
    """

    name: str
    hex: str
    role: Role
    origin: str = ""


@dataclass(frozen=True, eq=False)
class Design:
    """The wish: all regions on the board.

    Attributes
    ----------
    region_map : RegionMap
        In mm, y up, the board's lower-left corner the origin.
    colours : tuple of DesignColour
        In the palette's order; faces hold indices into it.
    """

    region_map: RegionMap
    colours: tuple[DesignColour, ...]

    def polygons(self, sagitta_mm: float = SAGITTA_MM) -> Polygons:
        """Return one polygon per face, (F,) object, all valid; chords that fine stand for arcs."""
        polygons = np.array(face_polygons(self.region_map, sagitta_mm), dtype=object)
        for face in np.flatnonzero(~shapely.is_valid(polygons)).tolist():
            polygons[face] = _mended(polygons[face])
        return polygons

    def faces_of(self, role: Role) -> list[int]:
        """Return the faces whose colour has this role."""
        roles = [colour.role for colour in self.colours]
        return [
            face
            for face, colour in enumerate(self.region_map.face_colours.tolist())
            if colour >= 0 and roles[colour] == role
        ]


def _mended(polygon: shapely.Polygon) -> shapely.Polygon:
    """Return the greatest valid part of a polygon whose chords cross within their sagitta."""
    parts = polygons_in(shapely.make_valid(polygon))
    return max(parts, key=shapely.area, default=shapely.Polygon())


def settle_colours(palette: Palette, wood: int | None, job: Job) -> tuple[DesignColour, ...]:
    """Return the palette's colours with their roles: wood, as overridden, else poured.

    Raises
    ------
    SettingsError
        When the job overrides a colour that the palette does not hold.
    """
    keys = {key for colour in palette.colours for key in (colour.name, colour.hex)}
    for override in job.override:
        # Pieces laid over the picture bring colours of their own; those are checked with them.
        if override.colour not in keys and not job.has_pieces:
            names = ", ".join(colour.name for colour in palette.colours)
            raise SettingsError(
                f"the job speaks of the colour {quoted(override.colour)}, but the picture has "
                f"{names}; correct the name or fix the colours with --colours",
                name="override.colour",
                value=override.colour,
            )
    return tuple(
        design_colour(index, colour.name, colour.hex, wood, job)
        for index, colour in enumerate(palette.colours)
    )


def design_colour(index: int, name: str, code: str, wood: int | None, job: Job) -> DesignColour:
    """Return one colour with its role, in the colour that the job wants it shown."""
    override = job.override_for(name, code)
    shown = None if override is None else override.shown
    return DesignColour(name, shown or code, role_of(index, name, code, wood, job))


def role_of(index: int, name: str, code: str, wood: int | None, job: Job) -> Role:
    """Return what becomes of one colour."""
    override = job.override_for(name, code)
    if override is not None and override.role is not None:
        return override.role
    return "wood" if index == wood else "pour"


def roles_of(colours: Sequence[DesignColour], role: Role) -> list[int]:
    """Return the indices of the colours with this role."""
    return [index for index, colour in enumerate(colours) if colour.role == role]
