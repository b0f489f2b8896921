"""The sections of a job that speak of pours, from the blank to the log of what was mixed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import (
    Field,
    StrictBool,
    StrictInt,
    model_validator,
)

from img2pour.errors import SettingsError
from img2pour.job.section import Section, typed
from img2pour.job.section_types import Area, ColourKey, FileName, Point, Share
from img2pour.job.values import NonNegativeLength, PositiveLength

Ml = Annotated[float, Field(ge=0, le=100_000)]


class Blank(Section):
    """The wood as it lies on the machine."""

    margin: NonNegativeLength = Field(
        default=typed("1 in"),
        description="Wood around the finished board, for clamps and pins; cut off last.",
    )
    pins: StrictBool = Field(
        default=True, description="Two pins in the margin, so that the board comes back in place."
    )
    pin_width: PositiveLength = Field(default=typed("1/4 in"), description="Diameter of the pins.")
    bed: Area = Field(default=None, description="The machine's bed.", examples=["32 in x 32 in"])
    face_below_top: NonNegativeLength = Field(
        default=typed("0 mm"),
        description="How far the carved face lies below the blank's top: the recess of a tray.",
    )


class Pours(Section):
    """What is poured when."""

    order: tuple[str, ...] = Field(
        default=(),
        description="Pours in order, by name; empty: worked out.",
    )
    done: StrictInt = Field(
        default=0,
        ge=0,
        description="Stages that are poured already, the seal counted: the rest is planned around "
        "them. Set it in the job.toml of the run that you carved by, then change the roles.",
    )
    stages: tuple[tuple[str, ...], ...] = Field(
        default=(),
        description='The stages as the last run planned them (the seal is "clear"); each run '
        "writes them. Those that are done stay so, whatever the roles say now, and pours that "
        "none of them names were decided on since: what is done does not go under them. "
        "Empty: as planned today.",
    )
    gap: NonNegativeLength = Field(
        default=typed("3 mm"), description="Pours this far apart may share a stage."
    )
    underlap: NonNegativeLength = Field(
        default=typed("2 mm"), description="How far an earlier pour goes under a later one."
    )
    through: StrictBool = Field(
        default=False, description="Go right through under what a pour encloses."
    )
    shallower: NonNegativeLength = Field(
        default=typed("0.4 mm"),
        description="A pour over an earlier one is cut this much shallower, to stay in resin.",
    )


class Seal(Section):
    """Against bleed into the wood."""

    kind: Literal["band", "flood", "flood board", "brush", "none"] = Field(
        default="band",
        description="band: a channel along the edges; flood: whole pockets; flood board; brush: "
        "a thin coat; none.",
    )
    border: PositiveLength = Field(
        default=typed("0.8 mm"), description="Clear left standing beside the colour."
    )
    bit: str = Field(default="flat 1/4 in", description="The bit that cuts the channel.")
    coat_of: Literal["resin", "shellac"] = Field(
        default="resin", description="What a brushed coat is made of."
    )


class Mixing(Section):
    """Resin beside what the pockets hold. The resin's own data sheet governs."""

    resin: str = Field(
        default="table-top 1:1", description="Product for every colour that has none of its own."
    )
    clear: str = Field(default="table-top 1:1", description="Product for the seal.")
    table: FileName | None = Field(
        default=None,
        description="Your own table of resins, seen from the folder of this file.",
        examples=["resins.toml"],
    )
    overfill: NonNegativeLength = Field(
        default=typed("0.4 mm"), description="Height that stands proud and is levelled away."
    )
    soak: NonNegativeLength = Field(
        default=typed("0.1 mm"), description="What bare wood drinks, as a film."
    )
    waste: Share = Field(default=0.10, description="Left in cup and on the stick.")
    least_waste_ml: Ml = Field(default=10.0, description="A cup never loses less than this.")
    least_batch_ml: Ml = Field(default=30.0, description="Less cannot be measured and mixed well.")
    touch_up_ml: Annotated[float, Field(ge=0, le=1000)] = Field(
        default=10.0, description="Of each colour, mixed at the end for pinholes; 0: none."
    )


class Shop(Section):
    """Time and temperature."""

    temperature_c: float = Field(
        default=21.0, ge=5, le=40, description="While resin cures, in degrees Celsius."
    )
    workday_hours: float = Field(default=8.0, gt=0, le=24, description="Work of a day.")
    face: Literal["coat", "masking", "none"] = Field(
        default="coat", description="What keeps resin out of the face's pores."
    )


class ResinUse(Section):
    """Colours that are cast in one resin: one pour, no seam between them."""

    colours: tuple[ColourKey, ...] = Field(
        description='Names or "#hex" of colours.', examples=[["navy", "black"]]
    )
    name: str | None = Field(
        default=None,
        description="Name of the pour; the first colour's by default.",
        examples=["ink"],
    )
    product: str | None = Field(
        default=None, description="From the table of resins.", examples=["casting 2:1"]
    )
    pigmented: StrictBool = Field(default=True, description="Whether pigment goes in.")


class RoleRule(Section):
    """A role for some regions: those that meet every condition given. The last rule wins."""

    role: Literal["pour", "wood", "outside"] = Field(
        description="What becomes of them.", examples=["pour"]
    )
    colour: ColourKey | None = Field(
        default=None, description="Only regions of this colour.", examples=["white"]
    )
    inside: tuple[Point, ...] = Field(
        default=(), description="Only inside this polygon, pixels of the upright picture."
    )
    below: PositiveLength | None = Field(
        default=None,
        description="Only regions smaller than a square of this side.",
        examples=["1/2 in"],
    )
    touching: ColourKey | None = Field(
        default=None, description="Only beside this colour.", examples=["navy"]
    )
    at: tuple[Point, ...] = Field(
        default=(), description="Only the regions at these points of the upright picture."
    )
    pour: str | None = Field(
        default=None,
        description="They become a pour of their own of this name, poured when its turn comes.",
        examples=["fine lines"],
    )
    resin: str | None = Field(
        default=None,
        description="They are poured in the resin of this name, or of this colour, instead of in "
        "one of their own colour.",
        examples=["white"],
    )


class LogNote(Section):
    """What was really mixed and left over: waste and soak of the next plans follow it.

    "img2pour note" adds one; so can you.
    """

    pour: str = Field(description="Name of the pour.", examples=["navy"])
    mixed_ml: float = Field(gt=0, description="Really mixed.", examples=[120])
    left_ml: float = Field(ge=0, description="Left over.", examples=[15])
    pocket_ml: float | None = Field(
        default=None,
        gt=0,
        description="What the plan had for its pockets; left out, the next run fills it in.",
        examples=[90],
    )
    allowed_ml: float | None = Field(
        default=None,
        ge=0,
        description="What it had for soak and waste, before any log; likewise.",
        examples=[20],
    )

    @property
    def is_complete(self) -> bool:
        """Whether what was planned stands beside what was done."""
        return self.pocket_ml is not None and self.allowed_ml is not None

    @model_validator(mode="after")
    def _check(self) -> LogNote:
        if self.left_ml > self.mixed_ml:
            raise SettingsError(
                f"{self.left_ml:g} ml are left of {self.mixed_ml:g} ml mixed; give 0 to "
                f"{self.mixed_ml:g}",
                name="left_ml",
            )
        return self
