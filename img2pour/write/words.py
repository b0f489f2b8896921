"""Figures as a person reads them on the work sheet, always with their unit."""

from __future__ import annotations

import re

from img2pour.units import MM_PER_INCH, Shown, fl_oz_from_ml, format_area

SEEN_MM2 = 0.05
"""A smaller loss is not seen; own judgement."""


_HEX = re.compile(r"#[0-9a-fA-F]{6}")


def is_colour_code(text: str) -> bool:
    """Tell whether a text is ``#rrggbb`` and nothing else."""
    return _HEX.fullmatch(text) is not None


def plain(value: float, places: int = 1) -> str:
    """Return a number with at most so many decimals, without needless zeros."""
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def grams(value: float) -> str:
    """Return a weight, to a tenth of a gram."""
    return f"{plain(value)} g"


def millilitres(value: float) -> str:
    """Return a volume in ml, to a tenth below 100."""
    if 0 < value < 0.05:
        return "under 0.1 ml"
    return f"{plain(value, 1 if value < 100 else 0)} ml"


def fluid_ounces(ml: float) -> str:
    """Return a volume given in ml as US fluid ounces."""
    return f"{fl_oz_from_ml(ml):.2f} fl oz"


def ounce_marks(value: float) -> str:
    """Return US fluid ounces on the marks of a cup: whole ones and eighths."""
    eighths = round(value * 8)
    whole, rest = divmod(eighths, 8)
    part = {0: "", 2: "1/4", 4: "1/2", 6: "3/4"}.get(rest, f"{rest}/8")
    return " ".join(filter(None, [str(whole) if whole or not part else "", part, "fl oz"]))


def hours(value: float) -> str:
    """Return hours, in minutes below one."""
    return f"{value * 60:.0f} min" if 0 < value < 1 else f"{plain(value)} h"


def days(value: float) -> str:
    """Return days."""
    text = plain(value)
    return f"{text} day" if text == "1" else f"{text} days"


def money(value: float) -> str:
    """Return a price: the user knows in which money."""
    return f"{value:.2f}"


def percent(value: float) -> str:
    """Return a share; what is not whole never reads as 100 or 0."""
    if 99.95 <= value < 100:
        return "99.9 %"
    return "below 0.1 %" if 0 < value < 0.05 else f"{plain(value)} %"


def ratio(parts: tuple[float, float]) -> str:
    """Return parts A : B."""
    return f"{plain(parts[0], 2)} : {plain(parts[1], 2)}"


def size(width_mm: float, height_mm: float, units: Shown) -> str:
    """Return width x height in one unit."""
    if units == "mm":
        return f"{plain(width_mm)} x {plain(height_mm)} mm"
    return f"{plain(width_mm / MM_PER_INCH, 3)} x {plain(height_mm / MM_PER_INCH, 3)} in"


def place(at_mm: tuple[float, float], units: Shown) -> str:
    """Return a place: to the right and up from the zero."""
    if units == "mm":
        return f"{at_mm[0]:.1f}, {at_mm[1]:.1f} mm"
    return f"{at_mm[0] / MM_PER_INCH:.2f}, {at_mm[1] / MM_PER_INCH:.2f} in"


def span(mm: float, units: Shown) -> str:
    """Return a length: ``3.175 mm``, or ``0.125 in (3.175 mm)`` where inches are read."""
    metric = f"{plain(mm, 3 if mm < 100 else 0)} mm"
    inches = mm / MM_PER_INCH
    places = 1 if inches >= 10 else 3 if inches >= 0.01 or not mm else 4
    return metric if units == "mm" else f"{plain(inches, places)} in ({metric})"


def in_one_unit(mm: float, units: Shown) -> str:
    """Return a length to a thousandth of an inch or of a mm."""
    return f"{plain(mm, 3)} mm" if units == "mm" else f"{mm / MM_PER_INCH:.3f} in"


def gap(mm: float, units: Shown) -> str:
    """Return a width or a length as a calliper or a tape shows it."""
    metric = f"{plain(mm, 2 if mm < 10 else 0)} mm"
    inches = mm / MM_PER_INCH
    return metric if units == "mm" else f"{plain(inches, 3 if inches < 1 else 2)} in ({metric})"


def rule_figure(value: float, unit: str, units: Shown) -> str:
    """Return the figure of a rule: a length, an area or a number of things."""
    if unit == "mm":
        return f"{plain(value)} mm" if units == "mm" else f"{plain(value / MM_PER_INCH)} in"
    if unit == "mm2":
        return format_area(value, units)
    return f"{plain(value)} {unit.removesuffix('s') if value == 1 else unit}"


def lost(mm2: float, units: Shown) -> str:
    """Return a lost area; below what a person would see it is none."""
    return "none" if mm2 < SEEN_MM2 else format_area(mm2, units)
