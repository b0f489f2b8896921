"""Bits as people type them: ``flat 1/4in``, ``vee 30deg``, ``taper 6.2deg/side r0.5mm``."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from img2pour.errors import SettingsError
from img2pour.job.bits import BIT_EXAMPLES, Bit, BitKind, check_angle, flank_height_mm
from img2pour.units import LENGTH_PATTERN, Length, Sign, length_from_mm, parse_length, quoted, tidy

_KINDS: tuple[BitKind, ...] = ("flat", "vee", "taper", "ball")
_DECIMAL = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_GAP = re.compile(r"[ ,;]+")
_WORD = re.compile(r"[^ ,;]+")
_CLAUSE = re.compile(
    rf"(?:(?P<angle>-?{_DECIMAL}) ?(?:degrees|degree|deg|°)(?P<side> ?(?:/|per) ?side\b)?"
    rf"|(?P<key>tip|radius|r|shank|cut|diameter)?[ =]?(?P<length>{LENGTH_PATTERN}))(?![a-z0-9.])"
)
_LENGTH_KEYS = {None: "diameter", "r": "ball radius", "radius": "ball radius"}
_ALLOWED: dict[BitKind, frozenset[str]] = {
    "flat": frozenset({"diameter", "shank", "cut"}),
    "vee": frozenset({"diameter", "angle", "tip", "shank", "cut"}),
    "taper": frozenset({"diameter", "angle", "ball radius", "shank", "cut"}),
    "ball": frozenset({"diameter", "ball radius", "shank", "cut"}),
}


@dataclass(frozen=True)
class BitSpec:
    """What was typed about a bit; None where nothing was.

    Attributes
    ----------
    kind : {"flat", "vee", "taper", "ball"}
    angle_deg : float or None
        Included angle in degrees.
    diameter, tip, ball_radius, shank, cut : Length or None
        `cut` is the cutting length.
    """

    kind: BitKind
    angle_deg: float | None = None
    diameter: Length | None = None
    tip: Length | None = None
    ball_radius: Length | None = None
    shank: Length | None = None
    cut: Length | None = None

    def __str__(self) -> str:
        lengths = (
            ("", self.diameter),
            ("tip ", self.tip),
            ("r ", self.ball_radius),
            ("shank ", self.shank),
            ("cut ", self.cut),
        )
        angle = [] if self.angle_deg is None else [f"{self.angle_deg:g} deg"]
        return " ".join([self.kind, *angle, *(f"{word}{x}" for word, x in lengths if x)])


def parse_bit_spec(text: str) -> BitSpec:
    """Read a bit as typed, without looking into any table.

    Raises
    ------
    SettingsError
        When the kind is unknown, a number lacks its unit or is missing, or the shape is impossible;
        one line that shows a right example.
    """
    kind, rest = _read_kind(text)
    found: dict[str, float | Length] = {}
    for key, value in _read_clauses(text, kind, rest):
        if key in found:
            raise _refuse(text, kind, f"gives its {key} twice")
        if key not in _ALLOWED[kind]:
            raise _refuse(text, kind, f"gives its {key}, which no {kind} bit has")
        found[key] = value
    spec = BitSpec(
        kind,
        **{key.replace("angle", "angle_deg").replace(" ", "_"): v for key, v in found.items()},  # type: ignore[arg-type]
    )
    return _check_complete(text, spec)


def _read_kind(text: str) -> tuple[BitKind, str]:
    plain = tidy(text)
    first = re.match(r"[a-z]+", plain)
    word = first[0] if first else ""
    for kind in _KINDS:
        if word == kind:
            return kind, plain[len(word) :]
    near = difflib.get_close_matches(word, _KINDS, n=1)
    hint = f" (did you mean {near[0]}?)" if near else ""
    shown = ", ".join(f'"{example}"' for example in BIT_EXAMPLES.values())
    raise SettingsError(
        f"bit {quoted(text)} starts with none of flat, vee, taper, ball{hint}; right ones: {shown}",
        name="bit",
        value=text,
    )


def _read_clauses(text: str, kind: BitKind, rest: str) -> list[tuple[str, float | Length]]:
    found: list[tuple[str, float | Length]] = []
    at = 0
    while at < len(rest):
        gap = _GAP.match(rest, at)
        if gap:
            at = gap.end()
            continue
        clause = _CLAUSE.match(rest, at)
        if clause is None:
            raise _refuse(text, kind, _why_not_a_clause(rest, at))
        try:
            found.append(_clause_value(clause))
        except SettingsError as why:
            raise _refuse(text, kind, f"is wrong: {why}") from None
        at = clause.end()
    return found


def _clause_value(clause: re.Match[str]) -> tuple[str, float | Length]:
    if clause["angle"] is not None:
        return "angle", float(clause["angle"]) * (2 if clause["side"] else 1)
    key = clause["key"]
    sign: Sign = "not negative" if key == "tip" else "positive"
    return _LENGTH_KEYS.get(key, key), parse_length(clause["length"], sign=sign)


def _why_not_a_clause(rest: str, at: int) -> str:
    word = _WORD.match(rest, at)
    shown = quoted(word[0] if word else rest[at:], limit=20)
    if word and re.fullmatch(rf"-?{_DECIMAL}|[0-9]+/[0-9]+", word[0]):
        return f"has the bare number {shown}; add deg for an angle, mm or in for a length"
    return f"has {shown}, which cannot be read"


def _check_complete(text: str, spec: BitSpec) -> BitSpec:
    if spec.kind in {"vee", "taper"} and spec.angle_deg is None:
        raise _refuse(text, spec.kind, "lacks its angle")
    if spec.kind == "taper" and spec.ball_radius is None:
        raise _refuse(text, spec.kind, "lacks the radius of its ball (r)")
    if spec.kind == "flat" and spec.diameter is None:
        raise _refuse(text, spec.kind, "lacks its diameter")
    if spec.kind == "ball" and (spec.diameter is None) == (spec.ball_radius is None):
        raise _refuse(text, spec.kind, "needs either its diameter or its radius (r)")
    if spec.kind in {"vee", "taper"}:
        check_angle(spec.kind, spec.angle_deg)
    if spec.tip and spec.diameter and spec.tip.mm >= spec.diameter.mm:
        raise _refuse(text, spec.kind, f"has a tip ({spec.tip}) as wide as itself")
    widest = spec.diameter or spec.shank
    ball_mm = 2 * spec.ball_radius.mm if spec.ball_radius else 0.0
    if spec.kind == "taper" and widest and ball_mm > widest.mm:
        raise _refuse(text, spec.kind, f"has a ball (r {spec.ball_radius}) wider than {widest}")
    return spec


def _refuse(text: str, kind: BitKind, why: str) -> SettingsError:
    return SettingsError(
        f'bit {quoted(text)} {why}; a right one: "{BIT_EXAMPLES[kind]}"', name="bit", value=text
    )


def complete_bit(spec: BitSpec, table: Sequence[Bit]) -> Bit:
    """Return the whole bit: what was typed, and the rest from the nearest bit in the table.

    Parameters
    ----------
    spec : BitSpec
    table : sequence of Bit
        Searched for bits of the same kind; the first of the nearest ones is taken.

    Raises
    ------
    SettingsError
        When the table has no bit of this kind, or table and spec together make no bit.
    """
    name = str(spec).lower()
    same = next((row for row in table if row.name.lower() == name), None)
    if same is not None:
        told = spec.kind in {"vee", "taper"}
        return replace(same, assumed=_settle_diameter(spec, same)[1] if told else ())
    row = _nearest(spec, table)
    diameter_mm, assumed = _settle_diameter(spec, row)
    shank_mm = spec.shank.mm if spec.shank else row.shank_mm
    if not spec.shank:
        assumed += (_taken("shank", row.shank_mm, row),)
    bit = replace(
        row,
        name=str(spec),
        diameter_mm=diameter_mm,
        angle_deg=spec.angle_deg,
        tip_mm=spec.tip.mm if spec.tip else 0.0,
        ball_radius_mm=_ball_radius_mm(spec),
        shank_mm=shank_mm,
        assumed=(),
    )
    bit, how = _settle_cutting_length(bit, spec, row)
    return replace(bit, assumed=(*assumed, *how, f"feeds and steps from '{row.name}'"))


def _nearest(spec: BitSpec, table: Sequence[Bit]) -> Bit:
    rows = [bit for bit in table if bit.kind == spec.kind]
    if not rows:
        raise SettingsError(
            f"the table of bits has no {spec.kind} bit to complete '{spec}' from; add one",
            name="bit",
            value=str(spec),
        )
    return min(rows, key=lambda row: _distance(spec, row))


def _distance(spec: BitSpec, row: Bit) -> float:
    """Return how unlike two bits are: the sum of the ratios (as logarithms) of what was typed."""
    pairs = [(spec.angle_deg, row.angle_deg), (_ball_radius_mm(spec), row.ball_radius_mm)]
    pairs.append((spec.diameter.mm if spec.diameter else None, row.diameter_mm))
    return sum(abs(math.log(a / b)) for a, b in pairs if a and b)


def _ball_radius_mm(spec: BitSpec) -> float | None:
    if spec.ball_radius:
        return spec.ball_radius.mm
    return spec.diameter.mm / 2 if spec.kind == "ball" and spec.diameter else None


def _settle_diameter(spec: BitSpec, row: Bit) -> tuple[float, tuple[str, ...]]:
    if spec.diameter:
        return spec.diameter.mm, ()
    if spec.kind == "ball" and spec.ball_radius:
        return 2 * spec.ball_radius.mm, ()
    if spec.kind == "taper" and spec.shank:
        return spec.shank.mm, ()
    return row.diameter_mm, (_taken("diameter", row.diameter_mm, row),)


def _taken(what: str, mm: float, row: Bit) -> str:
    """Say what was taken from the table; whole 64ths of an inch are shown as well."""
    inches = length_from_mm(mm, "in")
    shown = f" ({inches})" if inches.unit == "in" and "." not in inches.text else ""
    return f"{what} {mm:g} mm{shown} from '{row.name}'"


def _settle_cutting_length(bit: Bit, spec: BitSpec, row: Bit) -> tuple[Bit, tuple[str, ...]]:
    """Set the cutting length: typed, or the height of the flank, or that of the table."""
    if bit.angle_deg is None:
        if spec.cut:
            return replace(bit, cutting_length_mm=spec.cut.mm), ()
        return bit, (_taken("cutting length", row.cutting_length_mm, row),)
    height_mm = flank_height_mm(
        bit.kind, bit.diameter_mm, bit.angle_deg, bit.tip_mm, bit.ball_radius_mm or 0.0
    )
    return replace(bit, cutting_length_mm=spec.cut.mm if spec.cut else height_mm), ()
