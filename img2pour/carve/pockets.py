"""How much the pockets hold: the volume that a set of bits really opens.

Everything is judged at the finished face; the volume runs from the floor to the carved face.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from img2pour.carve.inscribed import FloatArray, Polygons
from img2pour.carve.profile import Profile
from img2pour.carve.voids import (
    HAIR_MM,
    PLUNGES,
    Bounds,
    Ground,
    Openings,
    areas_within,
    choose,
    every_other,
    needs_one_plunge,
    plunge,
    plunged_slices,
    prepare,
    straight_slices,
    void_slices,
)
from img2pour.errors import SettingsError

Walls = Literal["upright", "sloped"]

SIMPSON_INTERVALS = 8
GAUSS_NODES = 5
BESIDE_PLUNGES, BESIDE_NODES = 2, 3
"""Beside upright walls a round bit adds so little that few plunges and depths will do."""

ROUGH_PLUNGES, ROUGH_NODES = 4, 2
"""For other sizes of the board, which are estimates."""

SURFACE_NODES = 2
SHARED_NODES = 5
"""Depths at which the slopes of one bit are compared with the upright wall of another."""

SLOPED_NODES = 10
"""Depths at which the slopes of several bits are compared with each other."""


@dataclass(frozen=True)
class PocketSettings:
    """How pockets are cut.

    Attributes
    ----------
    depth_mm : float
        From the carved face to the floor.
    surface_mm : float
        How much is taken off the top at the end; the design is what shows after that.
    walls : {"upright", "sloped"}
        Whether a flat bit cuts to the wall or stays inside the slope of the vee.
    """

    depth_mm: float = 3.175
    surface_mm: float = 0.5
    walls: Walls = "upright"

    def __post_init__(self) -> None:
        """Check the values.

        Raises
        ------
        SettingsError
            If the depth does not reach below the finished face, or a value is not a size.
        """
        if not 0.0 <= self.surface_mm < 1e4:
            raise SettingsError(
                f"surface {self.surface_mm:g} mm must be 0 or more",
                name="surface",
                value=self.surface_mm,
            )
        if not self.surface_mm < self.depth_mm < 1e4:
            raise SettingsError(
                f"depth {self.depth_mm:g} mm must be more than the {self.surface_mm:g} mm that "
                "are taken off the surface",
                name="depth",
                value=self.depth_mm,
            )

    @property
    def finished_depth_mm(self) -> float:
        """From the finished face to the floor."""
        return self.depth_mm - self.surface_mm


def shaping(profiles: Sequence[Profile], walls: Walls) -> tuple[Profile, ...]:
    """Return the bits that give the pocket its shape: those whose cut no other one contains.

    With sloped walls the flat bits only clear what a sloped one opens anyway.

    Raises
    ------
    SettingsError
        If there is no bit.
    """
    if not profiles:
        raise SettingsError('no bits given; name at least one, such as "flat 1/8in"', name="bits")
    kept: list[Profile] = []
    has_slope = any(not profile.is_upright for profile in profiles)
    for profile in dict.fromkeys(profiles):
        if walls == "sloped" and has_slope and profile.is_upright:
            continue
        others = [other for other in dict.fromkeys(profiles) if other != profile]
        if not any(_contains(other, profile) for other in others):
            kept.append(profile)
    return tuple(sorted(kept, key=lambda p: (not p.is_upright, p.slope, p.ball_radius_mm)))


def _contains(other: Profile, profile: Profile) -> bool:
    """Return whether the other bit, moved about, sweeps out all that this one does."""
    if profile.is_upright:
        return other.is_upright and other.tip_radius_mm <= profile.tip_radius_mm
    return (
        other.ball_radius_mm == profile.ball_radius_mm == 0.0
        and 0.0 < other.slope <= profile.slope
        and other.tip_radius_mm <= profile.tip_radius_mm
        and other.widest_radius_mm <= profile.widest_radius_mm
    )


def pocket_grounds(
    polygons: Polygons,
    profiles: Sequence[Profile],
    settings: PocketSettings,
    within: Bounds | None = None,
) -> list[Ground]:
    """Return the polygons prepared for each bit that shapes the pocket."""
    chosen = shaping(profiles, settings.walls)
    return prepare(polygons, chosen, settings.depth_mm, settings.surface_mm, within)


def pocket_volumes(
    polygons: Polygons,
    profiles: Sequence[Profile],
    settings: PocketSettings,
    nodes: int = SHARED_NODES,
    openings: Openings | None = None,
    within: Bounds | None = None,
) -> FloatArray:
    """Return what each pocket holds, up to the carved face.

    Parameters
    ----------
    polygons : (N,) object
        Outlines at the finished face, mm.
    profiles : sequence of Profile
        The bits.
    settings : PocketSettings
    nodes : int
        Depths at which sloped bits are compared with the upright wall of another one.
    openings : Openings, optional
        Of these polygons, if they are asked for elsewhere as well.
    within : (x0, y0, x1, y1), optional
        The board, where polygons are carried past its edge: only what lies on it counts.

    Returns
    -------
    (N,) float64
        mm3; 0 where no bit enters.
    """
    if len(polygons) == 0:
        return np.empty(0)
    grounds = pocket_grounds(polygons, profiles, settings, within)
    upright = [ground for ground in grounds if ground.profile.is_upright]
    sloped = [ground for ground in grounds if not ground.profile.is_upright]
    if not upright:
        return _sloped_volumes(sloped)
    openings = openings or Openings(polygons)
    hair = HAIR_MM if within is None else 0.0
    walls = openings.by(upright[0].profile.tip_radius_mm, hair)
    areas = areas_within(walls, within) - hair * shapely.length(walls)
    volumes: FloatArray = areas * settings.depth_mm
    if not sloped:
        return volumes
    is_alone = shapely.is_empty(walls)
    beside, alone = np.flatnonzero(~is_alone), np.flatnonzero(is_alone)
    volumes[alone] = _sloped_volumes([choose(ground, alone) for ground in sloped])
    beside_walls = [choose(ground, beside) for ground in sloped]
    volumes[beside] += _beside_volumes(beside_walls, walls[beside], nodes, settings.surface_mm)
    if hair:
        volumes[beside] += _in_hairs(beside_walls, walls[beside], settings)
    return volumes


def _in_hairs(grounds: list[Ground], walls: Polygons, settings: PocketSettings) -> FloatArray:
    """Return what is missed where walls grown by a hair are taken from slices wider than them.

    Above the finished face a sloped bit opens a strip along the whole outline.
    """
    spread = max(ground.spread_mm for ground in grounds)
    if spread <= HAIR_MM:
        return np.zeros(len(walls))
    height = settings.surface_mm * (1.0 - HAIR_MM / (2.0 * spread))
    missed: FloatArray = HAIR_MM * height * shapely.length(walls)
    return missed


def rough_volumes(
    polygons: Polygons,
    profiles: Sequence[Profile],
    settings: PocketSettings,
    openings: Openings | None = None,
) -> FloatArray:
    """Return what each pocket holds, for an estimate: round bits with few plunges and depths.

    Within 2 % of :func:`pocket_volumes` in total, which counts (N,) float64 mm3 as well.
    """
    chosen = shaping(profiles, settings.walls)
    is_round = len(chosen) == 1 and not chosen[0].has_straight_flank(settings.depth_mm)
    if len(polygons) == 0 or not is_round:
        return pocket_volumes(polygons, profiles, settings, ROUGH_NODES, openings)
    (ground,) = pocket_grounds(polygons, profiles, settings)
    return _plunged_volumes(ground, ROUGH_PLUNGES, ROUGH_NODES)


def finished_slices(
    polygons: Polygons,
    profiles: Sequence[Profile],
    settings: PocketSettings,
    openings: Openings | None = None,
) -> Polygons:
    """Return what shows of each pocket at the finished face, (N,) object."""
    chosen = shaping(profiles, settings.walls)
    if any(_is_pointed(profile, settings.depth_mm) for profile in chosen):
        return polygons
    if all(profile.is_upright for profile in chosen):
        openings = openings or Openings(polygons)
        return openings.by(min(profile.tip_radius_mm for profile in chosen))
    grounds = pocket_grounds(polygons, profiles, settings)
    return void_slices(grounds, settings.surface_mm)


def _is_pointed(profile: Profile, depth_mm: float) -> bool:
    """Return whether a bit with a point follows any outline, at some depth, into every corner."""
    return profile.tip_radius_mm == 0.0 and profile.has_straight_flank(depth_mm)


def _sloped_volumes(grounds: list[Ground]) -> FloatArray:
    return _single_volumes(grounds[0]) if len(grounds) == 1 else _beyond(grounds, None)


def _single_volumes(ground: Ground) -> FloatArray:
    """Return the volumes that one sloped bit opens."""
    if ground.profile.has_straight_flank(ground.depth_mm):
        return _straight_volumes(ground)
    return _round_volumes(ground)


def _straight_volumes(ground: Ground) -> FloatArray:
    """Integrate the slices by Simpson's rule, each polygon down to its own ridge.

    A wedge's cross-section is a polynomial of the second degree in depth (prismoid), for which the
    rule is exact; it errs only where parts of a polygon end at different depths.
    """
    shares = np.linspace(0.0, 1.0, SIMPSON_INTERVALS + 1)
    areas = [ground.areas(straight_slices(ground, ground.deepest_mm * s)) for s in shares]
    weights = np.full(SIMPSON_INTERVALS + 1, 2.0)
    weights[1::2] = 4.0
    weights[[0, -1]] = 1.0
    total: FloatArray = weights @ np.array(areas) * ground.deepest_mm / (3 * SIMPSON_INTERVALS)
    return total


def _round_volumes(ground: Ground) -> FloatArray:
    """Integrate over plunges of a round bit, over one alone where that leaves almost nothing."""
    is_plain = needs_one_plunge(ground)
    plain, rest = np.flatnonzero(is_plain), np.flatnonzero(~is_plain)
    total = np.zeros(len(ground.polygons))
    total[plain] = _plunged_volumes(choose(ground, plain), 1)
    total[rest] = _plunged_volumes(choose(ground, rest), PLUNGES)
    return total


def _plunged_volumes(ground: Ground, count: int, nodes: int = GAUSS_NODES) -> FloatArray:
    """Integrate over `count` plunges, extrapolated if there are several.

    What K plunges miss falls as 1 / K, so that 2 V(K) - V(K / 2) is right to the next order.
    """
    total = np.zeros(len(ground.polygons))
    if len(total) == 0:
        return total
    plunges = plunge(ground, count)
    fewer = every_other(plunges)
    for depths, weights in _nodes(ground, nodes):
        areas = ground.areas(plunged_slices(plunges, depths))
        if count > 1:
            areas = 2.0 * areas - ground.areas(plunged_slices(fewer, depths))
        total += weights * areas
    return total


def _nodes(ground: Ground, count: int) -> list[tuple[FloatArray, FloatArray]]:
    """Return Gauss-Legendre depths and weights per polygon, by ball, flank and shank.

    Over the ball they are nodes of its angle, since the slices close as a square root there.
    """
    roots, weights = np.polynomial.legendre.leggauss(count)
    shares, weights = (roots + 1.0) / 2.0, weights / 2.0
    profile, deepest = ground.profile, ground.deepest_mm
    nodes = []
    ball = np.minimum(profile.ball_height_mm, deepest)
    flank = np.clip(deepest, ball, profile.flank_top_mm)
    if profile.ball_radius_mm > 0.0:
        radius = profile.ball_radius_mm
        full = np.arccos(np.clip(1.0 - ball / radius, -1.0, 1.0))
        for share, weight in zip(shares, weights, strict=True):
            angle = share * full
            above = radius * (1.0 - np.cos(angle))
            nodes.append((deepest - above, weight * full * radius * np.sin(angle)))
    for low, high in ((ball, flank), (flank, deepest)):
        if (high > low).any():
            for share, weight in zip(shares, weights, strict=True):
                nodes.append((deepest - low - share * (high - low), weight * (high - low)))
    return nodes


def _beside_volumes(
    grounds: list[Ground], walls: Polygons, nodes: int, surface_mm: float
) -> FloatArray:
    """Return what sloped bits open outside upright walls, with as few plunges as will do."""
    is_straight = all(g.profile.has_straight_flank(g.depth_mm) for g in grounds)
    # An estimate makes do with the deepest plunge.
    count = 1 if nodes == ROUGH_NODES else BESIDE_PLUNGES
    nodes = nodes if is_straight else min(nodes, BESIDE_NODES)
    is_plain = np.full(len(walls), is_straight or count == 1)
    if not is_plain.all():
        is_plain = np.all([needs_one_plunge(ground) for ground in grounds], axis=0)
    total = np.zeros(len(walls))
    parts = ((np.flatnonzero(is_plain), 1), (np.flatnonzero(~is_plain), count))
    for which, plunges in parts:
        chosen = [choose(ground, which) for ground in grounds]
        total[which] = _beyond(chosen, walls[which], plunges, nodes, surface_mm)
    return total


def _beyond(
    grounds: list[Ground],
    walls: Polygons | None,
    count: int = PLUNGES,
    nodes: int = SLOPED_NODES,
    surface_mm: float = 0.0,
) -> FloatArray:
    """Return the volume that sloped bits open outside upright walls (or at all)."""
    deepest = np.max([ground.deepest_mm for ground in grounds], axis=0)
    if walls is None:
        walls = np.full(len(deepest), shapely.Polygon(), dtype=object)
    if len(deepest) == 0:
        return np.zeros(0)
    total = np.zeros(len(deepest))
    cutters = [_Cutter(ground, count) for ground in grounds]

    def areas(slices: list[Polygons]) -> FloatArray:
        union = slices[0] if len(slices) == 1 else shapely.union_all(np.array(slices), axis=0)
        return grounds[0].areas(shapely.difference(union, walls))

    for depths, weights in _layers(deepest, surface_mm, nodes):
        fine = areas([cutter.slices(depths) for cutter in cutters])
        if any(cutter.fewer for cutter in cutters):
            fine = 2.0 * fine - areas([cutter.coarse(depths) for cutter in cutters])
        total += weights * fine
    return total


def _layers(
    deepest_mm: FloatArray, surface_mm: float, nodes: int
) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Return Gauss-Legendre depths and weights per polygon, above and below the finished face.

    There the slices pass the wall, and their area beyond it has a kink; above, it is of the second
    degree.
    """
    face = np.minimum(surface_mm, deepest_mm)
    parts = [(np.zeros_like(face), face, SURFACE_NODES)] if surface_mm > 0.0 else []
    for low, high, count in [*parts, (face, deepest_mm, nodes)]:
        roots, weights = np.polynomial.legendre.leggauss(count)
        for root, weight in zip(roots.tolist(), weights.tolist(), strict=True):
            yield low + (high - low) * (root + 1.0) / 2.0, weight / 2.0 * (high - low)


class _Cutter:
    """Slices of one bit's void, its plunges made once."""

    def __init__(self, ground: Ground, count: int) -> None:
        self.ground = ground
        straight = ground.profile.has_straight_flank(ground.depth_mm)
        self.plunges = None if straight else plunge(ground, count)
        self.fewer = every_other(self.plunges) if self.plunges and count > 1 else None

    def slices(self, depths: FloatArray) -> Polygons:
        if self.plunges is None:
            return straight_slices(self.ground, depths)
        return plunged_slices(self.plunges, depths)

    def coarse(self, depths: FloatArray) -> Polygons:
        """Slices of half the plunges, to extrapolate from."""
        return self.slices(depths) if self.fewer is None else plunged_slices(self.fewer, depths)
