"""A pour: what is cast in one resin at one time, before anything is carved for it."""

from __future__ import annotations

from dataclasses import dataclass

from img2pour.pours.geometry import Geometry

CLEAR = "clear"
"""Name of the seal's pour; no pour of the design has it."""


@dataclass(frozen=True, eq=False)
class Pour:
    """One pour of the design.

    Attributes
    ----------
    name : str
        Unique; two pours may share a resin (a dark ground, and fine dark detail later).
    resin : str
        Name of what it is cast in, pigment included: two pours of one resin make no seam.
    colours : tuple of str
        The artwork's colours that it shows.
    shape : shapely geometry
        Where it is to be seen at the finished face, mm.
    lightness : float
        CIE L* of its colour, 0 to 100.
    """

    name: str
    resin: str
    colours: tuple[str, ...]
    shape: Geometry
    lightness: float
