"""What to mix for a pour: what fills the pocket and what is added to it, each shown apart."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from img2pour.pours.limits import check_limits
from img2pour.pours.measures import Measure, measure_out
from img2pour.pours.resins import Resin
from img2pour.units import fl_oz_from_ml, ml_from_mm3

_LIMITS = {
    "overfill_mm": (0.0, 20.0),
    "soak_mm": (0.0, 5.0),
    "waste_share": (0.0, 1.0),
    "least_waste_ml": (0.0, 1000.0),
    "least_batch_ml": (0.0, 10000.0),
    "syringe_below_ml": (0.0, 1000.0),
    "greatest_cup_g": (10.0, 100000.0),
    "touch_up_ml": (0.0, 1000.0),
}
LEAST_PART_G = 5.0  # below it 0.1 g on a scale is more than 2 %; own judgement


@dataclass(frozen=True)
class MixSettings:
    """What is added to the pocket's own volume. Common practice, no source; all editable.

    Attributes
    ----------
    overfill_mm : float
        Height that stands proud and is levelled away.
    soak_mm : float
        Resin that bare wood drinks, as a film over floor and walls.
    waste_share : float
        What stays in cup and on the stick, of all the rest.
    least_waste_ml : float
        A cup never loses less than this.
    least_batch_ml : float
        Less than this cannot be measured and mixed well.
    syringe_below_ml : float
        A pocket that takes less is filled from a syringe.
    greatest_cup_g : float
        More than this in one cup heats too fast.
    touch_up_ml : float
        Of each coloured resin, mixed at the end for pinholes.
    """

    overfill_mm: float = 0.4
    soak_mm: float = 0.1
    waste_share: float = 0.10
    least_waste_ml: float = 10.0
    least_batch_ml: float = 30.0
    syringe_below_ml: float = 3.0
    greatest_cup_g: float = 500.0
    touch_up_ml: float = 10.0

    def __post_init__(self) -> None:
        """Check every number.

        Raises
        ------
        SettingsError
            When one is outside its limits.
        """
        check_limits(self, _LIMITS)


@dataclass(frozen=True)
class Fill:
    """One pocket to be filled.

    Attributes
    ----------
    place : str
        Its number or name on the fill map.
    volume_mm3 : float
        What it holds up to the carved face.
    area_mm2 : float
        Of its opening at the carved face.
    depth_mm : float
        From the carved face.
    bare_floor_mm2, bare_wall_mm2 : float
        Bare wood that drinks.
    open_mm : float
        Length along the board's edge that needs a dam.
    at_mm : tuple of float or None
        A point inside it, where its number stands.
    """

    place: str
    volume_mm3: float
    area_mm2: float
    depth_mm: float
    bare_floor_mm2: float = 0.0
    bare_wall_mm2: float = 0.0
    open_mm: float = 0.0
    at_mm: tuple[float, float] | None = None


@dataclass(frozen=True)
class FillShare:
    """What one pocket takes: millilitres in all and per layer (first layer first), how, where."""

    place: str
    ml: float
    layer_ml: tuple[float, ...]
    syringe: bool
    dam_mm: float
    at_mm: tuple[float, float] | None = None


@dataclass(frozen=True)
class Batch:
    """One layer's mixing, each part of its volume apart, in millilitres.

    Attributes
    ----------
    layer : int
        1 for the first.
    depth_mm : float
        Of the deepest pocket's share of this layer.
    volume_ml, overfill_ml, soak_ml, waste_ml, least_batch_ml : float
        What fills the pockets, stands proud, soaks in, stays in the cup, and what is added only to
        reach a batch that can be mixed.
    total_ml : float
        Their sum, before rounding up.
    cups : int
        How many cups to mix it in, one after another.
    measure : Measure
        For the whole batch.
    """

    layer: int
    depth_mm: float
    volume_ml: float
    overfill_ml: float
    soak_ml: float
    waste_ml: float
    least_batch_ml: float
    total_ml: float
    cups: int
    measure: Measure


@dataclass(frozen=True)
class Mix:
    """Everything to mix for one pour.

    Attributes
    ----------
    pour : str
        The pour's name.
    resin : Resin
        What it is cast in.
    batches : tuple of Batch
        One for each layer.
    fills : tuple of FillShare
        The fill map.
    cost : float
        Of all batches as measured out, in the user's own money.
    warnings : tuple of str
        In plain words.
    """

    pour: str
    resin: Resin
    batches: tuple[Batch, ...]
    fills: tuple[FillShare, ...]
    cost: float
    warnings: tuple[str, ...]

    @property
    def volume_ml(self) -> float:
        """What fills the pockets, nothing added."""
        return math.fsum(batch.volume_ml for batch in self.batches)

    @property
    def total_ml(self) -> float:
        """Everything mixed, before rounding up to marks."""
        return math.fsum(batch.total_ml for batch in self.batches)

    @property
    def total_fl_oz(self) -> float:
        """The same in US fluid ounces."""
        return fl_oz_from_ml(self.total_ml)


def plan_mix(
    pour: str,
    resin: Resin,
    fills: Sequence[Fill],
    settings: MixSettings | None = None,
    *,
    pigmented: bool = True,
    is_film: bool = False,
) -> Mix:
    """Plan what to mix for one pour, layer by layer.

    A pocket deeper than the resin allows is poured in equal layers, and all pockets of the pour are
    topped up together in the last one.

    Parameters
    ----------
    pour : str
        Its name.
    resin : Resin
        What it is cast in.
    fills : sequence of Fill
        Its pockets.
    settings : MixSettings, optional
        What is added.
    pigmented : bool
        Whether the resin's pigment share goes in.
    is_film : bool
        A brushed film, for which the resin's least depth does not count.
    """
    settings = settings or MixSettings()
    shares = [_fill_share(fill, resin, settings) for fill in fills]
    layers = max((len(share.layer_ml) for share in shares), default=0)
    pigment = resin.pigment_share if pigmented else 0.0
    batches = tuple(
        _batch(layer, layers, fills, resin, settings, pigment) for layer in range(1, layers + 1)
    )
    cost = math.fsum(batch.measure.total_ml for batch in batches) * resin.price_per_litre / 1000.0
    warned = [] if is_film else _depth_warnings(pour, resin, fills, len(batches))
    warned += _batch_warnings(pour, batches)
    return Mix(pour, resin, batches, tuple(shares), cost, tuple(warned))


def layer_count(depth_mm: float, resin: Resin, settings: MixSettings) -> int:
    """Return in how many layers a pocket is poured, the overfill counted in its depth."""
    return max(1, math.ceil((depth_mm + settings.overfill_mm) / resin.greatest_depth_mm - 1e-9))


def _fill_share(fill: Fill, resin: Resin, settings: MixSettings) -> FillShare:
    count = layer_count(fill.depth_mm, resin, settings)
    layers = tuple(
        _layer_volume_ml(fill, i, count)
        + (ml_from_mm3(fill.area_mm2 * settings.overfill_mm) if i == count else 0.0)
        for i in range(1, count + 1)
    )
    ml = math.fsum(layers)
    syringe = ml < settings.syringe_below_ml
    return FillShare(fill.place, ml, layers, syringe, fill.open_mm, fill.at_mm)


def _layer_volume_ml(fill: Fill, layer: int, count: int) -> float:
    """Return the volume of one of `count` equal layers, 1 being on the floor.

    The area at height h is taken as A (h / D)^p with the p that gives the pocket's volume: exact
    for upright walls (p = 0), vee grooves (1) and cones (2).
    """
    if fill.volume_mm3 <= 0:
        return 0.0
    power = max(1.0, fill.area_mm2 * fill.depth_mm / fill.volume_mm3)
    below, above = (layer - 1) / count, layer / count
    return ml_from_mm3(fill.volume_mm3 * (above**power - below**power))


def _batch(
    layer: int,
    layers: int,
    fills: Sequence[Fill],
    resin: Resin,
    settings: MixSettings,
    pigment_share: float,
) -> Batch:
    volume: list[float] = []
    soak: list[float] = []
    overfill: list[float] = []
    depth_mm = 0.0
    for fill in fills:
        count = layer_count(fill.depth_mm, resin, settings)
        own = layer - (layers - count)  # all pockets end together in the last layer
        if own < 1:
            continue
        volume.append(_layer_volume_ml(fill, own, count))
        drinks = fill.bare_wall_mm2 / count + (fill.bare_floor_mm2 if own == 1 else 0.0)
        soak.append(ml_from_mm3(drinks * settings.soak_mm))
        depth_mm = max(depth_mm, fill.depth_mm / count)
        if layer == layers:
            overfill.append(ml_from_mm3(fill.area_mm2 * settings.overfill_mm))
    needed = (math.fsum(volume), math.fsum(overfill), math.fsum(soak))
    return _finished_batch(layer, depth_mm, needed, resin, settings, pigment_share)


def _finished_batch(
    layer: int,
    depth_mm: float,
    needed: tuple[float, float, float],
    resin: Resin,
    settings: MixSettings,
    pigment_share: float,
) -> Batch:
    net = math.fsum(needed)
    grams = net * (1.0 + settings.waste_share) * resin.mixed_density_g_per_ml
    cups = max(1, math.ceil(grams / settings.greatest_cup_g))
    waste = max(settings.waste_share * net, settings.least_waste_ml * cups)
    extra = max(0.0, settings.least_batch_ml - net - waste)
    total = net + waste + extra
    measure = measure_out(total, resin, pigment_share=pigment_share)
    return Batch(layer, depth_mm, *needed, waste, extra, total, cups, measure)


def _depth_warnings(pour: str, resin: Resin, fills: Sequence[Fill], layers: int) -> list[str]:
    found: list[str] = []
    deepest = max((fill.depth_mm for fill in fills), default=0.0)
    if layers > 1:
        found.append(
            f"{pour}: {deepest:.1f} mm deep, more than the {resin.greatest_depth_mm:g} mm that "
            f"{resin.name} takes at once: pour {layers} layers"
        )
    shallow = [fill for fill in fills if fill.depth_mm < resin.least_depth_mm - 1e-9]
    if shallow:
        least = min(fill.depth_mm for fill in shallow)
        found.append(
            f"{pour}: {least:.1f} mm is below the least depth of {resin.name} "
            f"({resin.least_depth_mm:g} mm): it may stay soft; take a thinner resin or cut deeper"
        )
    return found


_SHALLOW = re.compile(r"(.+): ([\d.]+ mm) is (below the least depth of .+)")


def join_warnings(warnings: Iterable[str]) -> tuple[str, ...]:
    """Return the warnings of several mixes, pours too shallow for one product in one line."""
    found: dict[str, list[str]] = {}
    plain: dict[str, str] = {}
    for words in warnings:
        match = _SHALLOW.fullmatch(words)
        key = match[3] if match else words
        found.setdefault(key, []).append(f"{match[1]} ({match[2]})" if match else "")
        plain.setdefault(key, words)
    return tuple(
        plain[key] if len(pours) == 1 or not pours[0] else f"{', '.join(pours)}: {key}"
        for key, pours in found.items()
    )


def _batch_warnings(pour: str, batches: Sequence[Batch]) -> list[str]:
    found: list[str] = []
    for batch in batches:
        if batch.cups > 1:
            found.append(
                f"{pour}: {batch.measure.total_g:.0f} g are too much for one cup: mix "
                f"{batch.cups} cups, each just before it is poured"
            )
    smallest = min((min(b.measure.a_g, b.measure.b_g) for b in batches), default=math.inf)
    if smallest < LEAST_PART_G:
        found.append(
            f"{pour}: one part weighs only {smallest:.1f} g: weigh it on a scale that shows "
            "0.01 g, or measure both parts by syringe"
        )
    return found
