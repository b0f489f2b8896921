"""What to measure out for one batch: parts by volume and by weight, rounded up, never confused."""

from __future__ import annotations

import math
from dataclasses import dataclass

from img2pour.pours.resins import Resin
from img2pour.units import ML_PER_FL_OZ, fl_oz_from_ml

# What cups, syringes and shop scales show. Common practice, no source.
_ML_STEPS = ((20.0, 0.5), (100.0, 1.0), (500.0, 5.0), (math.inf, 10.0))  # up to, step
_FL_OZ_STEPS = ((8.0, 0.125), (math.inf, 0.25))
_SCALE_STEPS_G = (1.0, 0.1)
_RATIO_ERROR = 0.01  # of the smaller part; own judgement: makers give one ratio and no latitude
_GREATEST_WHOLE_PART = 12
_SLACK = 1e-9  # of a step: a value on a mark, but for the last bits, stays on it


@dataclass(frozen=True)
class Measure:
    """One batch to measure out: by volume or by weight, either one alone.

    The weights and the volumes are rounded each for itself, so they differ by a step.

    Attributes
    ----------
    a_ml, b_ml : float or None
        Parts by volume; None when no cup shows them exactly enough: mix by weight.
    a_fl_oz, b_fl_oz : float or None
        The same in US fluid ounces, on marks of 1/8 or 1/4.
    a_g, b_g : float
        Parts by weight.
    scale_step_g : float
        What the scale must show.
    pigment_g : float
        By weight of the mix; not counted in its volume.
    total_ml, total_fl_oz, total_g : float
        Of the parts by volume (of the parts by weight where those are None); by weight, without
        pigment.
    """

    a_ml: float | None
    b_ml: float | None
    a_fl_oz: float | None
    b_fl_oz: float | None
    a_g: float
    b_g: float
    scale_step_g: float
    pigment_g: float
    total_ml: float
    total_fl_oz: float
    total_g: float


def measure_out(total_ml: float, resin: Resin, *, pigment_share: float = 0.0) -> Measure:
    """Return what to measure for at least `total_ml` of mixed resin, rounded up to marks.

    Parameters
    ----------
    total_ml : float
        Mixed resin needed, 0 or more.
    resin : Resin
        Its ratio and densities.
    pigment_share : float
        Grams of pigment for each gram of mix.
    """
    by_ml = _parts_by_volume(total_ml, resin, _ML_STEPS)
    by_fl_oz = _parts_by_volume(fl_oz_from_ml(total_ml), resin, _FL_OZ_STEPS)
    a_g, b_g, step_g = _parts_by_weight(total_ml, resin)
    total_g = a_g + b_g
    measured_ml = sum(by_ml) if by_ml else total_g / resin.mixed_density_g_per_ml
    return Measure(
        a_ml=by_ml[0] if by_ml else None,
        b_ml=by_ml[1] if by_ml else None,
        a_fl_oz=by_fl_oz[0] if by_fl_oz else None,
        b_fl_oz=by_fl_oz[1] if by_fl_oz else None,
        a_g=a_g,
        b_g=b_g,
        scale_step_g=step_g,
        pigment_g=_pigment_g(total_g * pigment_share),
        total_ml=measured_ml,
        total_fl_oz=sum(by_fl_oz) if by_fl_oz else measured_ml / ML_PER_FL_OZ,
        total_g=round(total_g, 1),
    )


def round_up(value: float, step: float) -> float:
    """Return the first whole number of steps that is not below the value."""
    return round(math.ceil(value / step - _SLACK) * step, 6)


def _step(value: float, steps: tuple[tuple[float, float], ...]) -> float:
    return next(step for up_to, step in steps if value <= up_to)


def _parts_by_volume(
    total: float, resin: Resin, steps: tuple[tuple[float, float], ...]
) -> tuple[float, float] | None:
    """Return both parts on marks of a cup, or None when the marks miss the ratio by too much."""
    parts = _whole_parts(resin)
    if parts is not None:
        each = round_up(total / sum(parts), _step(total / sum(parts), steps))
        return each * parts[0], each * parts[1]
    a = round_up(total * resin.share_a, _step(total * resin.share_a, steps))
    exact_b = a * resin.parts_b / resin.parts_a
    step = _step(exact_b, steps)
    b = round(round(exact_b / step) * step, 6)
    good = a + b >= total * (1.0 - _SLACK) and abs(b - exact_b) <= _RATIO_ERROR * min(a, exact_b)
    return (a, b) if good else None


def _whole_parts(resin: Resin) -> tuple[int, int] | None:
    """Return the ratio in small whole numbers, or None."""
    small = min(resin.parts_a, resin.parts_b)
    for times in range(1, _GREATEST_WHOLE_PART + 1):  # 3:2 is 1.5:1
        a, b = resin.parts_a / small * times, resin.parts_b / small * times
        whole = abs(a - round(a)) < _SLACK and abs(b - round(b)) < _SLACK
        if whole and max(a, b) <= _GREATEST_WHOLE_PART:
            return round(a), round(b)
    return None


def _parts_by_weight(total_ml: float, resin: Resin) -> tuple[float, float, float]:
    """Return part A rounded up, part B to match it, and the scale's step, all in grams."""
    exact_a = total_ml * resin.share_a * resin.density_a_g_per_ml
    b_per_a = resin.parts_b_by_weight / 100.0
    smaller = min(exact_a, exact_a * b_per_a)
    step = next((s for s in _SCALE_STEPS_G if s <= _RATIO_ERROR * smaller), _SCALE_STEPS_G[-1])
    needed = exact_a * (1.0 + b_per_a)
    a = round_up(exact_a, step)
    b = _nearest(a * b_per_a, step)
    while a + b < needed * (1.0 - _SLACK):
        a = round(a + step, 6)
        b = _nearest(a * b_per_a, step)
    return a, b, step


def _nearest(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def _pigment_g(exact: float) -> float:
    return max(_nearest(exact, 0.1), 0.1) if exact > 0 else 0.0
