"""Who does what: what each bit removes, leaves for the next, and how long it takes, roughly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.carve.inscribed import FloatArray, Polygons
from img2pour.carve.pockets import (
    PocketSettings,
    finished_slices,
    pocket_volumes,
    shaping,
)
from img2pour.carve.profile import Profile, profile_of
from img2pour.carve.voids import opened

if TYPE_CHECKING:
    from img2pour.job.bits import Bit


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

    Returns
    -------
    tuple of BitWork
        One per bit; one that finds nothing left to do has zeros.
    """
    profiles = [profile_of(bit) for bit in bits]
    whole = whole_mm3
    if whole is None:
        whole = float(pocket_volumes(polygons, profiles, settings).sum())
    before = np.full(len(polygons), shapely.Polygon(), dtype=object)
    removed_before = 0.0
    works = []
    for index, bit in enumerate(bits):
        slices = _opened_by(polygons, profiles, index, settings)
        volume = whole
        if index < len(bits) - 1:
            volume = min(_volume_by(polygons, slices, profiles, index, settings), whole)
        way = _way(bit, profiles[index], shapely.difference(slices, before), settings)
        removed = max(volume - removed_before, 0.0)
        removed_before += removed
        works.append(
            BitWork(
                bit=bit.name,
                area_mm2=way.area_mm2,
                removed_mm3=removed,
                left_mm3=max(whole - removed_before, 0.0),
                removed_share=removed / whole if whole > 0.0 else 0.0,
                minutes=way.minutes,
                way_mm=way.length_mm,
                passes=way.passes,
                feed_mm_min=bit.feed_mm_min,
                stepover_mm=way.stepover_mm,
                plunge_mm=way.plunge_mm,
                plunge_mm_min=bit.plunge_mm_min,
            )
        )
        # What more bits open together holds what fewer of them did.
        before = slices
    return tuple(works)


def minutes_of_bits(polygons: Polygons, bits: Sequence[Bit], settings: PocketSettings) -> float:
    """Return only the estimated time of all bits together, without the volumes."""
    profiles = [profile_of(bit) for bit in bits]
    before = np.full(len(polygons), shapely.Polygon(), dtype=object)
    total = 0.0
    for index, bit in enumerate(bits):
        slices = _opened_by(polygons, profiles, index, settings)
        way = _way(bit, profiles[index], shapely.difference(slices, before), settings)
        total += way.minutes
        before = slices
    return total


def minutes_at(
    polygons: Polygons,
    factor: float,
    bits: Sequence[Bit],
    works: Sequence[BitWork],
    settings: PocketSettings,
) -> float:
    """Return the estimated time of all bits together on a board of another size.

    The areas are those of the other size. The first bit's edge grows with the board; what later
    bits find is strips and corners of the bits' own size, whose edge grows
    with their area, up to the whole outline.

    Parameters
    ----------
    polygons : (N,) object
        Outlines at the other size.
    factor : float
        By which they are larger.
    bits : sequence of Bit
    works : sequence of BitWork
        What each of them does at the size that was asked for.
    settings : PocketSettings
    """
    profiles = [profile_of(bit) for bit in bits]
    outline = float(shapely.length(polygons).sum())
    before = total = 0.0
    for index, (bit, work) in enumerate(zip(bits, works, strict=True)):
        area = max(_area_by(polygons, profiles, index, settings), before)
        fresh, before = area - before, area
        grown = fresh / work.area_mm2 if work.area_mm2 > 0.0 else 0.0
        edge = (work.way_mm - work.area_mm2 / work.stepover_mm) * (grown if index else factor)
        edge = min(edge, outline if profiles[index].is_upright else outline / 2.0)
        way = fresh / work.stepover_mm + edge
        plunge = work.plunge_mm * (grown if index else 1.0)
        total += work.passes * way / bit.feed_mm_min + plunge / bit.plunge_mm_min
    return total


def _area_by(
    polygons: Polygons, profiles: Sequence[Profile], last: int, settings: PocketSettings
) -> float:
    """Return roughly what the bits up to `last` open; a sloped one opens all that is left."""
    if any(not profile.is_upright for profile in profiles[: last + 1]):
        return float(shapely.area(polygons).sum())
    return float(shapely.area(_opened_by(polygons, profiles, last, settings)).sum())


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
    polygons: Polygons, profiles: Sequence[Profile], last: int, settings: PocketSettings
) -> Polygons:
    """Return what the bits up to `last` open together at the finished face."""
    slope = _slope_to_come(profiles, last, settings)
    if slope is None:
        return finished_slices(polygons, profiles[: last + 1], settings)
    inset = float(slope.radius_at(settings.depth_mm)) - slope.slope * settings.surface_mm
    floors = shapely.buffer(polygons, -max(inset - slope.tip_radius_mm, 0.0))
    return opened(floors, min(flat.tip_radius_mm for flat in profiles[: last + 1]))


def _volume_by(
    polygons: Polygons,
    slices: Polygons,
    profiles: Sequence[Profile],
    last: int,
    settings: PocketSettings,
) -> float:
    """Return the volume of what the bits up to `last` open together."""
    if _slope_to_come(profiles, last, settings) is None:
        return float(pocket_volumes(polygons, profiles[: last + 1], settings).sum())
    return float(shapely.area(slices).sum()) * settings.depth_mm


@dataclass(frozen=True)
class _Way:
    """How far a bit travels, and what that takes."""

    area_mm2: float
    length_mm: float
    passes: int
    stepover_mm: float
    plunge_mm: float
    minutes: float


def _way(bit: Bit, profile: Profile, fresh: Polygons, settings: PocketSettings) -> _Way:
    """Estimate one bit's time: per pass (area / stepover + edge) / feed, and the plunges."""
    stepover = bit.stepover_share * cutting_width_mm(profile, settings.depth_mm)
    area, edge = float(shapely.area(fresh).sum()), float(shapely.length(fresh).sum())
    # Beside what an earlier bit opened the edge is counted on both sides.
    edge = edge if profile.is_upright else edge / 2.0
    length = area / stepover + edge
    passes = math.ceil(settings.depth_mm / bit.depth_per_pass_mm - 1e-9)
    plunges = int(_pieces(fresh).sum()) * settings.depth_mm
    minutes = passes * length / bit.feed_mm_min + plunges / bit.plunge_mm_min
    return _Way(area, length, passes, stepover, plunges, minutes)


def cutting_width_mm(profile: Profile, depth_mm: float) -> float:
    """Return the bit's diameter half way up the cut."""
    return 2.0 * float(profile.radius_at(depth_mm / 2.0))


def _pieces(polygons: Polygons) -> FloatArray:
    """Return the number of pieces of each geometry, 0 for empty ones."""
    return np.where(shapely.is_empty(polygons), 0, shapely.get_num_geometries(polygons))
