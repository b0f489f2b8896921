"""Lengths, areas and volumes as people type and read them.

Inside img2pour a length is a float in millimetres. A :class:`Length` also remembers the unit that
was typed, so that a person sees it again. Nothing here loads a heavy library.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from img2pour.errors import SettingsError

MM_PER_INCH = 25.4  # exact: NIST SP 811, appendix B
ML_PER_FL_OZ = 29.5735295625  # exact: US gallon of 231 cubic inches / 128, NIST Handbook 44, app. C
MM2_PER_SQUARE_INCH = 645.16  # exact: 25.4 squared

LONGEST_MM = 100_000.0  # a hundred metres: more is a slip of the keyboard

Unit = Literal["in", "ft", "mm", "cm"]
Sign = Literal["positive", "not negative", "any"]
Shown = Literal["in", "mm"]

_MM_PER_UNIT: dict[Unit, Fraction] = {
    "in": Fraction(254, 10),
    "ft": Fraction(3048, 10),
    "mm": Fraction(1),
    "cm": Fraction(10),
}
_UNIT_WORDS: dict[str, Unit] = {
    "in": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "''": "in",
    "ft": "ft",
    "foot": "ft",
    "feet": "ft",
    "'": "ft",
    "mm": "mm",
    "cm": "cm",
}
UNITS_THAT_EXIST = "in (or \"), ft (or '), mm, cm"
EXAMPLES = '14 1/4 in, 0.125in, 1/8", 3.2 mm or 9 cm'

_NUMBER = r"(?:[0-9]+[ -]+[0-9]+ ?/ ?[0-9]+|[0-9]+ ?/ ?[0-9]+|[0-9]+\.?[0-9]*|\.[0-9]+)"
_UNIT = r"(?:inches|inch|in|feet|foot|ft|mm|cm|''|\"|')(?![a-z])"
LENGTH_PATTERN = (
    rf"(?:[0-9]+ ?(?:feet|foot|ft|')[ -]*(?={_NUMBER} ?(?:in|''|\")))?{_NUMBER} ?{_UNIT}"
)
_LENGTH = re.compile(
    rf"(?P<sign>[+-]?) ?(?:(?P<feet>[0-9]+) ?(?:feet|foot|ft|')[ -]*)?"
    rf"(?P<number>{_NUMBER}) ?(?P<unit>{_UNIT})"
)
_BARE_NUMBER = re.compile(rf"[+-]? ?(?:{_NUMBER})")
_BOARD_CROSS = re.compile(r" ?(?:x|×|\*|by) ?")
_LOOKALIKES = str.maketrans(
    {
        **dict.fromkeys("″“”„‟＂", '"'),
        **dict.fromkeys("′‘’‛ʹ＇", "'"),
        **dict.fromkeys("‐‑‒–—−﹣－", "-"),
        **dict.fromkeys("⁄∕／", "/"),
        **dict.fromkeys("\t\u00a0\u2002\u2003\u2007\u2009\u200a\u202f", " "),
    }
)


@dataclass(frozen=True)
class Length:
    """A length with the unit it was typed in.

    Attributes
    ----------
    mm : float
        The length in millimetres.
    unit : {"in", "ft", "mm", "cm"}
        The unit that was typed.
    text : str
        The length as typed, tidied (``14-1/4"`` becomes ``14 1/4 in``); it reads back to the same
        value.
    """

    mm: float
    unit: Unit
    text: str

    def __str__(self) -> str:
        return self.text


def quoted(value: object, limit: int = 40) -> str:
    """Return a value for a message: on one line, in quotes, control characters spelt out, cut."""
    text = value if isinstance(value, str) else str(value)
    if len(text) > limit:
        text = text[: limit - 3] + "..."
    safe = "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
    return f"'{safe}'"


def tidy(text: str) -> str:
    """Return typed text in plain letters: one kind of quote, dash, slash and space, no ``¼``."""
    plain = "".join(_spell_fraction(c) for c in text.translate(_LOOKALIKES))
    return re.sub(r" +", " ", plain).strip().lower()


def _spell_fraction(character: str) -> str:
    if unicodedata.category(character) != "No" or "⁄" not in unicodedata.normalize(
        "NFKC", character
    ):
        return character
    return " " + unicodedata.normalize("NFKC", character).replace("⁄", "/")


def parse_length(text: str, *, name: str = "", sign: Sign = "positive") -> Length:
    """Read a length as a person types it.

    Parameters
    ----------
    text : str
        For example ``14 1/4 in``, ``14-1/4"``, ``.125 in``, ``1/8"``, ``2 ft 6 in``, ``3.2mm``.
    name : str
        What the length is; it opens the message of an error.
    sign : {"positive", "not negative", "any"}
        Which lengths are allowed.

    Raises
    ------
    SettingsError
        When the unit is missing or unknown, the number cannot be read, or the sign is wrong.
    """
    plain = tidy(text)
    match = _LENGTH.fullmatch(plain)
    if match is None:
        raise _refuse(name, text, _why_not_a_length(plain))
    try:
        number, spelt = _read_number(match["number"])
    except ValueError as why:
        raise _refuse(name, text, str(why)) from None
    unit = _UNIT_WORDS[match["unit"]]
    if match["feet"] is not None:
        if unit != "in":
            raise _refuse(name, text, "after feet come inches: write it like 2 ft 6 in")
        number += 12 * int(match["feet"])
        spelt = f"{int(match['feet'])} ft {spelt}"
    minus = match["sign"] == "-"
    mm = number * _MM_PER_UNIT[unit] * (-1 if minus else 1)
    _check_size(mm, name, text, sign)
    return Length(float(mm), unit, f"{'-' if minus and mm else ''}{spelt} {unit}")


def _refuse(name: str, value: str, why: str) -> SettingsError:
    opening = f"{name}: " if name else ""
    return SettingsError(f"{opening}{quoted(value)} {why}", name=name, value=value)


def _why_not_a_length(plain: str) -> str:
    if not plain:
        return f"is empty; write a length like {EXAMPLES}"
    if _BARE_NUMBER.fullmatch(plain):
        return f"has no unit; the units are {UNITS_THAT_EXIST}: write {plain} in or {plain} mm"
    if "," in plain:
        return f"has a comma; write decimals with a point, like {EXAMPLES}"
    wrong_unit = re.fullmatch(rf"[+-]? ?{_NUMBER} ?([a-zµ]+)", plain)
    if wrong_unit:
        word = quoted(wrong_unit[1], limit=12)
        return f"has the unit {word}, which is not known; the units are {UNITS_THAT_EXIST}"
    return f"is not a length; write it like {EXAMPLES}"


def _read_number(text: str) -> tuple[Fraction, str]:
    """Return the exact number and its tidy spelling; ValueError says what is wrong."""
    if len(text) > 40:
        raise ValueError("has too many digits")
    if "/" not in text:
        number = Fraction("0" + text if text.startswith(".") else text.rstrip("."))
        return number, _spell_decimal(number)
    whole, top, bottom = re.fullmatch(r"(?:([0-9]+)[ -]+)?([0-9]+) ?/ ?([0-9]+)", text).groups()  # type: ignore[union-attr]
    if int(bottom) == 0:
        raise ValueError("divides by zero; write a fraction like 1/8")
    if whole is None:
        return Fraction(int(top), int(bottom)), f"{int(top)}/{int(bottom)}"
    if int(top) >= int(bottom):
        raise ValueError(f"has a fraction that is not below 1; write it like {whole} 1/4")
    return (
        int(whole) + Fraction(int(top), int(bottom)),
        f"{int(whole)} {int(top)}/{int(bottom)}",
    )


def _spell_decimal(number: Fraction) -> str:
    """Spell a number that was typed as decimals, without needless zeros."""
    whole, rest = divmod(number, 1)
    digits = ""
    while rest:
        digit, rest = divmod(rest * 10, 1)
        digits += str(digit)
    return f"{whole}.{digits}" if digits else str(whole)


def _check_size(mm: Fraction, name: str, text: str, sign: Sign) -> None:
    if mm > LONGEST_MM or mm < -LONGEST_MM:
        raise _refuse(name, text, "is longer than 100 m; check the number and its unit")
    if sign == "positive" and mm <= 0:
        raise _refuse(name, text, "must be above 0")
    if sign == "not negative" and mm < 0:
        raise _refuse(name, text, "must not be below 0")


def parse_board(text: str, *, name: str = "") -> tuple[Length, Length]:
    """Read the size of a board, ``21x14.25in`` or ``21in x 14 1/4 in``: width, then height.

    A first length without a unit takes the unit of the second.

    Raises
    ------
    SettingsError
        When there are not two lengths above 0.
    """
    sides = _BOARD_CROSS.split(tidy(text))
    if len(sides) != 2:
        raise _refuse(name, text, "is not a board; write width x height like 21x14.25in")
    if not _BARE_NUMBER.fullmatch(sides[0]):
        first = parse_length(sides[0], name=name)
        return first, parse_length(sides[1], name=name)
    second = parse_length(sides[1], name=name)
    return parse_length(f"{sides[0]} {second.unit}", name=name), second


def length_from_mm(mm: float, unit: Shown) -> Length:
    """Return a Length whose text reads back to exactly `mm`, in inches where that is possible.

    An even 64th of an inch is spelt as a fraction; what has no exact text in inches is in mm.
    """
    if unit == "in":
        for spelt in (_spell_64ths(mm), repr(round(mm / MM_PER_INCH, 6))):
            if "e" not in spelt and parse_length(f"{spelt} in", sign="any").mm == mm:
                return parse_length(f"{spelt} in", sign="any")
    return parse_length(f"{Decimal(repr(mm)):f} mm", sign="any")


def _spell_64ths(mm: float) -> str:
    count = round(abs(mm) / MM_PER_INCH * 64)
    whole, rest = divmod(count, 64)
    minus = "-" if mm < 0 and count else ""
    if not rest:
        return f"{minus}{whole}"
    part = Fraction(rest, 64)
    fraction = f"{part.numerator}/{part.denominator}"
    return f"{minus}{whole} {fraction}" if whole else f"{minus}{fraction}"


def format_length(mm: float, unit: Shown) -> str:
    """Return a length to read: ``14 1/4 in (14.25)``, to a 64th and as decimal, or ``9.2 mm``."""
    if unit == "mm":
        return f"{_decimal(mm, 3 if abs(mm) < 10 else 2)} mm"
    decimal = _decimal(mm / MM_PER_INCH, 4)
    fraction = _spell_64ths(mm)
    if fraction in {decimal, "0"}:
        return f"{decimal} in"
    return f"{fraction} in ({decimal})"


def _decimal(value: float, places: int) -> str:
    if not math.isfinite(value):
        return str(value)
    text = f"{value:.{places}f}".rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


def format_area(mm2: float, unit: Shown) -> str:
    """Return an area to read: in square inches, or in cm2 (mm2 below one cm2)."""
    if unit == "mm":
        return f"{mm2 / 100:.2f} cm2" if mm2 >= 100 else f"{mm2:.2f} mm2"
    square_inches = mm2 / MM2_PER_SQUARE_INCH
    return f"{square_inches:.{2 if square_inches >= 0.1 else 4}f} sq in"


def format_volume(ml: float, unit: Shown) -> str:
    """Return a volume to read, in US fluid ounces or millilitres."""
    return f"{fl_oz_from_ml(ml):.2f} fl oz" if unit == "in" else f"{ml:.1f} ml"


def fl_oz_from_ml(ml: float) -> float:
    """Return US fluid ounces (never imperial ones) for millilitres."""
    return ml / ML_PER_FL_OZ


def ml_from_mm3(mm3: float) -> float:
    """Return millilitres for cubic millimetres."""
    return mm3 / 1000.0
