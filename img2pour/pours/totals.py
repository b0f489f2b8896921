"""What to have in the shop of each resin, over all that is mixed of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from img2pour.pours.measures import Measure
from img2pour.pours.mixes import Mix
from img2pour.pours.resins import Resin
from img2pour.units import fl_oz_from_ml


@dataclass(frozen=True)
class ProductTotal:
    """What to have in the shop of one resin, over all its pours as they are measured out."""

    resin: Resin
    pours: tuple[str, ...]
    a_ml: float
    b_ml: float
    a_g: float
    b_g: float
    pigment_g: float
    total_ml: float
    total_fl_oz: float
    cost: float


def product_totals(
    mixes: Iterable[Mix], others: Iterable[tuple[Resin, Measure]] = ()
) -> tuple[ProductTotal, ...]:
    """Return the totals per resin, in the order in which the resins first appear.

    Parameters
    ----------
    mixes : iterable of Mix
    others : iterable of (Resin, Measure)
        What is measured out beside them.
    """
    pours: dict[str, dict[str, None]] = {}
    measured: dict[str, list[tuple[Resin, Measure]]] = {}
    for mix in mixes:
        pours.setdefault(mix.resin.name, {})[mix.pour] = None
        batches = [(mix.resin, batch.measure) for batch in mix.batches]
        measured.setdefault(mix.resin.name, []).extend(batches)
    for resin, measure in others:
        measured.setdefault(resin.name, []).append((resin, measure))
    return tuple(
        _total(of_one[0][0], tuple(pours.get(name, ())), [measure for _, measure in of_one])
        for name, of_one in measured.items()
        if of_one
    )


def _total(resin: Resin, pours: tuple[str, ...], measures: Sequence[Measure]) -> ProductTotal:
    total_ml = math.fsum(measure.total_ml for measure in measures)
    return ProductTotal(
        resin=resin,
        pours=pours,
        a_ml=total_ml * resin.share_a,
        b_ml=total_ml * (1.0 - resin.share_a),
        a_g=math.fsum(measure.a_g for measure in measures),
        b_g=math.fsum(measure.b_g for measure in measures),
        pigment_g=math.fsum(measure.pigment_g for measure in measures),
        total_ml=total_ml,
        total_fl_oz=fl_oz_from_ml(total_ml),
        cost=total_ml * resin.price_per_litre / 1000.0,
    )
