"""What a bit cuts free: the void's slice at a depth, for one bit or for several.

The void at depth z is the union, over plunges h from z to the depth, of
dilate(erode(R, r(h)), r(h - z)), with r the bit's radius. For a straight flank the plunge to z
itself holds all the others: dilate(erode(R, r(z)), r(0)). Depth counts from the carved face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons, inscribed_circles
from img2pour.carve.profile import Profile

Bounds = tuple[float, float, float, float]

HAIR_MM = 0.01
"""What is narrower, and lies along an edge, comes from chords and not from the bit."""

SLOPE_SEGMENTS = 8
"""Chords per quarter circle where only rounded reflex corners depend on them."""

CORNER_SEGMENTS = 16
"""Chords per quarter circle where the loss in a corner depends on them."""

SHARE_SEGMENTS = 12
"""Chords per quarter circle for shares: what a square corner loses is right to a hundredth."""

PLAIN_SEGMENTS = 6
"""Chords per quarter circle for estimates of volume and time."""

CIRCLE_SEGMENTS = 32
"""Chords per quarter circle where a whole pocket is one circle."""

PLUNGES = 8

ENOUGH_SHARE = 0.998
"""Of a polygon's area; where one plunge of a round bit leaves no more, one plunge will do."""

RIDGE_TOLERANCE_MM = 0.002

RIDGE_SHARE = 1.0 - 1e-4
"""The deepest erosion stops this short of the inscribed radius: at the radius it would be empty."""


@dataclass(frozen=True, eq=False)
class Ground:
    """Polygons ready to be cut by one bit.

    Attributes
    ----------
    polygons : (N,) object
        Outlines at the finished face.
    spread_mm : float
        How much wider they are at the carved face. Kept apart, since an offset in two steps has
        ten times the vertices.
    profile : Profile
    depth_mm : float
        Below the carved face.
    centres : (N, 2) float64
        Centre of the largest circle inside each polygon.
    deepest_mm : (N,) float64
        Depth to which the bit gets in each polygon, at most `depth_mm`; 0 where it does not enter.
    enters : (N,) bool
    within : (x0, y0, x1, y1) or None
        Only what lies in this box is counted.
    """

    polygons: Polygons
    spread_mm: float
    profile: Profile
    depth_mm: float
    centres: FloatArray
    deepest_mm: FloatArray
    enters: NDArray[np.bool_]
    within: Bounds | None = None

    def areas(self, slices: Polygons) -> FloatArray:
        """Return what counts of some slices, mm2."""
        return areas_within(slices, self.within)


def areas_within(slices: Polygons, within: Bounds | None) -> FloatArray:
    """Return the areas of polygons, (N,) float64, or of what lies of them in a box."""
    counted = slices if within is None else shapely.clip_by_rect(slices, *within)
    areas: FloatArray = shapely.area(counted)
    return areas


def prepare(
    polygons: Polygons,
    profiles: Sequence[Profile],
    depth_mm: float,
    surface_mm: float,
    within: Bounds | None = None,
) -> list[Ground]:
    """Find how wide the outlines are at the carved face and how deep each bit gets in each.

    Parameters
    ----------
    polygons : (N,) object
        Outlines at the finished face, not empty.
    profiles : sequence of Profile
    depth_mm : float
        Below the carved face.
    surface_mm : float
        How far the carved face lies above the finished one. A sloped wall is wider there by
        surface x tan(half angle).
    within : (x0, y0, x1, y1), optional
        The board, where polygons are carried past its edge.
    """
    spreads = [surface_mm * profile.slope for profile in profiles]
    # Where the bits get all the way down, the circle need not be the largest.
    widest = max(float(p.radius_at(depth_mm)) - s for p, s in zip(profiles, spreads, strict=True))
    enough = widest / RIDGE_SHARE + RIDGE_TOLERANCE_MM
    circles = inscribed_circles(polygons, RIDGE_TOLERANCE_MM, enough)
    return [
        replace(_ground(polygons, profile, depth_mm, spread, circles), within=within)
        for profile, spread in zip(profiles, spreads, strict=True)
    ]


