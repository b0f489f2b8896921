"""What each seal would take: resin, money and days, side by side."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.contacts import find_contacts
from img2pour.pours.geometry import Geometry, as_array, polygons_of, union
from img2pour.pours.mixes import Fill, Mix, MixSettings, plan_mix
from img2pour.pours.resins import Resin
from img2pour.pours.seals import (
    Seal,
    SealKind,
    SealSettings,
    band,
    brushed,
    flood,
    flood_board,
)
from img2pour.units import fl_oz_from_ml, ml_from_mm3

COAT_GEL_HOURS = 6.0  # one maker's figure for a seal coat; the data sheet governs
Volumes = Callable[[Sequence[Geometry], float], NDArray[np.float64]]
"""Volume in mm3 that pockets of these outlines and this depth (from the carved face) hold."""


def upright_volumes(outlines: Sequence[Geometry], depth_mm: float) -> NDArray[np.float64]:
    """Return area times depth: upright walls, sharp corners."""
    areas: NDArray[np.float64] = shapely.area(as_array(outlines))
    return areas * depth_mm


def coat_volume_mm3(
    pours: Sequence[Geometry],
    wood: Geometry,
    depth_mm: float,
    settings: SealSettings,
    grain: tuple[float, float],
) -> float:
    """Return what a brushed coat over all pockets takes: coat x coats x (floor + walls).

    Only walls against wood count. A wall that runs across the grain cuts it: end grain, which
    drinks more; between the two the share goes with the squared sine of the angle to the grain.

    Parameters
    ----------
    pours : sequence of shapely geometry
        Each pour's shape; they do not overlap.
    wood : shapely geometry
        The wood around them.
    depth_mm : float
    settings : SealSettings
    grain : tuple of float
        Direction of the grain, any length above 0.
    """
    contacts = find_contacts([wood, *pours])
    edges = contacts.ends[contacts.shape == 0]
    walls = weighted_length(edges, grain, settings.end_grain_factor)
    floor = math.fsum(float(shape.area) for shape in pours)
    return settings.coat_mm * settings.coats * (floor + walls * depth_mm)


def weighted_length(edges: NDArray[np.float64], grain: tuple[float, float], factor: float) -> float:
    """Return the length of segments, (N, 2, 2), those across the grain counted `factor` times."""
    along = np.asarray(grain) / math.hypot(*grain)
    steps = edges[:, 1] - edges[:, 0]
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    across = steps[:, 0] * along[1] - steps[:, 1] * along[0]
    sine = across / np.where(lengths > 0, lengths, 1.0)
    return float((lengths * (1.0 + (factor - 1.0) * sine**2)).sum())


@dataclass(frozen=True, eq=False)
class SealOption:
    """One kind of seal with what it takes.

    Attributes
    ----------
    seal : Seal
    volume_ml : float
        What fills its pocket (or makes the coat), nothing added.
    total_ml, total_fl_oz : float
        With everything that is added.
    cost : float
        In the user's own money.
    days : float
        Waiting that it adds.
    mix : Mix or None
        What to measure out; None where nothing is mixed.
    """

    seal: Seal
    volume_ml: float
    total_ml: float
    total_fl_oz: float
    cost: float
    days: float
    mix: Mix | None


@dataclass(frozen=True, eq=False)
class SealGround:
    """What the seals are compared on.

    Attributes
    ----------
    board : shapely geometry
        The finished board.
    pours : tuple of shapely geometry
        Each pour's shape.
    wood : shapely geometry
        All wood around them.
    depth_mm : float
        Of the colours, from the carved face.
    grain : tuple of float
        Direction of the grain.
    resin : Resin
        The clear one.
    stages : int
        Stages that touch wood: a brushed coat waits in each.
    """

    board: Geometry
    pours: tuple[Geometry, ...]
    wood: Geometry
    depth_mm: float
    grain: tuple[float, float]
    resin: Resin
    stages: int = 1


ALL_KINDS: tuple[SealKind, ...] = ("band", "flood", "flood board", "brush", "none")


def compare_seals(
    ground: SealGround,
    settings: SealSettings,
    mixing: MixSettings | None = None,
    *,
    volumes: Volumes = upright_volumes,
    kinds: Sequence[SealKind] = ALL_KINDS,
) -> tuple[SealOption, ...]:
    """Work out each kind of seal: resin, money and days side by side."""
    joined = union(ground.pours)
    seals = (make_seal(kind, ground, settings, joined) for kind in kinds)
    return tuple(_option(seal, ground, settings, mixing, volumes) for seal in seals)


def make_seal(
    kind: SealKind, ground: SealGround, settings: SealSettings, joined: Geometry | None = None
) -> Seal:
    """Return the seal of one kind; `joined` is the union of the pours, if it is known already."""
    joined = union(ground.pours) if joined is None else joined
    if kind == "band":
        return band(joined, ground.wood, settings)
    if kind == "flood":
        return flood(ground.pours, ground.wood, settings)
    if kind == "flood board":
        return flood_board(ground.board, joined, ground.wood, settings)
    return brushed(kind, joined, ground.wood)


def _option(
    seal: Seal,
    ground: SealGround,
    settings: SealSettings,
    mixing: MixSettings | None,
    volumes: Volumes,
) -> SealOption:
    if seal.kind == "none":
        return SealOption(seal, 0.0, 0.0, 0.0, 0.0, 0.0, None)
    if seal.kind == "brush" and settings.coat_of == "shellac":
        return _shellac(seal, ground, settings, mixing)
    if seal.kind == "brush":
        fills, mixing, days = _coat(ground, settings, mixing)
    else:
        fills, days = _pockets(seal, ground, settings, volumes), ground.resin.cure_hours / 24.0
    is_film = seal.kind == "brush"
    mix = plan_mix("seal", ground.resin, fills, mixing, pigmented=False, is_film=is_film)
    return SealOption(seal, mix.volume_ml, mix.total_ml, mix.total_fl_oz, mix.cost, days, mix)


def _pockets(
    seal: Seal, ground: SealGround, settings: SealSettings, volumes: Volumes
) -> list[Fill]:
    depth = ground.depth_mm + settings.deeper_mm
    parts = polygons_of(seal.outline)
    held = volumes(parts, depth)
    return [
        Fill(
            place=str(number),
            volume_mm3=float(volume),
            area_mm2=float(part.area),
            depth_mm=depth,
            bare_floor_mm2=float(part.area),
            bare_wall_mm2=float(part.length) * depth,
        )
        for number, (part, volume) in enumerate(zip(parts, held, strict=True), 1)
    ]


def _coat(
    ground: SealGround, settings: SealSettings, mixing: MixSettings | None
) -> tuple[list[Fill], MixSettings, float]:
    """Return a coat as something to mix: nothing stands proud and nothing soaks in besides."""
    needed = _coat_mm3(ground, settings)
    mixing = mixing or MixSettings()
    plain = MixSettings(
        overfill_mm=0.0,
        soak_mm=0.0,
        waste_share=mixing.waste_share,
        least_waste_ml=mixing.least_waste_ml,
        least_batch_ml=mixing.least_batch_ml,
        syringe_below_ml=0.0,
        greatest_cup_g=mixing.greatest_cup_g,
    )
    thick = settings.coat_mm * settings.coats
    fills = [Fill("coat", needed, needed / thick, thick)]
    return fills, plain, _coat_days(ground, settings)


def _shellac(
    seal: Seal, ground: SealGround, settings: SealSettings, mixing: MixSettings | None
) -> SealOption:
    """Return a coat that comes ready: nothing is mixed, only the waste is added."""
    volume_ml = ml_from_mm3(_coat_mm3(ground, settings))
    total_ml = volume_ml * (1.0 + (mixing or MixSettings()).waste_share)
    cost = total_ml * settings.shellac_per_litre / 1000.0
    days = _coat_days(ground, settings)
    return SealOption(seal, volume_ml, total_ml, fl_oz_from_ml(total_ml), cost, days, None)


def _coat_mm3(ground: SealGround, settings: SealSettings) -> float:
    return coat_volume_mm3(ground.pours, ground.wood, ground.depth_mm, settings, ground.grain)


def _coat_days(ground: SealGround, settings: SealSettings) -> float:
    return settings.coats * COAT_GEL_HOURS * ground.stages / 24.0
