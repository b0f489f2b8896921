"""The sections of a job that speak of carving: bits, pockets, board and limits."""

from __future__ import annotations

from pydantic import Field, StrictBool, StrictFloat, model_validator

from img2pour.errors import SettingsError
from img2pour.job.section import Section, typed
from img2pour.job.section_types import (
    BitList,
    ColourKey,
    FileName,
    Grain,
    HexCode,
    Role,
    Share,
    Small,
    Speed,
    ThinWalls,
    Walls,
)
from img2pour.job.values import NonNegativeLength, PositiveLength

DEFAULT_BITS = ("flat 1/4 in", "flat 1/8 in", "vee 30 deg")


class Bits(Section):
    """The cutters on the shelf."""

    use: BitList = Field(
        default=DEFAULT_BITS,
        description='Like "flat 1/8in", "vee 30deg", "vee 60deg tip 0.2mm", '
        '"taper 12.4deg r0.5mm shank 6mm", "ball 3mm".',
    )
    table: FileName | None = Field(
        default=None,
        description="Your own table of bits, seen from the folder of this file.",
        examples=["bits.toml"],
    )


class Carving(Section):
    """The pockets."""

    depth: PositiveLength = Field(
        default=typed("1/8 in"), description="Depth of a pocket below the carved face."
    )
    surface: NonNegativeLength = Field(
        default=typed("0.5 mm"),
        description="Taken off the top at the end; the design is what shows after that.",
    )
    rim: NonNegativeLength = Field(
        default=typed("0 mm"),
        description="Wood kept along the board's edge, so that no pocket runs off the board.",
    )
    walls: Walls = Field(
        default="auto",
        description="upright: a flat bit cuts to the wall; sloped: it stays inside the vee's "
        "slope; auto: upright when a flat bit is on the shelf.",
    )
    small: Small = Field(
        default="drop",
        description="What the bits cannot enter: drop it, widen it until they can, or keep it "
        "as drawn.",
    )
    thin_walls: ThinWalls = Field(
        default="mark",
        description="Walls too thin to stand: mark them, merge them into a pocket, or thicken "
        "them.",
    )


class Board(Section):
    """The piece of wood."""

    thickness: PositiveLength = Field(default=typed("3/4 in"), description="Before it is carved.")
    grain: Grain = Field(
        default="horizontal", description="The way the grain runs, seen from above."
    )
    species: str = Field(
        default="hard maple", description="The wood, for how it moves with moisture."
    )
    quarter_sawn: StrictBool = Field(
        default=False, description="Cut so that the growth rings stand upright."
    )
    moisture_from: StrictFloat = Field(
        default=8.0, ge=0, le=30, description="Moisture now, in percent."
    )
    moisture_to: StrictFloat = Field(
        default=12.0, ge=0, le=30, description="Moisture it may come to, in percent."
    )


class Limits(Section):
    """What still counts as sound. Common practice without a published source: trust your wood."""

    bit_margin: NonNegativeLength = Field(
        default=typed("0.1 mm"), description="A bit enters only what is wider than itself by this."
    )
    least_depth: PositiveLength = Field(
        default=typed("1/16 in"), description="Shallowest pour that shows its colour, at the face."
    )
    least_floor: PositiveLength = Field(
        default=typed("6 mm"),
        description="Wood left under a pocket (or a third of the thickness, if that is less).",
    )
    least_wall_along: PositiveLength = Field(
        default=typed("1.5 mm"), description="Wall of wood that runs along the grain."
    )
    least_wall_across: PositiveLength = Field(
        default=typed("2.5 mm"), description="Wall of wood that runs across the grain."
    )
    least_wall_filled: PositiveLength = Field(
        default=typed("1 mm"), description="Wall of wood beside a pocket that is filled already."
    )
    least_wall_resin: PositiveLength = Field(
        default=typed("0.8 mm"), description="Wall of cured resin."
    )
    accept_loss: Share = Field(
        default=0.0, description="Share of a colour's area that may be lost before check says no."
    )


class Machine(Section):
    """Figures of the machine; what is left out comes from the table of bits, for each bit."""

    feed: Speed | None = Field(
        default=None, description="Speed sideways.", examples=["1500 mm/min"]
    )
    plunge: Speed | None = Field(
        default=None, description="Speed downwards.", examples=["500 mm/min"]
    )
    stepover: Share | None = Field(
        default=None,
        description="Distance between passes, as a share of the bit's diameter.",
        examples=["40 %"],
    )
    depth_per_pass: PositiveLength | None = Field(
        default=None, description="How much deeper each pass goes.", examples=["1.5 mm"]
    )

    @model_validator(mode="after")
    def _check(self) -> Machine:
        if self.stepover == 0:
            raise SettingsError("a stepover of 0 % never ends; give 5 to 50 %", name="stepover")
        return self


class Override(Section):
    """What differs for one colour."""

    colour: ColourKey = Field(description='Name or "#hex" of the colour.', examples=["navy"])
    role: Role | None = Field(default=None, description="pour, wood or outside.", examples=["pour"])
    bits: BitList | None = Field(
        default=None, description="Bits for this colour alone.", examples=[["vee 30 deg"]]
    )
    small: Small | None = Field(
        default=None, description="drop, widen or keep, for this colour.", examples=["keep"]
    )
    shown: HexCode | None = Field(
        default=None,
        description='The colour that it is poured in, "#0b1f3a", where the picture shows another '
        "one.",
        examples=["#0b1f3a"],
    )

    @model_validator(mode="after")
    def _check(self) -> Override:
        if not any((self.role, self.bits, self.small, self.shown)):
            raise SettingsError(
                "nothing differs for this colour; give role, bits, small or shown", name="colour"
            )
        if self.shown is not None and self.colour.startswith("#"):
            raise SettingsError(
                f"{self.colour} is going to be shown in another colour; call it by its name",
                name="colour",
            )
        return self
