"""The cutter as a value: what every other part of img2pour knows about a bit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from img2pour.errors import SettingsError

BitKind = Literal["flat", "vee", "taper", "ball"]

BIT_EXAMPLES: dict[BitKind, str] = {
    "flat": "flat 1/4in",
    "vee": "vee 60deg tip 0.2mm",
    "taper": "taper 12.4deg r0.5mm shank 6mm",
    "ball": "ball 3mm",
}


@dataclass(frozen=True)
class Bit:
    """One cutter.

    Attributes
    ----------
    name : str
        Its plain name, for example ``"vee 30 deg"``.
    kind : {"flat", "vee", "taper", "ball"}
        ``taper`` is a tapered ball nose.
    diameter_mm : float
        Of the widest part that cuts (for a taper: where its flank ends).
    angle_deg : float or None
        Included angle of a vee or a taper, 0 to 180 (both excluded); None for the others.
    tip_mm : float
        Width of the flat at a vee's tip; 0 for a sharp one and for the other kinds.
    ball_radius_mm : float or None
        Radius of the round tip of a taper or a ball; None for the others.
    shank_mm : float
        Diameter of the shank.
    cutting_length_mm : float
        The deepest cut that the edges reach, measured from the tip.
    feed_mm_min, plunge_mm_min : float
        Speed sideways and downwards.
    stepover_share : float
        Distance between neighbouring passes as a share of the diameter, above 0 and at most 1.
    depth_per_pass_mm : float
        How much deeper each pass goes.
    assumed : tuple of str
        What was not typed but taken from the table of bits, in plain words.

    Raises
    ------
    SettingsError
        When no such bit can exist.
    """

    name: str
    kind: BitKind
    diameter_mm: float
    angle_deg: float | None = None
    tip_mm: float = 0.0
    ball_radius_mm: float | None = None
    shank_mm: float = 6.0
    cutting_length_mm: float = 20.0
    feed_mm_min: float = 1500.0
    plunge_mm_min: float = 500.0
    stepover_share: float = 0.4
    depth_per_pass_mm: float = 1.5
    assumed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_shape(self.kind, self.diameter_mm, self.angle_deg, self.tip_mm, self.ball_radius_mm)
        for what in ("shank_mm", "cutting_length_mm", "feed_mm_min", "plunge_mm_min"):
            _check_positive(self.kind, what, getattr(self, what))
        _check_positive(self.kind, "depth_per_pass_mm", self.depth_per_pass_mm)
        if not 0 < self.stepover_share <= 1:
            raise _refuse(self.kind, f"has a stepover of {self.stepover_share:g}; use 0 to 100 %")


def check_shape(
    kind: BitKind,
    diameter_mm: float,
    angle_deg: float | None,
    tip_mm: float,
    ball_radius_mm: float | None,
) -> None:
    """Raise SettingsError unless a bit of this shape can exist; the message shows a right one."""
    _check_positive(kind, "diameter", diameter_mm)
    if kind in {"vee", "taper"}:
        check_angle(kind, angle_deg)
    if not 0 <= tip_mm < diameter_mm:
        raise _refuse(
            kind, f"has a tip of {tip_mm:g} mm, as wide as the bit itself ({diameter_mm:g} mm)"
        )
    if kind in {"taper", "ball"}:
        if ball_radius_mm is None:
            raise _refuse(kind, "has no ball radius")
        _check_positive(kind, "ball radius", ball_radius_mm)
        if ball_radius_mm * 2 > diameter_mm * (1 + 1e-9):
            raise _refuse(
                kind,
                f"has a round tip {2 * ball_radius_mm:g} mm wide, "
                f"wider than the bit itself ({diameter_mm:g} mm)",
            )


def check_angle(kind: BitKind, angle_deg: float | None) -> None:
    """Raise SettingsError unless the included angle lies between 0 and 180 degrees."""
    if angle_deg is None:
        raise _refuse(kind, "has no angle")
    if not 0 < angle_deg < 180:
        raise _refuse(
            kind, f"has an angle of {angle_deg:g} deg; it must be above 0 and below 180 deg"
        )


def flank_height_mm(
    kind: BitKind, diameter_mm: float, angle_deg: float, tip_mm: float, ball_radius_mm: float
) -> float:
    """Return the height above the tip at which a vee or a taper reaches its full diameter.

    The flank of a taper leaves its ball where it is tangent to it: at height r (1 - sin a) and
    radius r cos a, with a half the included angle.
    """
    half = math.radians(angle_deg) / 2
    if kind == "vee":
        return (diameter_mm - tip_mm) / 2 / math.tan(half)
    rise = ball_radius_mm * (1 - math.sin(half))
    return rise + (diameter_mm / 2 - ball_radius_mm * math.cos(half)) / math.tan(half)


def _check_positive(kind: BitKind, what: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise _refuse(kind, f"has a {what} of {value:g}; it must be above 0")


def _refuse(kind: BitKind, why: str) -> SettingsError:
    return SettingsError(f"a {kind} bit {why}; a right one: {BIT_EXAMPLES[kind]}", name="bit")
