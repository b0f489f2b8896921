"""Seals against bleed: a clear band along every edge where a pour meets wood, a flood, or a coat.

Lengths in mm. `pours` is the union of what is cast, `wood` the wood around it on the board; edges
between two pours, and of pours with the board's own edge, need no seal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from img2pour.errors import SettingsError
from img2pour.pours.contacts import find_contacts, merged_lines, touching_line
from img2pour.pours.geometry import (
    QUAD_SEGS,
    TOUCH_MM,
    Geometry,
    areal,
    as_array,
    dilate,
    empty,
    multi,
    polygons_of,
    union,
)
from img2pour.pours.limits import (
    CLEARANCE_MM,
    LEAST_BORDER_MM,
    LEAST_BORDER_OVER_ERROR_MM,
    REGISTRATION_MM,
    check_limits,
)

SealKind = Literal["band", "flood", "flood board", "brush", "none"]
_LIMITS = {
    "bit_diameter_mm": (0.1, 100.0),
    "bit_slope": (0.0, 10.0),
    "clearance_mm": (0.0, 10.0),
    "border_mm": (0.0, 50.0),
    "least_border_mm": (0.0, 50.0),
    "registration_mm": (0.0, 10.0),
    "deeper_mm": (0.0, 100.0),
    "coat_mm": (0.001, 5.0),
    "coats": (0.0, 20.0),
    "end_grain_factor": (1.0, 20.0),
    "shellac_per_litre": (0.0, 10000.0),
}
BORDER_STEP_MM = 0.05
INNER_QUAD_SEGS = 8  # only where the edge of a pour bends inwards
BIT_SLACK_MM = 0.001  # offsets that end within 1e-5 of nothing come back empty


@dataclass(frozen=True)
class SealSettings:
    """How edges with wood are sealed. Common practice, no source; all editable.

    Attributes
    ----------
    bit_diameter_mm : float
        The flat bit that cuts the seal's channel.
    bit_slope : float
        Tangent of its flank's angle with the axis; 0 for a flat bit.
    clearance_mm : float
        The channel is wider than the bit by this.
    border_mm, least_border_mm : float
        Clear left standing beside the colour; beside small wood down to the least.
    registration_mm : float
        How far the board may come back out of place.
    deeper_mm : float
        The seal goes this much deeper than the colour.
    coat_mm, coats, end_grain_factor : float
        A brushed coat's thickness, how many, and how much more end grain drinks.
    coat_of : {"resin", "shellac"}
        What is brushed on.
    shellac_per_litre : float
        Price of ready shellac, in the user's own money.
    """

    bit_diameter_mm: float = 6.35
    bit_slope: float = 0.0
    clearance_mm: float = CLEARANCE_MM
    border_mm: float = 0.8
    least_border_mm: float = LEAST_BORDER_MM
    registration_mm: float = REGISTRATION_MM
    deeper_mm: float = 0.5
    coat_mm: float = 0.15
    coats: float = 2.0
    end_grain_factor: float = 2.0
    coat_of: Literal["resin", "shellac"] = "resin"
    shellac_per_litre: float = 25.0

    def __post_init__(self) -> None:
        """Check every number and what belongs together.

        Raises
        ------
        SettingsError
            When a number is outside its limits, the border is below the least, below
            what registration allows, or too wide for the channel.
        """
        check_limits(self, _LIMITS)
        least = self.narrowest_border_mm
        if self.border_mm < least - 1e-9:
            raise SettingsError(
                f"seal border {self.border_mm:g} mm is below {least:g} mm, the least that stays "
                f"with a registration error of {self.registration_mm:g} mm: widen the border or "
                "register better",
                name="border",
                value=self.border_mm,
            )
        if self.border_mm >= self.channel_mm / 2.0:
            raise SettingsError(
                f"seal border {self.border_mm:g} mm is half of the channel ({self.channel_mm:g} "
                "mm) or more: make it narrower or take a wider bit",
                name="border",
                value=self.border_mm,
            )

    @property
    def channel_mm(self) -> float:
        """Width of the channel."""
        return self.bit_diameter_mm + self.clearance_mm

    @property
    def narrowest_border_mm(self) -> float:
        """The least border anywhere: never below the registration error + 0.2 mm."""
        return max(self.least_border_mm, self.registration_mm + LEAST_BORDER_OVER_ERROR_MM)


@dataclass(frozen=True, eq=False)
class Unsealed:
    """A stretch of edge between pour and wood that the seal's bit does not reach.

    Attributes
    ----------
    at_mm : (x, y)
        Its middle.
    length_mm : float
    line : shapely LineString
    """

    at_mm: tuple[float, float]
    length_mm: float
    line: Geometry


@dataclass(frozen=True, eq=False)
class Seal:
    """A seal's outline and what is known of it.

    Attributes
    ----------
    kind : SealKind
    outline : shapely MultiPolygon
        What is carved for it; empty for a brushed coat and for none.
    edge_mm : float
        Length of edge where pours meet wood.
    unsealed : tuple of Unsealed
        Edge that stays bare, the longest first.
    border_mm : tuple of float
        The border that each polygon of wood gets, in their order.
    """

    kind: SealKind
    outline: Geometry
    edge_mm: float
    unsealed: tuple[Unsealed, ...]
    border_mm: tuple[float, ...]

    @property
    def unsealed_mm(self) -> float:
        """Length of edge that stays bare."""
        return math.fsum(stretch.length_mm for stretch in self.unsealed)


def wood_edge(pours: Geometry, wood: Geometry) -> Geometry:
    """Return the lines where pours meet wood."""
    return touching_line(pours, [wood])


def wood_borders(wood: Geometry, settings: SealSettings) -> tuple[float, ...]:
    """Return the border for each polygon of wood: narrower beside small wood.

    The borders on both sides together take about half of the widest place of the wood, in steps of
    0.05 mm.
    """
    parts = as_array(polygons_of(wood))
    roomy = ~shapely.is_empty(shapely.buffer(parts, -2.0 * settings.border_mm, quad_segs=8))
    found = np.full(len(parts), settings.border_mm)
    for index in np.flatnonzero(~roomy):
        fitting = round(inscribed_radius(parts[index]) / 2.0 / BORDER_STEP_MM) * BORDER_STEP_MM
        found[index] = max(settings.narrowest_border_mm, min(settings.border_mm, fitting))
    return tuple(float(border) for border in found)


def inscribed_radius(polygon: Geometry) -> float:
    """Return the radius of the largest circle inside a polygon, to 0.01 mm."""
    if polygon.is_empty:
        return 0.0
    return float(shapely.maximum_inscribed_circle(polygon, tolerance=0.01).length)


def band(pours: Geometry, wood: Geometry, settings: SealSettings) -> Seal:
    """Return the band: a channel along every edge with wood, as the seal's bit can cut it.

    The ideal band is what lies within `channel - border` of that edge inside the pours, and within
    `border` of it inside the wood; edges to other pours and to the board's frame drop out.

    Parameters
    ----------
    pours, wood : shapely geometry
        Unions that tile the board, all edges shared.
    settings : SealSettings
    """
    contacts = find_contacts([wood, pours])
    borders = wood_borders(wood, settings)
    own = contacts.shape == 0
    of_segment = np.array(borders)[contacts.part[own]] if borders else np.empty(0)
    ideal: list[Geometry] = []
    for border in np.unique(of_segment):
        line = merged_lines(contacts.ends[own][of_segment == border])
        sides = [
            part
            for part, own_border in zip(contacts.parts, borders, strict=False)
            if own_border == border
        ]
        inner = dilate(line, settings.channel_mm - border, INNER_QUAD_SEGS).intersection(pours)
        outer = dilate(line, border).intersection(multi(sides))
        ideal += [inner, outer]
    return _seal("band", union(ideal), contacts.line(own), borders, settings)


def flood(pours: Sequence[Geometry], wood: Geometry, settings: SealSettings) -> Seal:
    """Return the flood: what touches wood of each pour, widened into the wood by the border."""
    contacts = find_contacts([wood, *pours])
    beside_wood = contacts.other == 0
    touching = [contacts.parts[i] for i in np.unique(contacts.part[beside_wood])]
    edge = contacts.line(beside_wood)
    widened = dilate(edge, settings.border_mm).intersection(wood)
    borders = tuple(settings.border_mm for _ in polygons_of(wood))
    return _seal("flood", union([*touching, widened]), edge, borders, settings)


def flood_board(board: Geometry, pours: Geometry, wood: Geometry, settings: SealSettings) -> Seal:
    """Return the flood of the whole board."""
    edge = wood_edge(pours, wood)
    return Seal("flood board", areal(board), float(edge.length), (), ())


def brushed(kind: Literal["brush", "none"], pours: Geometry, wood: Geometry) -> Seal:
    """Return a seal that carves nothing: a brushed coat, or none at all."""
    edge = wood_edge(pours, wood)
    bare = _stretches(edge, 0.0) if kind == "none" else ()
    return Seal(kind, empty(), float(edge.length), bare, ())


def _seal(
    kind: SealKind,
    outline: Geometry,
    edge: Geometry,
    borders: tuple[float, ...],
    settings: SealSettings,
) -> Seal:
    """Return a seal that is carved, with the edge that its bit does not reach."""
    parts = as_array(polygons_of(outline))
    radius = settings.bit_diameter_mm / 2.0
    centres = shapely.buffer(parts, BIT_SLACK_MM - radius, quad_segs=QUAD_SEGS)
    cut = union(shapely.buffer(centres, radius + TOUCH_MM, quad_segs=QUAD_SEGS))
    bare = edge.difference(cut)
    unsealed = _stretches(bare, settings.narrowest_border_mm / 4.0)
    return Seal(kind, outline, float(edge.length), unsealed, borders)


def _stretches(bare: Geometry, least_mm: float) -> tuple[Unsealed, ...]:
    """Return bare edge as stretches, the longest first, bends of a hair's breadth left out."""
    if bare.is_empty:
        return ()
    lines = shapely.get_parts(shapely.line_merge(bare))
    found = [
        Unsealed(_middle(line), float(line.length), line)
        for line in lines
        if line.length > max(least_mm, 10.0 * TOUCH_MM)
    ]
    return tuple(sorted(found, key=lambda stretch: (-stretch.length_mm, stretch.at_mm)))


def _middle(line: Geometry) -> tuple[float, float]:
    point = line.interpolate(0.5, normalized=True)
    return (round(float(point.x), 3), round(float(point.y), 3))
