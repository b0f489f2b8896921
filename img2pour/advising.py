"""The verdict's advice as changes to the job, ready to be taken."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from img2pour.judging import advice_lines
from img2pour.units import MM_PER_INCH, Shown

if TYPE_CHECKING:
    from img2pour.carve.advice import BitGain
    from img2pour.carve.verdict import Verdict
    from img2pour.job.model import Job
    from img2pour.write.values import Board

EIGHTHS = 8
"""Advised widths are rounded up to an eighth of an inch or a whole millimetre."""

SLACK_MM = 1e-6


@dataclass(frozen=True)
class Offer:
    """One piece of advice.

    Attributes
    ----------
    words : str
        What would be won, with its number.
    button : str
        What taking it does.
    changes : tuple of (path, value)
        Settings of the job; empty where there is nothing to take.
    """

    words: str
    button: str
    changes: tuple[tuple[str, Any], ...]


def offers_of(verdict: Verdict, job: Job, board: Board) -> tuple[Offer, ...]:
    """Return the advice of a verdict as changes to its job, the best first."""
    units, advice = job.shown_units, verdict.advice
    words = iter(advice_lines(advice, units))
    offers = []
    for width_mm in (advice.whole_width_mm, advice.most_width_mm):
        if width_mm is not None:
            offers.append(_larger(next(words), width_mm, job, board))
    if advice.largest_flat_mm is not None:
        offers.append(Offer(next(words), "", ()))
    if advice.gain is not None:
        offers.append(_added(next(words), advice.gain, job))
    if _loses_strokes(verdict) and job.carving.small != "widen":
        offers.append(
            Offer(
                "strokes that the bits cannot enter can be widened until they can",
                "widen what is too narrow",
                (("carving.small", "widen"),),
            )
        )
    if verdict.walls and job.carving.thin_walls == "mark":
        offers.append(
            Offer(
                "walls too thin to stand can be thickened at the cost of the pockets beside them",
                "thicken thin walls",
                (("carving.thin_walls", "thicken"),),
            )
        )
    return tuple(offers)


def _loses_strokes(verdict: Verdict) -> bool:
    return any(finding.area_mm2 > 0 for finding in verdict.findings)


def _larger(words: str, width_mm: float, job: Job, board: Board) -> Offer:
    """Return the offer of a board of this width, with its proportions."""
    text = rounded_up(width_mm, job.shown_units)
    if width_mm <= board.width_mm:
        return Offer(words, "", ())
    return Offer(words, f"make it {text} wide", width_changes(width_mm, job, board))


def width_changes(width_mm: float, job: Job, board: Board) -> tuple[tuple[str, Any], ...]:
    """Return the changes that make the board so wide or a little wider, its proportions kept."""
    units = job.shown_units
    if job.size.board is None:
        return (("size.width", rounded_up(width_mm, units)),)
    factor = width_mm / board.width_mm
    sides = [rounded_up(side.mm * factor, units) for side in job.size.board]
    changes: list[tuple[str, Any]] = [("size.board", " x ".join(sides))]
    if job.size.margin is not None:
        changes.append(("size.margin", rounded_up(job.size.margin.mm * factor, units)))
    return tuple(changes)


def rounded_up(length_mm: float, units: Shown) -> str:
    """Return a length as it is typed, up to the next eighth of an inch or whole millimetre."""
    if units == "mm":
        return f"{math.ceil(length_mm - SLACK_MM)} mm"
    whole, rest = divmod(math.ceil((length_mm - SLACK_MM) / MM_PER_INCH * EIGHTHS), EIGHTHS)
    part = str(Fraction(rest, EIGHTHS)) if rest else ""
    return f"{' '.join(text for text in (str(whole) if whole else '', part) if text)} in"


def _added(words: str, gain: BitGain, job: Job) -> Offer:
    """Return the offer of one more bit on the shelf."""
    return Offer(
        words, f"add {gain.bit}", (("bits.use", [*job.model_dump()["bits"]["use"], gain.bit]),)
    )
