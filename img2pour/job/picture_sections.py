"""The sections of a job that speak of the picture: how it was taken, its size, its colours."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, StrictFloat, StrictInt, field_validator, model_validator

from img2pour.errors import SettingsError
from img2pour.job import values
from img2pour.job.section import Section, typed
from img2pour.job.section_types import (
    Area,
    ColourWish,
    FileName,
    Measure,
    PaletteWish,
    Point,
    Sheet,
    Straighten,
    Tolerance,
    Wood,
)
from img2pour.job.values import LEAST_TONES, MOST_TONES, NonNegativeLength, PositiveLength


class Artwork(Section):
    """The picture."""

    file: FileName | None = Field(
        default=None,
        description="The picture, seen from the folder of this file.",
        examples=["sign.png"],
    )
    max_megapixels: StrictFloat = Field(
        default=200.0,
        gt=0,
        le=4000,
        description="Larger pictures are refused before they are decoded.",
    )


class Photo(Section):
    """How the picture was taken. Points are pixels of the upright picture: "x,y"."""

    straighten: Straighten = Field(
        default="auto",
        description='Take out perspective and small turns: "auto" when a sheet is surely found, '
        '"off", or its four corners "x,y x,y x,y x,y", upper left first.',
    )
    sheet: Sheet | None = Field(
        default=None,
        description="The sheet, whose size then gives the scale: a4, letter ..., auto (tell A4 "
        "from letter), or card (a bank card lies beside it).",
        examples=["a4"],
    )
    measure: Measure = Field(
        default=None,
        description='Two points and their distance: "x,y x,y = 7 1/2in".',
        examples=["120,80 940,96 = 7 1/2 in"],
    )
    light: Literal["auto", "off"] = Field(
        default="auto", description="Even out shadows, casts and paper tone of photos and scans."
    )


class Drawing(Section):
    """Line drawings: lines bound the cells."""

    read: Literal["auto", "on", "off"] = Field(
        default="auto", description="Read the picture as a line drawing."
    )
    lines: Literal["shared", "keep", "stand"] = Field(
        default="shared",
        description="shared: cells meet in the middle of the line; keep: the lines are a pour of "
        "their own; stand: they are poured first and left standing between the cells.",
    )
    line_width: PositiveLength | None = Field(
        default=None, description="Even width of lines that are kept.", examples=["2 mm"]
    )
    close: NonNegativeLength = Field(
        default=typed("2 mm"), description="Gaps in lines up to this length are bridged."
    )


class Size(Section):
    """How large the artwork becomes. Give one: width, height, board, or scale.

    Lengths need a unit: 14 1/4 in, 0.125in, 1/8", 3.2 mm, 9 cm.
    """

    width: PositiveLength | None = Field(
        default=None,
        description="Width of the artwork; its proportions are kept.",
        examples=["12 in"],
    )
    height: PositiveLength | None = Field(
        default=None,
        description="Height of the artwork; its proportions are kept.",
        examples=["8 in"],
    )
    board: Area = Field(
        default=None,
        description="Size of the board; the artwork is fitted inside and centred.",
        examples=["21 in x 14 1/4 in"],
    )
    margin: NonNegativeLength | None = Field(
        default=None,
        description="Wood left free around the artwork on the board (with board only).",
        examples=["1/2 in"],
    )
    scale: Literal["dpi"] | None = Field(
        default=None,
        description="dpi: believe the density stored in the picture.",
        examples=["dpi"],
    )

    @property
    def given(self) -> tuple[str, ...]:
        """Which of width, height, board and scale are given."""
        return tuple(n for n in ("width", "height", "board", "scale") if getattr(self, n))

    @model_validator(mode="after")
    def _check(self) -> Size:
        if len(self.given) > 1:
            raise SettingsError(
                f"{' and '.join(self.given)} are given together; keep one of them "
                "(the picture keeps its proportions)",
                name=self.given[-1],
            )
        if self.margin and self.margin.mm and not self.board:
            raise SettingsError(
                f"margin is {self.margin}, but no board is given; give board = "
                '"width x height", or leave margin out',
                name="margin",
            )
        if self.margin and self.board and 2 * self.margin.mm >= min(x.mm for x in self.board):
            raise SettingsError(
                f"a margin of {self.margin} leaves nothing of a board of "
                f"{values.show_board(self.board)}; make it smaller",
                name="margin",
            )
        return self


class Colours(Section):
    """The flat colours that the picture is reduced to."""

    palette: PaletteWish = Field(
        default="auto",
        description='"auto", a number of colours, or a list: ["#0b1f3a=navy", "#e9d8a6=sand"].',
    )
    wood: Wood = Field(
        default="auto",
        description='The colour left as bare wood: a name, "#hex", "none", or "auto" '
        "(the one along the picture's edge).",
    )

    tones: StrictInt | None = Field(
        default=None,
        ge=LEAST_TONES,
        le=MOST_TONES,
        description="For a portrait or painting: so many tones by lightness, instead of colours.",
        examples=[4],
    )

    @field_validator("tones", mode="before")
    @classmethod
    def _tones_in_reach(cls, value: object) -> object:
        if type(value) is int and not LEAST_TONES <= value <= MOST_TONES:
            counted = "1 tone" if value == 1 else f"{value} tones"
            raise SettingsError(
                f"{counted} cannot be made; ask for {LEAST_TONES} to {MOST_TONES}", name="tones"
            )
        return value


class Tracing(Section):
    """From pixels to lines and arcs."""

    tolerance: Tolerance = Field(
        default=None,
        description='Cap on how far an outline may lie from the picture; "auto" follows the '
        "picture's own noise.",
    )


class CellColour(Section):
    """The colour of one cell of a line drawing."""

    at: Point = Field(
        description="A point inside the cell, in pixels of the upright picture.",
        examples=["420,310"],
    )
    colour: ColourWish = Field(
        description='Its colour, like "#0b1f3a=navy".', examples=["#0b1f3a=navy"]
    )
