"""The cutter as a value: what every other part of img2pour knows about a bit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BitKind = Literal["flat", "vee", "taper", "ball"]


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
