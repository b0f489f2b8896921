"""Who does what: what each bit removes, leaves for the next, and how long it takes, roughly."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.carve.inscribed import Polygons
from img2pour.carve.pockets import (
    PocketSettings,
    pocket_volumes,
    shaping,
)
from img2pour.carve.profile import Profile, profile_of
from img2pour.carve.voids import HAIR_MM, Openings, areas_of_grown, opened

if TYPE_CHECKING:
    from img2pour.job.bits import Bit


LEAST_PIECE_MM2 = 0.01
"""No bit is sent to what is smaller: it is the width of a hair."""


@dataclass(frozen=True)
class BitWork:
    """The share of one bit in cutting some pockets.

    Attributes
    ----------
    bit : str
        Its name.
    area_mm2 : float
        What it opens at the finished face that no bit before it did.
    removed_mm3, left_mm3 : float
        What it takes out, and what it leaves for the bits after it.
    removed_share : float
        Of the whole pocket.
    minutes : float
        An estimate: machines that start and stop slowly take up to twice as long on fine detail.
    way_mm : float
        Length of one pass.
    passes : int
    feed_mm_min : float
    stepover_mm : float
    plunge_mm : float
        How far it goes down in all.
    plunge_mm_min : float
    """

    bit: str
    area_mm2: float
    removed_mm3: float
    left_mm3: float
    removed_share: float
    minutes: float
    way_mm: float
    passes: int
    feed_mm_min: float
    stepover_mm: float
    plunge_mm: float
    plunge_mm_min: float


def work_of_bits(
    polygons: Polygons,
    bits: Sequence[Bit],
    settings: PocketSettings,
    whole_mm3: float | None = None,
    openings: Openings | None = None,
) -> tuple[BitWork, ...]:
    """Return what each bit does, in the order given (rough before fine).

    Parameters
    ----------
    polygons : (N,) object
        Outlines at the finished face.
    bits : sequence of Bit
    settings : PocketSettings
    whole_mm3 : float, optional
        What all bits together open, if it is known.
    openings : Openings, optional
        Of these polygons, if they are asked for elsewhere as well.

    Returns
    -------
    tuple of BitWork
        One per bit; one that finds nothing left to do has zeros.
    """
    profiles = [profile_of(bit) for bit in bits]
    openings = openings or Openings(polygons)
    whole = whole_mm3
    if whole is None:
        whole = float(pocket_volumes(polygons, profiles, settings, openings=openings).sum())
    before_mm3 = 0.0
    works = []
    for index, (bit, turn) in enumerate(zip(bits, _turns(openings, bits, settings), strict=True)):
        volume = whole
        if index < len(bits) - 1:
            volume = _volume_by(openings, turn.area_mm2, profiles, index, settings)
        volume = min(max(volume, before_mm3), whole)
        works.append(_bit_work(bit, turn.way, volume - before_mm3, whole - volume, whole))
        before_mm3 = volume
    return tuple(works)


def _bit_work(
    bit: Bit, way: _Way, removed_mm3: float, left_mm3: float, whole_mm3: float
) -> BitWork:
    return BitWork(
        bit=bit.name,
        area_mm2=way.area_mm2,
        removed_mm3=removed_mm3,
        left_mm3=left_mm3,
        removed_share=removed_mm3 / whole_mm3 if whole_mm3 > 0.0 else 0.0,
        minutes=way.minutes,
        way_mm=way.length_mm,
        passes=way.passes,
        feed_mm_min=bit.feed_mm_min,
        stepover_mm=way.stepover_mm,
        plunge_mm=way.plunge_mm,
        plunge_mm_min=bit.plunge_mm_min,
    )


def minutes_of_bits(
    polygons: Polygons,
    bits: Sequence[Bit],
    settings: PocketSettings,
    openings: Openings | None = None,
) -> float:
    """Return only the estimated time of all bits together, without the volumes."""
    openings = openings or Openings(polygons)
    return sum(turn.way.minutes for turn in _turns(openings, bits, settings))


@dataclass(frozen=True)
class _Turn:
    """How much is open after one bit's turn, and how that bit travelled."""

    area_mm2: float
    way: _Way


