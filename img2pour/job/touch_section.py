"""Touch-ups: small corrections to the picture and to its regions, applied in order."""

from __future__ import annotations

from typing import Literal

from pydantic import (
    Field,
    model_validator,
)

from img2pour.errors import SettingsError
from img2pour.job.section import Section
from img2pour.job.section_types import ColourKey, Point
from img2pour.job.values import PositiveLength

Action = Literal["crop", "mirror", "turn", "recolour", "merge", "erase"]

FRAMING = ("crop", "mirror", "turn")
"""Done to the picture, before its colours are looked for."""

NEEDS: dict[str, tuple[str, ...]] = {
    "crop": ("inside",),
    "mirror": ("across",),
    "turn": ("by",),
    "recolour": ("to",),
    "merge": ("colour", "to"),
}
CONDITIONS = ("colour", "inside", "below", "touching", "at")
PLACES = ("inside", "at")


class Touch(Section):
    """One correction. Points are pixels of the upright picture: "x,y".

    crop keeps what lies inside; mirror and turn follow; recolour changes the regions that meet
    every condition and lie mostly inside; merge makes one colour another; erase clears what lies
    inside, or the regions at points, and what surrounds it grows in.
    """

    action: Action = Field(
        description="crop, mirror, turn, recolour, merge or erase.", examples=["recolour"]
    )
    at: tuple[Point, ...] = Field(default=(), description="Only the regions at these points.")
    inside: tuple[Point, ...] = Field(
        default=(), description="Corners of a polygon; two points are a box."
    )
    colour: ColourKey | None = Field(
        default=None, description="Only regions of this colour.", examples=["white"]
    )
    below: PositiveLength | None = Field(
        default=None,
        description="Only regions smaller than a square of this side.",
        examples=["1/8 in"],
    )
    touching: ColourKey | None = Field(
        default=None, description="Only beside this colour.", examples=["navy"]
    )
    to: ColourKey | None = Field(
        default=None, description="The colour they become, of the picture's.", examples=["navy"]
    )
    across: Literal["left-right", "up-down"] | None = Field(
        default=None, description="mirror: which sides change places.", examples=["left-right"]
    )
    by: Literal[90, 180, 270] | None = Field(
        default=None, description="turn: degrees clockwise.", examples=[90]
    )

    @model_validator(mode="after")
    def _check(self) -> Touch:
        missing = [name for name in NEEDS.get(self.action, ()) if not getattr(self, name)]
        if missing:
            raise SettingsError(
                f"{self.action} needs {' and '.join(missing)}; add it", name=missing[0]
            )
        if self.action == "recolour" and not any(getattr(self, name) for name in CONDITIONS):
            raise SettingsError(
                f"recolour says nothing of which regions; give one of {', '.join(CONDITIONS)}",
                name="at",
            )
        if self.action == "erase" and not any(getattr(self, name) for name in PLACES):
            raise SettingsError("erase needs inside or at; add it", name="inside")
        if len(self.inside) == 1:
            raise SettingsError(
                "inside is one point; give two for a box, or more for a polygon", name="inside"
            )
        return self
