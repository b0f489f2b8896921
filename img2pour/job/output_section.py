"""The section of a job that speaks of the files."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from img2pour.errors import SettingsError
from img2pour.job.section import Section
from img2pour.job.section_types import DxfVersion, Zero
from img2pour.job.values import AnyLength, PositiveLength


class Output(Section):
    """The files."""

    files: Literal["all", "design"] = Field(
        default="all",
        description="all: design, losses, stages, mixes, sheets; design: the regions alone, fast.",
    )
    units: Literal["auto", "in", "mm"] = Field(
        default="auto", description="Units to read: in, mm, or auto (as the size was typed)."
    )
    dxf: DxfVersion = Field(default="R2010", description="Version of the DXF files.")
    section: PositiveLength | None = Field(
        default=None,
        description="Height above the board's lower edge at which the report shows a cut through "
        "it; by default where it meets most pours.",
        examples=["4 in"],
    )
    zero: Zero = Field(
        default="corner",
        description="Where the files have their zero: the board's lower-left corner, its centre, "
        "or the pin.",
    )
    pin_x: AnyLength | None = Field(
        default=None, description="The pin, to the right of that corner.", examples=["1/2 in"]
    )
    pin_y: AnyLength | None = Field(
        default=None, description="The pin, above that corner.", examples=["1/2 in"]
    )

    @model_validator(mode="after")
    def _check(self) -> Output:
        pin_given = self.pin_x is not None and self.pin_y is not None
        if self.zero == "pin" and not pin_given:
            raise SettingsError(
                "zero is at the pin, but its place is not given; give pin_x and pin_y, or "
                'zero = "corner"',
                name="zero",
            )
        if self.zero != "pin" and (self.pin_x is not None or self.pin_y is not None):
            raise SettingsError(
                f'a pin is given, but zero is "{self.zero}"; write zero = "pin" or leave the '
                "pin out",
                name="pin_x" if self.pin_x is not None else "pin_y",
            )
        return self

    def zero_mm(self, width_mm: float, height_mm: float) -> tuple[float, float]:
        """Return where the zero of the files lies, from the board's lower-left corner, in mm."""
        if self.zero == "centre":
            return width_mm / 2, height_mm / 2
        if self.zero == "pin" and self.pin_x is not None and self.pin_y is not None:
            return self.pin_x.mm, self.pin_y.mm
        return 0.0, 0.0