def _ground(
    polygons: Polygons,
    profile: Profile,
    depth_mm: float,
    spread: float,
    circles: tuple[FloatArray, FloatArray],
) -> Ground:
    """Return the ground of one bit, from the largest circles inside the polygons."""
    centres, radii = circles[0], circles[1] + spread
    enters = radii >= profile.tip_radius_mm
    reach = np.minimum(profile.height_at(radii * RIDGE_SHARE), depth_mm)
    deepest = np.where(enters, np.maximum(reach, 0.0), 0.0)
    return Ground(polygons, spread, profile, depth_mm, centres, deepest, enters)


def choose(ground: Ground, which: NDArray[np.intp]) -> Ground:
    """Return the ground of some polygons only."""
    return Ground(
        ground.polygons[which],
        ground.spread_mm,
        ground.profile,
        ground.depth_mm,
        ground.centres[which],
        ground.deepest_mm[which],
        ground.enters[which],
        ground.within,
    )


def axis_places(ground: Ground, radius_mm: FloatArray, segments: int = SLOPE_SEGMENTS) -> Polygons:
    """Return where the bit's axis may stand if its radius at the carved face is `radius_mm`.

    Parameters
    ----------
    ground : Ground
    radius_mm : (N,) or (K, N) float64
    segments : int
        Chords per quarter circle.

    Returns
    -------
    (N,) or (K, N) object
    """
    return _array(shapely.buffer(ground.polygons, ground.spread_mm - radius_mm, quad_segs=segments))


def opened(
    polygons: Polygons,
    radius_mm: float,
    grown_mm: float = 0.0,
    segments: int = CORNER_SEGMENTS,
) -> Polygons:
    """Return what a round bit of a radius clears inside each polygon.

    Parameters
    ----------
    polygons : (N,) object
    radius_mm : float
    grown_mm : float
        How much wider the result is made. What it is then taken away from keeps none of the hairs
        that lie between two sets of chords along the same edge, which is several times faster.
    segments : int
        Chords per quarter circle.
    """
    eroded = shapely.buffer(polygons, -radius_mm, quad_segs=segments)
    return _array(shapely.buffer(eroded, radius_mm + grown_mm, quad_segs=segments))


def areas_of_grown(grown: Polygons, grown_mm: float) -> FloatArray:
    """Return the areas, (N,) float64, before polygons were grown by a little.

    Steiner: growing adds the width times the length of the edge, but for the width squared.
    """
    areas: FloatArray = shapely.area(grown) - grown_mm * shapely.length(grown)
    return areas


class Openings:
    """What round bits clear inside some polygons, worked out once for each radius.

    Parameters
    ----------
    polygons : (N,) object
    segments : int
        Chords per quarter circle.
    """

    def __init__(self, polygons: Polygons, segments: int = CORNER_SEGMENTS) -> None:
        self.polygons = polygons
        self.segments = segments
        self._eroded: dict[float, Polygons] = {}
        self._opened: dict[tuple[float, float], Polygons] = {}

    def by(self, radius_mm: float, grown_mm: float = 0.0) -> Polygons:
        """Return what a bit of a radius clears, made wider by `grown_mm`, (N,) object."""
        key = (radius_mm, grown_mm)
        if key not in self._opened:
            if radius_mm not in self._eroded:
                self._eroded[radius_mm] = _array(
                    shapely.buffer(self.polygons, -radius_mm, quad_segs=self.segments)
                )
            reach_mm, eroded = radius_mm + grown_mm, self._eroded[radius_mm]
            self._opened[key] = _array(shapely.buffer(eroded, reach_mm, quad_segs=self.segments))
        return self._opened[key]


def straight_slices(ground: Ground, depth_mm: FloatArray) -> Polygons:
    """Return the slices at one depth per polygon, for a flat bit or a straight flank."""
    profile = ground.profile
    segments = CORNER_SEGMENTS if profile.tip_radius_mm > 0.0 else SLOPE_SEGMENTS
    # Beyond the ridge there is nothing left, whatever the rounding says.
    reached = np.where(ground.enters & (depth_mm <= ground.deepest_mm), depth_mm, np.nan)
    radius = profile.radius_at(np.nan_to_num(reached))
    slices = axis_places(ground, radius, segments)
    if profile.tip_radius_mm > 0.0:
        slices = _array(shapely.buffer(slices, profile.tip_radius_mm, quad_segs=segments))
    slices[np.isnan(reached)] = shapely.Polygon()
    return slices


