"""The reserve for pinholes: a little of each coloured resin, mixed again at the end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from img2pour.pours.measures import Measure, measure_out
from img2pour.pours.mixes import LEAST_PART_G
from img2pour.pours.resins import Resin


@dataclass(frozen=True)
class TouchUp:
    """What to mix of one coloured resin to fill the pinholes that levelling opens.

    Attributes
    ----------
    name : str
        Of the coloured resin: all pours that are cast in it.
    resin : Resin
        The product.
    measure : Measure
    """

    name: str
    resin: Resin
    measure: Measure

    @property
    def cost(self) -> float:
        """As measured out, in the user's own money."""
        return self.measure.total_ml * self.resin.price_per_litre / 1000.0


def plan_touch_ups(
    casts: Iterable[tuple[str, Resin, bool]], least_ml: float
) -> tuple[TouchUp, ...]:
    """Return what to mix of each coloured resin, each once; nothing where `least_ml` is 0.

    Parameters
    ----------
    casts : iterable of (name, Resin, pigmented)
    least_ml : float
        Of each; more where its smaller part could not be weighed well.
    """
    if least_ml <= 0.0:
        return ()
    by_name = {name: (resin, pigmented) for name, resin, pigmented in casts}
    return tuple(
        TouchUp(name, resin, _measure(resin, least_ml, pigmented))
        for name, (resin, pigmented) in by_name.items()
    )


def _measure(resin: Resin, least_ml: float, pigmented: bool) -> Measure:
    part_a = resin.share_a * resin.density_a_g_per_ml
    part_b = (1.0 - resin.share_a) * resin.density_b_g_per_ml
    total_ml = max(least_ml, LEAST_PART_G / min(part_a, part_b))
    return measure_out(total_ml, resin, pigment_share=resin.pigment_share if pigmented else 0.0)
