"""Seals against bleed: a clear band along every edge where a pour meets wood, a flood, or a coat.

Lengths in mm. `pours` is the union of what is cast, `wood` the wood around it on the board; edges
between two pours, and of pours with the board's own edge, need no seal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from img2pour.errors import SettingsError
from img2pour.pours.geometry import (
    TOUCH_MM,
    Geometry,
    areal,
    dilate,
    empty,
    polygons_of,
    shared_edge,
    union,
)

SealKind = Literal["band", "flood", "flood board", "brush", "none"]
LEAST_BORDER_OVER_ERROR_MM = 0.2
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
    """

    bit_diameter_mm: float = 6.35
    bit_slope: float = 0.0
    clearance_mm: float = 0.25
    border_mm: float = 0.8
    least_border_mm: float = 0.4
    registration_mm: float = 0.15
    deeper_mm: float = 0.5
    coat_mm: float = 0.15
    coats: float = 2.0
    end_grain_factor: float = 2.0

    def __post_init__(self) -> None:
        """Check what belongs together.

        Raises
        ------
        SettingsError
            When the border is below the least, below what registration allows, or too wide for the
            channel.
        """
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


@dataclass(frozen=True)
class Unsealed:
    """A stretch of edge between pour and wood that the seal's bit does not reach."""

    at_mm: tuple[float, float]
    length_mm: float


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
    if pours.is_empty or wood.is_empty:
        return shapely.MultiLineString()
    return shared_edge(pours, wood)


def wood_borders(wood: Geometry, settings: SealSettings) -> tuple[float, ...]:
    """Return the border for each polygon of wood: narrower beside small wood.

    The borders on both sides together take at most half of the widest place of the wood.
    """
    found = []
    for part in polygons_of(wood):
        width = 2.0 * inscribed_radius(part)
        fitting = min(settings.border_mm, width / 4.0)
        found.append(max(settings.narrowest_border_mm, fitting))
    return tuple(found)


def inscribed_radius(polygon: Geometry) -> float:
    """Return the radius of the largest circle inside a polygon, to 0.01 mm."""
    if polygon.is_empty:
        return 0.0
    return float(shapely.maximum_inscribed_circle(polygon, tolerance=0.01).length)


def band(pours: Geometry, wood: Geometry, settings: SealSettings) -> Seal:
    """Return the band: a channel along every edge with wood, as the seal's bit can cut it.

    The ideal band is what lies within `channel - border` of wood inside the pours, and within
    `border` of pours inside the wood (wood only, so that other edges drop out).
    """
    parts = polygons_of(wood)
    borders = wood_borders(wood, settings)
    ideal = [
        _ideal_band(
            pours, [p for p, b in zip(parts, borders, strict=True) if b == border], border, settings
        )
        for border in sorted(set(borders))
    ]
    outline = areal(union(ideal).intersection(union([pours, wood])))
    edge = wood_edge(pours, wood)
    cut = _cut_by_bit(outline, settings.bit_diameter_mm / 2.0)
    unsealed = _unsealed(edge, cut, settings.narrowest_border_mm)
    return Seal("band", outline, float(edge.length), unsealed, borders)


def flood(pours: Sequence[Geometry], wood: Geometry, settings: SealSettings) -> Seal:
    """Return the flood: every polygon of a pour that touches wood, widened by the border."""
    touching = [
        part
        for shape in pours
        for part in polygons_of(shape)
        if shapely.dwithin(part, wood, TOUCH_MM)
    ]
    inside = union([*pours, wood])
    outline = areal(dilate(union(touching), settings.border_mm).intersection(inside))
    return _open_seal("flood", outline, union(pours), wood, settings)


def flood_board(board: Geometry, pours: Geometry, wood: Geometry, settings: SealSettings) -> Seal:
    """Return the flood of the whole board."""
    return _open_seal("flood board", areal(board), pours, wood, settings)


def brushed(kind: Literal["brush", "none"], pours: Geometry, wood: Geometry) -> Seal:
    """Return a seal that carves nothing: a brushed coat, or none at all."""
    edge = wood_edge(pours, wood)
    bare = _unsealed(edge, empty(), 0.0) if kind == "none" else ()
    return Seal(kind, empty(), float(edge.length), bare, ())


def _open_seal(
    kind: SealKind, outline: Geometry, pours: Geometry, wood: Geometry, settings: SealSettings
) -> Seal:
    edge = wood_edge(pours, wood)
    cut = _cut_by_bit(outline, settings.bit_diameter_mm / 2.0)
    unsealed = _unsealed(edge, cut, settings.narrowest_border_mm)
    borders = tuple(settings.border_mm for _ in polygons_of(wood))
    return Seal(kind, outline, float(edge.length), unsealed, borders)


def _ideal_band(
    pours: Geometry, wood: Sequence[Geometry], border_mm: float, settings: SealSettings
) -> Geometry:
    """Return the band along some of the wood, all with one border."""
    side = shapely.MultiPolygon(list(wood))
    near = areal(pours.intersection(dilate(side, TOUCH_MM)))
    if near.is_empty:
        return empty()
    inner = pours.intersection(dilate(side, settings.channel_mm - border_mm))
    outer = side.intersection(dilate(pours, border_mm))
    return union([inner, outer])


def _cut_by_bit(outline: Geometry, radius_mm: float) -> Geometry:
    """Return what a bit cuts of an outline; one as wide as the bit itself is cut as well."""
    centres = dilate(outline, BIT_SLACK_MM - radius_mm)
    return areal(dilate(centres, radius_mm))


def _unsealed(edge: Geometry, cut: Geometry, least_border_mm: float) -> tuple[Unsealed, ...]:
    """Return the stretches of edge that lie outside the cut, bends of a hair's breadth left out."""
    bare = edge.difference(dilate(cut, TOUCH_MM))
    if bare.is_empty:
        return ()
    lines = shapely.get_parts(shapely.line_merge(bare))
    found = [
        Unsealed(_middle(line), float(line.length))
        for line in lines
        if line.length > max(least_border_mm / 4.0, 10.0 * TOUCH_MM)
    ]
    return tuple(sorted(found, key=lambda stretch: (-stretch.length_mm, stretch.at_mm)))


def _middle(line: Geometry) -> tuple[float, float]:
    point = line.interpolate(0.5, normalized=True)
    return (round(float(point.x), 3), round(float(point.y), 3))