@dataclass(frozen=True, eq=False)
class Plunges:
    """Where the bit's axis may stand at some plunges of a round profile.

    Attributes
    ----------
    ground : Ground
    heights_mm : (K, N) float64
        Plunge depths, rising along the first axis.
    places : (K, N) object
        Where the axis may be at that plunge; at the deepest also the inscribed circle's centre.
    """

    ground: Ground
    heights_mm: FloatArray
    places: Polygons


def plunge(ground: Ground, count: int) -> Plunges:
    """Erode the polygons for `count` plunges, equally spaced in depth."""
    steps = np.arange(1, count + 1) / count
    heights = steps[:, None] * ground.deepest_mm[None, :]
    places = axis_places(ground, ground.profile.radius_at(heights))
    collapsed = shapely.is_empty(places[-1])
    places[-1, collapsed] = shapely.points(ground.centres[collapsed])
    places[:, ~ground.enters] = shapely.Polygon()
    return Plunges(ground, heights, places)


def plunged_slices(plunges: Plunges, depth_mm: FloatArray) -> Polygons:
    """Return the slices at one depth per polygon, as the union over the plunges."""
    above = plunges.heights_mm - depth_mm[None, :]
    # A plunge that just touches the slice cuts a circle of no size there.
    radii = plunges.ground.profile.radius_at(above)
    cut = _array(shapely.buffer(plunges.places, radii, quad_segs=SLOPE_SEGMENTS))
    is_point = shapely.get_dimensions(plunges.places) == 0
    cut[is_point] = shapely.buffer(
        plunges.places[is_point], radii[is_point], quad_segs=CIRCLE_SEGMENTS
    )
    cut[above < 0.0] = shapely.Polygon()
    return cut[0] if len(cut) == 1 else _array(shapely.union_all(cut, axis=0))


def every_other(plunges: Plunges) -> Plunges:
    """Return half of the plunges, the deepest among them."""
    return Plunges(plunges.ground, plunges.heights_mm[1::2], plunges.places[1::2])


def needs_one_plunge(ground: Ground) -> NDArray[np.bool_]:
    """Return where the deepest plunge alone leaves almost nothing of the outline."""
    if ground.profile.has_straight_flank(ground.depth_mm):
        return np.ones(len(ground.polygons), dtype=np.bool_)
    radius = ground.profile.radius_at(ground.depth_mm)
    places = axis_places(ground, radius)
    wide = shapely.buffer(places, radius - ground.spread_mm, quad_segs=CORNER_SEGMENTS)
    whole = ground.areas(ground.polygons)
    enough: NDArray[np.bool_] = ground.areas(wide) >= ENOUGH_SHARE * whole
    return enough


def void_slices(grounds: Sequence[Ground], depth_mm: float) -> Polygons:
    """Return what several bits together leave open at a depth below the carved face.

    Parameters
    ----------
    grounds : sequence of Ground
        One per bit, over the same N polygons.
    depth_mm : float

    Returns
    -------
    (N,) object
        Shapely polygons or multipolygons, some of them empty.
    """
    parts = [_slices(ground, depth_mm) for ground in grounds]
    return parts[0] if len(parts) == 1 else _array(shapely.union_all(np.array(parts), axis=0))


def _slices(ground: Ground, depth_mm: float) -> Polygons:
    depths = np.full(len(ground.polygons), depth_mm)
    if ground.profile.is_upright:
        return opened(ground.polygons, ground.profile.tip_radius_mm)
    if ground.profile.has_straight_flank(ground.depth_mm):
        return straight_slices(ground, depths)
    slices = np.full(len(depths), shapely.Polygon(), dtype=object)
    is_plain = needs_one_plunge(ground)
    for which, count in ((np.flatnonzero(is_plain), 1), (np.flatnonzero(~is_plain), PLUNGES)):
        slices[which] = plunged_slices(plunge(choose(ground, which), count), depths[which])
    return slices


def _array(geometries: object) -> Polygons:
    """Name the type of what shapely returns for an array."""
    return np.asarray(geometries, dtype=object)
