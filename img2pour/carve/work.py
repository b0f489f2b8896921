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


def work_of_bits(
    polygons: Polygons, bits: Sequence[Bit], settings: PocketSettings
) -> tuple[BitWork, ...]:
    """Return what each bit does, in the order given (rough before fine).

    Parameters
    ----------
    polygons : (N,) object
        Outlines at the finished face.
    bits : sequence of Bit
    settings : PocketSettings

    Returns
    -------
    tuple of BitWork
        One per bit; one that finds nothing left to do has zeros.
    """
    profiles = [profile_of(bit) for bit in bits]
    whole = float(pocket_volumes(polygons, profiles, settings).sum())
    before = np.full(len(polygons), shapely.Polygon(), dtype=object)
    removed_before = 0.0
    works = []
    for index, bit in enumerate(bits):
        slices, volume = _cut_by(polygons, profiles, index, settings)
        fresh = shapely.difference(slices, before)
        removed = max(min(volume, whole) - removed_before, 0.0)
        removed_before += removed
        left = max(whole - removed_before, 0.0)
        works.append(_work(bit, profiles[index], fresh, (removed, left, whole), settings))
        before = shapely.union(before, slices)
    return tuple(works)


def _cut_by(
    polygons: Polygons, profiles: Sequence[Profile], last: int, settings: PocketSettings
) -> tuple[Polygons, float]:
    """Return what the bits up to `last` open together: at the finished face, and in all."""
    done = profiles[: last + 1]
    to_come = [p for p in profiles[last + 1 :] if not p.is_upright]
    if settings.walls == "sloped" and to_come and all(p.is_upright for p in done):
        return _inside_slope(polygons, done, shaping(profiles, "sloped")[0], settings)
    slices = finished_slices(polygons, done, settings)
    return slices, float(pocket_volumes(polygons, done, settings).sum())


def _inside_slope(
    polygons: Polygons, flats: Sequence[Profile], slope: Profile, settings: PocketSettings
) -> tuple[Polygons, float]:
    """Return what flat bits open that stay inside the floor which a sloped bit will leave."""
    inset = float(slope.radius_at(settings.depth_mm)) - slope.slope * settings.surface_mm
    floors = shapely.buffer(polygons, -max(inset - slope.tip_radius_mm, 0.0))
    slices = opened(floors, min(flat.tip_radius_mm for flat in flats))
    return slices, float(shapely.area(slices).sum()) * settings.depth_mm


def _work(
    bit: Bit,
    profile: Profile,
    fresh: Polygons,
    volumes: tuple[float, float, float],
    settings: PocketSettings,
) -> BitWork:
    """Estimate one bit's time: per pass (area / stepover + edge) / feed, and the plunges."""
    removed, left, whole = volumes
    stepover = bit.stepover_share * cutting_width_mm(profile, settings.depth_mm)
    area, edge = float(shapely.area(fresh).sum()), float(shapely.length(fresh).sum())
    # Beside what an earlier bit opened the edge is counted on both sides.
    edge = edge if profile.is_upright else edge / 2.0
    way = area / stepover + edge
    passes = math.ceil(settings.depth_mm / bit.depth_per_pass_mm - 1e-9)
    plunges = int(_pieces(fresh).sum()) * settings.depth_mm
    minutes = passes * way / bit.feed_mm_min + plunges / bit.plunge_mm_min
    return BitWork(
        bit=bit.name,
        area_mm2=area,
        removed_mm3=removed,
        left_mm3=left,
        removed_share=removed / whole if whole > 0.0 else 0.0,
        minutes=minutes,
        way_mm=way,
        passes=passes,
        feed_mm_min=bit.feed_mm_min,
        stepover_mm=stepover,
    )


def cutting_width_mm(profile: Profile, depth_mm: float) -> float:
    """Return the bit's diameter half way up the cut."""
    return 2.0 * float(profile.radius_at(depth_mm / 2.0))


def _pieces(polygons: Polygons) -> FloatArray:
    """Return the number of pieces of each geometry, 0 for empty ones."""
    return np.where(shapely.is_empty(polygons), 0, shapely.get_num_geometries(polygons))
