"""The job as a value: every setting, in sections, with its default and what is allowed.

The description of each field becomes its comment in a written job file, so a new field needs only
its line here. Rules inside one section stand below it; rules between sections are in
:mod:`img2pour.job.rules`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    PlainValidator,
    StrictBool,
    StrictFloat,
    StrictInt,
    WithJsonSchema,
    model_validator,
)

from img2pour.errors import SettingsError
from img2pour.job import photo_values as photo
from img2pour.job import values
from img2pour.job.piece_sections import ArtPiece, ShapePiece, TextPiece
from img2pour.job.pour_sections import (
    Blank,
    LogNote,
    Mixing,
    Pours,
    ResinUse,
    RoleRule,
    Seal,
    Shop,
)
from img2pour.job.section import Section as Section
from img2pour.job.section import typed
from img2pour.job.touch_section import Touch
from img2pour.job.values import AnyLength, NamedHex, NonNegativeLength, PositiveLength
from img2pour.units import Length, Shown

Role = Literal["pour", "wood", "outside"]
Small = Literal["drop", "widen", "keep"]
Walls = Literal["auto", "upright", "sloped"]
ThinWalls = Literal["mark", "merge", "thicken"]
DxfVersion = Literal["R12", "R2000", "R2010", "R2018"]
Zero = Literal["corner", "centre", "pin"]
Grain = Literal["horizontal", "vertical"]

DEFAULT_BITS = ("flat 1/4 in", "flat 1/8 in", "vee 30 deg")

_TEXT = WithJsonSchema({"type": "string"})
_Board = Annotated[
    tuple[Length, Length] | None,
    PlainValidator(values.read_board),
    PlainSerializer(values.show_board),
    _TEXT,
]
_Tolerance = Annotated[
    Length | None,
    PlainValidator(values.read_tolerance),
    PlainSerializer(values.show_tolerance),
    _TEXT,
]
_Palette = Annotated[
    str | int | tuple[NamedHex, ...],
    PlainValidator(values.read_palette),
    PlainSerializer(values.show_palette),
    WithJsonSchema({"type": ["string", "integer", "array"]}),
]
_Share = Annotated[
    float, PlainValidator(values.read_share), PlainSerializer(values.show_share), _TEXT
]
_Speed = Annotated[
    Length, PlainValidator(values.read_speed), PlainSerializer(values.show_speed), _TEXT
]
_Straighten = Annotated[
    Literal["auto", "off"] | photo.Corners,
    PlainValidator(photo.read_straighten),
    PlainSerializer(photo.show_straighten),
    _TEXT,
]
_Sheet = Annotated[str, BeforeValidator(photo.read_sheet)]
_Measure = Annotated[
    photo.Measure | None,
    PlainValidator(photo.read_measure),
    PlainSerializer(photo.show_measure),
    _TEXT,
]
_Point = Annotated[
    photo.Point, PlainValidator(photo.read_point), PlainSerializer(photo.show_point), _TEXT
]
_NamedHex = Annotated[
    NamedHex, PlainValidator(values.read_named_hex), PlainSerializer(values.show_named_hex), _TEXT
]
_Wood = Annotated[str, BeforeValidator(values.read_wood)]
_Key = Annotated[str, BeforeValidator(values.read_colour_key)]
_File = Annotated[str, BeforeValidator(values.read_file)]
_Bits = Annotated[tuple[str, ...], BeforeValidator(values.read_bits)]


class Artwork(Section):
    """The picture."""

    file: _File | None = Field(
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

    straighten: _Straighten = Field(
        default="auto",
        description='Take out perspective and small turns: "auto" when a sheet is surely found, '
        '"off", or its four corners "x,y x,y x,y x,y", upper left first.',
    )
    sheet: _Sheet | None = Field(
        default=None,
        description="The sheet, whose size then gives the scale: a4, letter ..., auto (tell A4 "
        "from letter), or card (a bank card lies beside it).",
        examples=["a4"],
    )
    measure: _Measure = Field(
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
    board: _Board = Field(
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

    palette: _Palette = Field(
        default="auto",
        description='"auto", a number of colours, or a list: ["#0b1f3a=navy", "#e9d8a6=sand"].',
    )
    wood: _Wood = Field(
        default="auto",
        description='The colour left as bare wood: a name, "#hex", "none", or "auto" '
        "(the one along the picture's edge).",
    )

    tones: StrictInt | None = Field(
        default=None,
        ge=2,
        le=12,
        description="For a portrait or painting: so many tones by lightness, instead of colours.",
        examples=[4],
    )


class Bits(Section):
    """The cutters on the shelf."""

    use: _Bits = Field(
        default=DEFAULT_BITS,
        description='Like "flat 1/8in", "vee 30deg", "vee 60deg tip 0.2mm", '
        '"taper 12.4deg r0.5mm shank 6mm", "ball 3mm".',
    )
    table: _File | None = Field(
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


class Tracing(Section):
    """From pixels to lines and arcs."""

    tolerance: _Tolerance = Field(
        default=None,
        description='Cap on how far an outline may lie from the picture; "auto" follows the '
        "picture's own noise.",
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
    accept_loss: _Share = Field(
        default=0.0, description="Share of a colour's area that may be lost before check says no."
    )


class Machine(Section):
    """Figures of the machine; what is left out comes from the table of bits, for each bit."""

    feed: _Speed | None = Field(
        default=None, description="Speed sideways.", examples=["1500 mm/min"]
    )
    plunge: _Speed | None = Field(
        default=None, description="Speed downwards.", examples=["500 mm/min"]
    )
    stepover: _Share | None = Field(
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


class Override(Section):
    """What differs for one colour."""

    colour: _Key = Field(description='Name or "#hex" of the colour.', examples=["navy"])
    role: Role | None = Field(default=None, description="pour, wood or outside.", examples=["pour"])
    bits: _Bits | None = Field(
        default=None, description="Bits for this colour alone.", examples=[["vee 30 deg"]]
    )
    small: Small | None = Field(
        default=None, description="drop, widen or keep, for this colour.", examples=["keep"]
    )

    @model_validator(mode="after")
    def _check(self) -> Override:
        if self.role is None and self.bits is None and self.small is None:
            raise SettingsError(
                "nothing differs for this colour; give role, bits or small", name="colour"
            )
        return self


class CellColour(Section):
    """The colour of one cell of a line drawing."""

    at: _Point = Field(
        description="A point inside the cell, in pixels of the upright picture.",
        examples=["420,310"],
    )
    colour: _NamedHex = Field(
        description='Its colour, like "#0b1f3a=navy".', examples=["#0b1f3a=navy"]
    )


class Job(Section):
    """Everything that is wanted from one picture.

    Built from keyword sections, each a mapping or a section::

        Job(size={"width": "12 in"}, carving={"depth": "1/8 in"})

    Raises
    ------
    pydantic.ValidationError
        When a setting or a combination is wrong. :func:`img2pour.job.make_job` says the same in
        one line for each fault.
    """

    artwork: Artwork = Artwork()
    photo: Photo = Photo()
    drawing: Drawing = Drawing()
    size: Size = Size()
    colours: Colours = Colours()
    bits: Bits = Bits()
    carving: Carving = Carving()
    tracing: Tracing = Tracing()
    board: Board = Board()
    blank: Blank = Blank()
    pours: Pours = Pours()
    seal: Seal = Seal()
    mixing: Mixing = Mixing()
    shop: Shop = Shop()
    limits: Limits = Limits()
    machine: Machine = Machine()
    output: Output = Output()
    override: tuple[Override, ...] = ()
    cell: tuple[CellColour, ...] = ()
    touch: tuple[Touch, ...] = ()
    art: tuple[ArtPiece, ...] = ()
    shape: tuple[ShapePiece, ...] = ()
    text: tuple[TextPiece, ...] = ()
    resin: tuple[ResinUse, ...] = ()
    role: tuple[RoleRule, ...] = ()
    log: tuple[LogNote, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Job:
        from img2pour.job.rules import broken_rules

        broken = broken_rules({name: getattr(self, name) for name in Job.model_fields})
        if broken:
            raise SettingsError("; ".join(fault.message for fault in broken))
        return self

    @property
    def shown_units(self) -> Shown:
        """The units that a person reads: as asked for, else as the size was typed."""
        if self.output.units != "auto":
            return self.output.units
        typed = self.size.width or self.size.height or (self.size.board or (self.carving.depth,))[0]
        return "in" if typed.unit in {"in", "ft"} else "mm"

    @property
    def has_size(self) -> bool:
        """Whether the job says how large the piece is, or where the photo shows it."""
        told = self.photo.sheet is not None or self.photo.measure is not None
        return bool(self.size.given) or told

    def need_size(self) -> None:
        """Ask for the size.

        Raises
        ------
        SettingsError
            When none of width, height, board and scale is given, and the photo gives none.
        """
        if not self.has_size:
            raise SettingsError(
                "how large shall the piece be? Give --width 12in, --height 8in, "
                "--board 21x14.25in, --scale dpi to believe the picture's own density, or tell "
                "what the photo shows: --sheet a4 or --measure",
                name="size",
            )

    def artwork_path(self, base: Path) -> Path:
        """Return where the picture lies, for a job file in the folder `base`.

        Raises
        ------
        SettingsError
            When the job names no picture.
        """
        if self.artwork.file is None:
            raise SettingsError(
                'the job names no picture; give file = "..." under [artwork]', name="artwork.file"
            )
        return base / self.artwork.file

    @property
    def has_pieces(self) -> bool:
        """True where art, shapes or texts are laid over the artwork."""
        return bool(self.art or self.shape or self.text)

    def override_for(self, name: str, code: str) -> Override | None:
        """Return what differs for the colour of this name or ``#rrggbb`` code, or None."""
        for override in self.override:
            if override.colour in {name, code}:
                return override
        return None
