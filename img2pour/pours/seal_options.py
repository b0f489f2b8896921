"""What each seal would take: resin, money and days, side by side."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.pours.geometry import Geometry, polygons_of, union
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
    wood_edge,
)

COAT_GEL_HOURS = 6.0  # one maker's figure for a seal coat; the data sheet governs
Volume = Callable[[Geometry, float], float]
"""Volume in mm3 that a pocket of this outline and depth (mm, from the carved face) holds."""


def upright_volume(outline: Geometry, depth_mm: float) -> float:
    """Return area times depth: upright walls, sharp corners."""
    return float(outline.area * depth_mm)


def coat_volume_mm3(
    outline: Geometry,
    wood: Geometry,
    depth_mm: float,
    settings: SealSettings,
    grain: tuple[float, float],
) -> float:
    """Return what a brushed coat over one pocket takes: coat x coats x (floor + walls).

    Only walls against wood count. A wall that runs across the grain cuts it: end grain, which
    drinks more; between the two the share goes with the squared sine of the angle to the grain.

    Parameters
    ----------
    outline, wood : shapely geometry
        The pocket, and the wood around it.
    depth_mm : float
    settings : SealSettings
    grain : tuple of float
        Direction of the grain, any length above 0.
    """
    walls = weighted_length(wood_edge(outline, wood), grain, settings.end_grain_factor)
    surface = float(outline.area) + walls * depth_mm
    return settings.coat_mm * settings.coats * surface


def weighted_length(lines: Geometry, grain: tuple[float, float], factor: float) -> float:
    """Return the length of lines, those across the grain counted `factor` times."""
    along = np.asarray(grain) / math.hypot(*grain)
    total = 0.0
    for line in shapely.get_parts(lines):
        steps = np.diff(shapely.get_coordinates(line), axis=0)
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        across = steps[:, 0] * along[1] - steps[:, 1] * along[0]
        safe = np.where(lengths > 0, lengths, 1.0)
        total += float((lengths * (1.0 + (factor - 1.0) * (across / safe) ** 2)).sum())
    return total


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
    volume: Volume = upright_volume,
    kinds: Sequence[SealKind] = ALL_KINDS,
) -> tuple[SealOption, ...]:
    """Work out each kind of seal: resin, money and days side by side."""
    return tuple(_option(kind, ground, settings, mixing, volume) for kind in kinds)


def make_seal(kind: SealKind, ground: SealGround, settings: SealSettings) -> Seal:
    """Return the seal of one kind."""
    joined = union(ground.pours)
    if kind == "band":
        return band(joined, ground.wood, settings)
    if kind == "flood":
        return flood(ground.pours, ground.wood, settings)
    if kind == "flood board":
        return flood_board(ground.board, joined, ground.wood, settings)
    return brushed(kind, joined, ground.wood)


def _option(
    kind: SealKind,
    ground: SealGround,
    settings: SealSettings,
    mixing: MixSettings | None,
    volume: Volume,
) -> SealOption:
    seal = make_seal(kind, ground, settings)
    if kind == "none":
        return SealOption(seal, 0.0, 0.0, 0.0, 0.0, 0.0, None)
    if kind == "brush":
        fills, mixing, days = _coat(ground, settings, mixing)
    else:
        fills, days = _pockets(seal, ground, settings, volume), ground.resin.cure_hours / 24.0
    is_film = kind == "brush"
    mix = plan_mix("seal", ground.resin, fills, mixing, pigmented=False, is_film=is_film)
    return SealOption(seal, mix.volume_ml, mix.total_ml, mix.total_fl_oz, mix.cost, days, mix)


def _pockets(seal: Seal, ground: SealGround, settings: SealSettings, volume: Volume) -> list[Fill]:
    depth = ground.depth_mm + settings.deeper_mm
    return [
        Fill(
            place=str(number),
            volume_mm3=volume(part, depth),
            area_mm2=float(part.area),
            depth_mm=depth,
            bare_floor_mm2=float(part.area),
            bare_wall_mm2=float(part.length) * depth,
        )
        for number, part in enumerate(polygons_of(seal.outline), 1)
    ]


def _coat(
    ground: SealGround, settings: SealSettings, mixing: MixSettings | None
) -> tuple[list[Fill], MixSettings, float]:
    """Return a coat as something to mix: nothing stands proud and nothing soaks in besides."""
    volumes = [
        coat_volume_mm3(shape, ground.wood, ground.depth_mm, settings, ground.grain)
        for shape in ground.pours
    ]
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
    fills = [Fill("coat", math.fsum(volumes), math.fsum(volumes) / thick, thick)]
    return fills, plain, settings.coats * COAT_GEL_HOURS * ground.stages / 24.0


def saved_by_band_ml(options: Sequence[SealOption]) -> float | None:
    """Return how much less fills a band than a flood, or None when both are not among them."""
    by_kind = {option.seal.kind: option.volume_ml for option in options}
    if "band" not in by_kind or "flood" not in by_kind:
        return None
    return by_kind["flood"] - by_kind["band"]
