"""The plan's words in the units that a person reads."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from img2pour.units import MM_PER_INCH, Shown, format_area

if TYPE_CHECKING:
    from img2pour.pours.plan_values import PourPlan

# Figures before a unit: one, or a pair such as "2, 80 mm", "300 x 200 mm", "12 of 640 mm".
_FIGURES = re.compile(
    r"(?<![\w.])(\d+(?:\.\d+)?)((?:, | x | of )(?:\d+(?:\.\d+)?))? (mm2|cm2|mm)\b(?! per mm)"
)
_FIGURE = re.compile(r"\d+(?:\.\d+)?")
MM2_PER_UNIT = {"mm2": 1.0, "cm2": 100.0}


def plan_in_units(plan: PourPlan, units: Shown) -> PourPlan:
    """Return a plan whose warnings, findings and hints speak in these units."""
    if units == "mm":
        return plan
    mixes = (
        tuple(replace(mix, warnings=tuple(map(in_inches, mix.warnings))) for mix in of_stage)
        for of_stage in plan.mixes
    )
    return replace(
        plan,
        choice=replace(plan.choice, why=in_inches(plan.choice.why)),
        mixes=tuple(mixes),
        warnings=tuple(map(in_inches, plan.warnings)),
        findings=tuple(replace(one, words=in_inches(one.words)) for one in plan.findings),
        hints=tuple(replace(hint, words=in_inches(hint.words)) for hint in plan.hints),
    )


def in_units(words: str, units: Shown) -> str:
    """Return words, written in mm, in these units."""
    return words if units == "mm" else in_inches(words)


def in_inches(words: str) -> str:
    """Return words with every length in mm and every area as decimal inches and square inches."""
    return _FIGURES.sub(_in_inches, words)


def _in_inches(found: re.Match[str]) -> str:
    figures, unit = found[1] + (found[2] or ""), found[3]
    if unit in MM2_PER_UNIT:
        whole = MM2_PER_UNIT[unit]
        return _FIGURE.sub(lambda one: _spelt_area(float(one[0]) * whole), figures) + " sq in"
    return _FIGURE.sub(lambda one: _spelt(float(one[0])), figures) + " in"


def _spelt_area(mm2: float) -> str:
    return format_area(mm2, "in").removesuffix(" sq in")


def _spelt(mm: float) -> str:
    """Return a length as inches: hundredths, thousandths below one inch, finer for a film."""
    inches = mm / MM_PER_INCH
    text = f"{inches:.{2 if inches >= 1 else 3 if inches >= 0.01 else 4}f}"
    return text.rstrip("0").rstrip(".")