def _turns(openings: Openings, bits: Sequence[Bit], settings: PocketSettings) -> Iterator[_Turn]:
    """Take the bits in their order, each to what those before it left."""
    profiles = [profile_of(bit) for bit in bits]
    everything, nothing = openings.polygons, np.full(len(openings.polygons), shapely.Polygon())
    left, area_before = everything, 0.0
    for index, bit in enumerate(bits):
        grown = _opened_by(openings, profiles, index, settings)
        if grown is None:
            still, area = nothing, float(shapely.area(everything).sum())
        else:
            still = shapely.difference(everything, grown)
            area = max(float(areas_of_grown(grown, HAIR_MM).sum()), area_before)
        fresh = shapely.difference(left, still) if index or grown is None else grown
        way = _way(bit, profiles[index], _pieces(fresh), area - area_before, settings)
        yield _Turn(area, way)
        left, area_before = still, area


def _slope_to_come(
    profiles: Sequence[Profile], last: int, settings: PocketSettings
) -> Profile | None:
    """Return the sloped bit inside whose walls the flat bits up to `last` have to stay."""
    done, to_come = profiles[: last + 1], profiles[last + 1 :]
    if settings.walls == "upright" or not all(profile.is_upright for profile in done):
        return None
    if all(profile.is_upright for profile in to_come):
        return None
    return shaping(profiles, "sloped")[0]


def _opened_by(
    openings: Openings, profiles: Sequence[Profile], last: int, settings: PocketSettings
) -> Polygons | None:
    """Return what the bits up to `last` open together at the finished face, grown by a hair.

    None where that is everything.
    """
    done = profiles[: last + 1]
    finest = min(profile.tip_radius_mm for profile in done)
    slope = _slope_to_come(profiles, last, settings)
    if slope is not None:
        inset = float(slope.radius_at(settings.depth_mm)) - slope.slope * settings.surface_mm
        floors = shapely.buffer(openings.polygons, -max(inset - slope.tip_radius_mm, 0.0))
        return opened(floors, finest, HAIR_MM, openings.segments)
    if all(profile.is_upright for profile in done):
        return openings.by(finest, HAIR_MM)
    # Along a straight flank all plunges show alike: what shows is as round as the flank's low end.
    rounded = min(profile.flank_radius_mm for profile in done)
    return openings.by(rounded, HAIR_MM) if rounded > 0.0 else None


def _volume_by(
    openings: Openings,
    area_mm2: float,
    profiles: Sequence[Profile],
    last: int,
    settings: PocketSettings,
) -> float:
    """Return the volume of what the bits up to `last` open together."""
    done = profiles[: last + 1]
    if any(not profile.is_upright for profile in done):
        return float(pocket_volumes(openings.polygons, done, settings, openings=openings).sum())
    return area_mm2 * settings.depth_mm


@dataclass(frozen=True)
class _Way:
    """How far a bit travels, and what that takes."""

    area_mm2: float
    length_mm: float
    passes: int
    stepover_mm: float
    plunge_mm: float
    minutes: float


def _way(
    bit: Bit, profile: Profile, fresh: Polygons, area_mm2: float, settings: PocketSettings
) -> _Way:
    """Estimate one bit's time: per pass (area / stepover + edge) / feed, and the plunges."""
    stepover = bit.stepover_share * cutting_width_mm(profile, settings.depth_mm)
    edge = float(shapely.length(fresh).sum())
    # Beside what an earlier bit opened the edge is counted on both sides.
    edge = edge if profile.is_upright else edge / 2.0
    length = area_mm2 / stepover + edge
    passes = math.ceil(settings.depth_mm / bit.depth_per_pass_mm - 1e-9)
    plunges = len(fresh) * settings.depth_mm
    minutes = passes * length / bit.feed_mm_min + plunges / bit.plunge_mm_min
    return _Way(area_mm2, length, passes, stepover, plunges, minutes)


def cutting_width_mm(profile: Profile, depth_mm: float) -> float:
    """Return the bit's diameter half way up the cut."""
    return 2.0 * float(profile.radius_at(depth_mm / 2.0))


def _pieces(areas: Polygons) -> Polygons:
    """Return the single pieces of some areas, without those that no bit is sent to."""
    pieces = shapely.get_parts(areas)
    found: Polygons = pieces[shapely.area(pieces) >= LEAST_PIECE_MM2]
    return found
