"""The plan's words in the units that a person reads."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from img2pour.units import MM_PER_INCH, Shown

if TYPE_CHECKING:
    from img2pour.pours.plan_values import PourPlan

# Figures before "mm": one, or a pair such as "2, 80 mm", "300 x 200 mm", "12 of 640 mm".
_FIGURES = re.compile(
    r"(?<![\w.])(\d+(?:\.\d+)?)((?:, | x | of )(?:\d+(?:\.\d+)?))? (?:mm\b)(?! per mm)"
)
_FIGURE = re.compile(r"\d+(?:\.\d+)?")


def plan_in_units(plan: PourPlan, units: Shown) -> PourPlan:
    """Return a plan whose warnings, findings and hints speak in these units."""
    if units == "mm":
        return plan
    return replace(
        plan,
        warnings=tuple(map(in_inches, plan.warnings)),
        findings=tuple(replace(one, words=in_inches(one.words)) for one in plan.findings),
        hints=tuple(replace(hint, words=in_inches(hint.words)) for hint in plan.hints),
    )


def in_inches(words: str) -> str:
    """Return words with every length in mm as decimal inches; areas stay as they are."""
    return _FIGURES.sub(_in_inches, words)


def _in_inches(found: re.Match[str]) -> str:
    return _FIGURE.sub(lambda one: _spelt(float(one[0])), found[1] + (found[2] or "")) + " in"


def _spelt(mm: float) -> str:
    """Return a length as inches: thousandths below one inch, hundredths above."""
    inches = mm / MM_PER_INCH
    text = f"{inches:.3f}" if inches < 1 else f"{inches:.2f}"
    return text.rstrip("0").rstrip(".")
