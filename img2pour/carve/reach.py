"""What the bits cannot reach: islands, necks, stroke ends and corners, each with its place.

Judged at the finished face. A round bit loses corners; a bit with a point does not, but cuts
strokes that are narrower than its width at the least depth shallower than that depth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons, inscribed_circles
from img2pour.carve.medial import IntArray, MedialAxis, medial_axis
from img2pour.carve.necks import (
    ROUNDING,
    PlaceKind,
    ThinPart,
    ThinPlace,
    describe,
    is_stroke,
    thin_parts,
    typical_point,
)
from img2pour.carve.profile import Profile, narrowest_width_mm
from img2pour.carve.voids import HAIR_MM, opened

LEAST_DEPTH_MM = 25.4 / 16
"""At the finished face. Common practice, no source."""

SEARCH_FACTOR = 3.0
"""Strokes are looked at up to this many times the width that the bits need."""

TOUCH_MM = 1e-3

EVEN_SHARE = 0.98
"""What is that wide, beside the widest place of an island, is as wide."""

Circles = tuple[FloatArray, FloatArray]
"""Centres and radii of the largest circles inside some polygons."""


@dataclass(frozen=True)
class Finding:
    """A place that the bits do not reach.

    Attributes
    ----------
    kind : {"island", "neck", "end"}
    shallow : bool
        Whether a sloped bit still marks it, shallower than the least depth.
    region : int
        Index of the region.
    colour : int
    width_mm : float
        As for :class:`img2pour.carve.necks.ThinPlace`.
    length_mm : float
    area_mm2 : float
        How much is lost there; a short neck may lose nothing.
    at_mm : tuple of float
    """

    kind: PlaceKind
    shallow: bool
    region: int
    colour: int
    width_mm: float
    length_mm: float
    area_mm2: float
    at_mm: tuple[float, float]


@dataclass(frozen=True)
class ColourReach:
    """What becomes of one colour.

    Attributes
    ----------
    colour : int
    regions : int
    area_mm2 : float
        As designed.
    lost_mm2 : float
        In islands, necks and ends.
    corners_mm2 : float
        In rounded corners, apart from the rest.
    findings : tuple of Finding
    thinnest_mm : float or None
        Width of the narrowest stroke; None if all are wider than three times what the bits need.
    """

    colour: int
    regions: int
    area_mm2: float
    lost_mm2: float
    corners_mm2: float
    findings: tuple[Finding, ...]
    thinnest_mm: float | None

    @property
    def kept_share(self) -> float:
        """Share of the designed area that is cut as designed."""
        if self.area_mm2 == 0.0:
            return 1.0
        return 1.0 - (self.lost_mm2 + self.corners_mm2) / self.area_mm2

    def count(self, kind: PlaceKind) -> int:
        """Return the number of findings of a kind."""
        return sum(finding.kind == kind for finding in self.findings)


@dataclass(frozen=True)
class Needs:
    """What a set of bits asks of a stroke.

    Attributes
    ----------
    width_mm : float
        Narrowest stroke that one of the bits cuts to the least depth at the finished face.
    corner_radius_mm : float
        Radius left in a right-angled corner; 0 with a pointed or ball-nosed bit.
    shallow : bool
        Whether narrower strokes are still marked by a sloped bit.
    """

    width_mm: float
    corner_radius_mm: float
    shallow: bool


def needs_of(profiles: Sequence[Profile], least_depth_mm: float = LEAST_DEPTH_MM) -> Needs:
    """Return what the bits ask of a stroke."""
    widths = [narrowest_width_mm(profile, least_depth_mm) for profile in profiles]
    narrowest = profiles[int(np.argmin(widths))]
    corner = min(profile.tip_radius_mm for profile in profiles)
    return Needs(min(widths), corner, not narrowest.is_upright)


def region_axis(polygons: Polygons, needs: Needs) -> MedialAxis:
    """Return the medial axis for everything that is asked about the reach in some regions."""
    return medial_axis(polygons, SEARCH_FACTOR * needs.width_mm)


def region_circles(polygons: Polygons, needs: Needs) -> Circles:
    """Return the largest circles in some regions, as far as they are asked about."""
    return inscribed_circles(polygons, enough_mm=SEARCH_FACTOR * needs.width_mm / 2.0)


def colour_reach(
    polygons: Polygons,
    colour: int,
    needs: Needs,
    axis: MedialAxis | None = None,
    wished: Polygons | None = None,
    circles: Circles | None = None,
) -> ColourReach:
    """Judge the regions of one colour.

    Parameters
    ----------
    polygons : (N,) object
        Its regions at the finished face, mm; they share no edge with each other.
    colour : int
    needs : Needs
    axis : MedialAxis, optional
        From :func:`region_axis`, if it is at hand.
    wished : (N,) object, optional
        What counts of each of them, where they are carried past the board's edge.
    circles : (centres, radii), optional
        From :func:`region_circles`, if they are at hand.
    """
    area = float(shapely.area(polygons if wished is None else wished).sum())
    if len(polygons) == 0:
        return ColourReach(colour, 0, 0.0, 0.0, 0.0, (), None)
    axis = axis or region_axis(polygons, needs)
    circles = circles or region_circles(polygons, needs)
    places = with_islands(polygons, axis, needs.width_mm, circles)
    lost, corners = lost_areas(polygons, places, needs, wished)
    findings = tuple(
        Finding(
            place.kind,
            needs.shallow,
            place.polygon,
            colour,
            place.width_mm,
            place.length_mm,
            float(loss),
            place.at_mm,
        )
        for place, loss in zip(places, lost, strict=True)
    )
    thinnest = min((place.width_mm for place in places), default=None)
    if thinnest is None:
        wider = with_islands(polygons, axis, SEARCH_FACTOR * needs.width_mm, circles)
        thinnest = min((place.width_mm for place in wider), default=None)
    return ColourReach(colour, len(polygons), area, float(lost.sum()), corners, findings, thinnest)


def with_islands(
    polygons: Polygons, axis: MedialAxis, width_mm: float, circles: Circles | None = None
) -> tuple[ThinPlace, ...]:
    """Return the thin places; whatever part of a lost island they are, it counts once."""
    centres, radii = circles or inscribed_circles(polygons)
    is_lost = 2.0 * radii < width_mm * (1.0 - ROUNDING)
    centres = _along_the_middle(axis, centres, np.flatnonzero(is_lost))
    islands = [
        ThinPlace("island", int(index), 2.0 * float(radii[index]), 0.0, tuple(centre), 0.0, ())
        for index, centre in zip(np.flatnonzero(is_lost), centres[is_lost].tolist(), strict=True)
    ]
    others = [
        describe(axis, part, typical_point(axis, part))
        for part in parts_beside(axis, is_lost, width_mm)
    ]
    return tuple(sorted([*islands, *others], key=lambda place: (place.polygon, place.at_mm)))


def _along_the_middle(axis: MedialAxis, centres: FloatArray, islands: IntArray) -> FloatArray:
    """Return centres, those of islands moved along strokes of even width to their middle."""
    order = np.argsort(axis.polygons, kind="stable")
    owners, moved = axis.polygons[order], centres.copy()
    starts, ends = (np.searchsorted(owners, islands, side) for side in ("left", "right"))
    for island, start, end in zip(islands.tolist(), starts.tolist(), ends.tolist(), strict=True):
        own = order[start:end]
        if len(own):
            clearance = axis.clearance_mm[own]
            widest = axis.points[own[clearance >= EVEN_SHARE * clearance.max()]]
            away = np.hypot(*(widest - widest.mean(axis=0)).T)
            moved[island] = widest[away.argmin()]
    return moved


def parts_beside(axis: MedialAxis, is_lost: NDArray[np.bool_], width_mm: float) -> list[ThinPart]:
    """Return the thin parts of the polygons that are not lost as a whole.

    Parameters
    ----------
    axis : MedialAxis
    is_lost : (N,) bool
        Which polygons the bit cannot enter.
    width_mm : float
    """
    parts = []
    for part in thin_parts(axis, width_mm):
        if is_lost[axis.polygons[part.points[0]]]:
            continue
        if part.kind == "island":
            # All of the axis is thin, yet the bit enters: round regions have little axis.
            part = replace(part, kind="end")
            if not is_stroke(axis, part, width_mm):
                continue
        parts.append(part)
    return parts


def lost_areas(
    polygons: Polygons,
    places: Sequence[ThinPlace],
    needs: Needs,
    wished: Polygons | None = None,
) -> tuple[FloatArray, float]:
    """Return the area lost at each place, and in corners; of `wished` alone, if it is given.

    Returns
    -------
    lost : (P,) float64
    corners : float
    """
    lost = np.zeros(len(places))
    is_island = np.array([place.kind == "island" for place in places], dtype=np.bool_)
    island_regions = np.array([p.polygon for p in places if p.kind == "island"], dtype=np.int64)
    counted = polygons if wished is None else wished
    lost[is_island] = shapely.area(counted[island_regions])
    others = np.setdiff1d(np.arange(len(polygons)), island_regions)
    lost += _lost_in_places(polygons, others, places, needs.width_mm / 2.0, wished)
    radius = needs.corner_radius_mm
    if radius == 0.0:
        return lost, 0.0
    cut = opened(polygons[others], radius)
    kept = float(shapely.area(cut if wished is None else on_board(cut, wished)).sum())
    narrow = lost
    if 2.0 * radius < needs.width_mm:
        narrow = _lost_in_places(polygons, others, places, radius, wished)
    named = float(narrow[~is_island].sum())
    return lost, max(float(shapely.area(counted[others]).sum()) - kept - named, 0.0)


def _lost_in_places(
    polygons: Polygons,
    others: IntArray,
    places: Sequence[ThinPlace],
    radius_mm: float,
    wished: Polygons | None,
) -> FloatArray:
    """Return the area that a round bit leaves at each place in some of the polygons, (P,)."""
    named = np.array([place.polygon for place in places if place.spine], dtype=np.int64)
    others = np.intersect1d(others, named)
    rest, owner = residue(polygons[others], radius_mm, HAIR_MM)
    chosen = places_of_parts(rest, others[owner], places)
    areas = shapely.area(rest if wished is None else on_board(rest, wished))
    lost = np.zeros(len(places))
    np.add.at(lost, chosen[chosen >= 0], areas[chosen >= 0])
    return lost


def on_board(parts: Polygons, wished: Polygons) -> Polygons:
    """Return parts without what lies beyond the board.

    Regions are carried only past the sides that they touch, so the box of all as they show tells
    where the board ends.
    """
    clipped: Polygons = shapely.clip_by_rect(parts, *shapely.total_bounds(wished).tolist())
    return clipped


def residue(
    polygons: Polygons, radius_mm: float, hair_mm: float = 0.0
) -> tuple[Polygons, IntArray]:
    """Return the parts of each polygon that a round bit leaves, and whose part each is.

    Parameters
    ----------
    polygons : (N,) object
    radius_mm : float
    hair_mm : float
        What lies so close to what the bit clears is left out.
    """
    left = shapely.difference(polygons, opened(polygons, radius_mm, hair_mm))
    parts, owner = shapely.get_parts(left, return_index=True)
    return np.asarray(parts, dtype=object), owner.astype(np.int64)


def places_of_parts(parts: Polygons, owner: IntArray, places: Sequence[ThinPlace]) -> IntArray:
    """Return the place whose spine runs through each part, or -1 for a corner."""
    chosen = np.full(len(parts), -1, dtype=np.int64)
    named = [index for index, place in enumerate(places) if place.spine]
    if not named or len(parts) == 0:
        return chosen
    spines = np.array([shapely.multilinestrings(places[i].spine) for i in named], dtype=object)
    tree = shapely.STRtree(parts)
    spine, part = tree.query(spines, predicate="dwithin", distance=TOUCH_MM)
    regions = np.array([places[i].polygon for i in named])
    same = regions[spine] == owner[part]
    # The first spine wins, so write in reverse.
    chosen[part[same][::-1]] = np.array(named)[spine[same][::-1]]
    return chosen
