"""What is laid over the artwork: pieces of art, texts and plain shapes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import (
    Field,
    StrictBool,
    StrictInt,
    model_validator,
)

from img2pour.errors import SettingsError
from img2pour.job.piece_values import IN_ROWS, At, By, Grid, PieceColour, Turn
from img2pour.job.section import Section
from img2pour.job.section_types import ColourKey, FileName, PaletteWish
from img2pour.job.values import AnyLength, NonNegativeLength, PositiveLength

ShapeKind = Literal["rectangle", "disc", "ring", "polygon", "star", "border"]

SHAPE_NEEDS: dict[str, tuple[str, ...]] = {
    "rectangle": ("width", "height"),
    "disc": ("width",),
    "ring": ("width", "band"),
    "polygon": ("width", "points"),
    "star": ("width", "points"),
    "border": ("width", "height", "band"),
}


class Piece(Section):
    """What every piece on the board has: a place, a turn, copies, and what goes around it."""

    at: At = Field(
        default="centre",
        description="Where on the board: centre, an edge or corner (upper, lower-left), two "
        'lengths from the lower-left corner, "3in+4in", or "rows": nested beside each other.',
    )
    by: By = Field(
        default=None,
        description="Which of its points lies there; its centre unless told.",
        examples=["lower-left"],
    )
    turn: Turn = Field(default="0 deg", description="Anticlockwise.")
    grid: Grid = Field(
        default=None, description="Copies: columns x rows, about the place.", examples=["3x2"]
    )
    step_x: PositiveLength | None = Field(
        default=None, description="From one column to the next.", examples=["4 in"]
    )
    step_y: PositiveLength | None = Field(
        default=None, description="From one row to the next.", examples=["4 in"]
    )
    copies: Annotated[StrictInt, Field(ge=1, le=1000)] = Field(
        default=1, description="Copies on a circle about the place (with radius), or in rows."
    )
    radius: PositiveLength | None = Field(
        default=None, description="Radius of that circle.", examples=["5 in"]
    )
    moat: PositiveLength | None = Field(
        default=None, description="Width of a ring around it.", examples=["2 mm"]
    )
    moat_colour: PieceColour | None = Field(
        default=None, description="Colour of that ring; wood unless told.", examples=["white"]
    )
    cut_out: NonNegativeLength | None = Field(
        default=None,
        description="Each copy is cut out of the blank, this far around it.",
        examples=["3 mm"],
    )
    join: StrictBool = Field(
        default=True,
        description="Where it meets its own colour below, flow into it; false: they stay two "
        "regions with a line between them. For wood between them give a moat.",
    )
    level: StrictInt = Field(
        default=0, description="Higher ones lie on top; in one level art, then shapes, then texts."
    )

    @model_validator(mode="after")
    def _check_copies(self) -> Piece:
        columns, rows = self.grid or (1, 1)
        for name, count in (("step_x", columns), ("step_y", rows)):
            if count > 1 and getattr(self, name) is None:
                raise SettingsError(f"a grid of copies needs {name}; add it", name=name)
        if self.copies > 1 and self.radius is None and self.at != IN_ROWS:
            raise SettingsError("copies on a circle need its radius; add it", name="radius")
        if self.copies > 1 and self.grid is not None:
            raise SettingsError(
                "a grid and copies on a circle are given together; keep one", name="copies"
            )
        if self.moat_colour is not None and self.moat is None:
            raise SettingsError("moat_colour is given without a moat; add its width", name="moat")
        return self


class ArtPiece(Piece):
    """A picture or drawing laid over the artwork; what is outside of it shows what lies below."""

    file: FileName = Field(
        description="PNG, JPEG, SVG or DXF, seen from the folder of this file.",
        examples=["crest.png"],
    )
    width: PositiveLength | None = Field(
        default=None, description="Its width; its proportions are kept.", examples=["120 mm"]
    )
    height: PositiveLength | None = Field(
        default=None,
        description="Its height; with a width too, it is fitted inside both.",
        examples=["80 mm"],
    )
    mirror: StrictBool = Field(default=False, description="Left and right change places.")
    colours: PaletteWish = Field(
        default="auto", description="Of a picture: auto, how many, or which, as in [colours]."
    )
    clear: ColourKey | None = Field(
        default=None,
        description="Its colour that shows what lies below, such as its background.",
        examples=["white"],
    )
    font: FileName | None = Field(
        default=None,
        description="Of an SVG drawing: an open font file (.ttf, .otf) that draws its texts.",
        examples=["font.ttf"],
    )
    layers: tuple[str, ...] = Field(
        default=(), description="Of a DXF drawing: the layers to take; all unless told."
    )


class ShapePiece(Piece):
    """A plain shape."""

    kind: ShapeKind = Field(
        description="rectangle, disc, ring, polygon, star or border.", examples=["ring"]
    )
    colour: PieceColour = Field(
        description='Its colour: "#0b1f3a=navy", or a name from the artwork.', examples=["navy"]
    )
    width: PositiveLength | None = Field(
        default=None, description="Width, or diameter.", examples=["10 in"]
    )
    height: PositiveLength | None = Field(
        default=None, description="Of a rectangle or border.", examples=["6 in"]
    )
    band: PositiveLength | None = Field(
        default=None, description="Width of a ring's or border's band.", examples=["1/4 in"]
    )
    corner: PositiveLength | None = Field(
        default=None, description="Radius of rounded corners.", examples=["1/2 in"]
    )
    points: Annotated[StrictInt, Field(ge=3, le=1000)] | None = Field(
        default=None, description="Corners of a polygon, points of a star.", examples=[5]
    )

    @model_validator(mode="after")
    def _check(self) -> ShapePiece:
        missing = [name for name in SHAPE_NEEDS[self.kind] if getattr(self, name) is None]
        if missing:
            raise SettingsError(
                f"a {self.kind} needs {' and '.join(missing)}; add it", name=missing[0]
            )
        return self


class TextPiece(Piece):
    """A line of words."""

    words: str = Field(description="What is written.", examples=["Harbour House"])
    font: FileName = Field(
        description="An open font file (.ttf, .otf), seen from the folder of this file.",
        examples=["font.ttf"],
    )
    height: PositiveLength = Field(description="Of a capital letter.", examples=["1 in"])
    colour: PieceColour = Field(
        description='Its colour: "#0b1f3a=navy", or a name from the artwork.', examples=["navy"]
    )
    around: PositiveLength | None = Field(
        default=None,
        description="Radius of a circle to write around; its centre is the place.",
        examples=["4 in"],
    )
    inside: StrictBool = Field(
        default=False, description="Around a circle: along the bottom, heads to the centre."
    )
    spacing: AnyLength | None = Field(
        default=None, description="Added between letters.", examples=["1 mm"]
    )
