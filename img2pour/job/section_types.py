"""The kinds of values in the sections of a job: how each is read, shown and described."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, PlainSerializer, PlainValidator, WithJsonSchema

from img2pour.job import photo_values as photo
from img2pour.job import values
from img2pour.job.values import NamedHex
from img2pour.units import Length

Role = Literal["pour", "wood", "outside"]
Small = Literal["drop", "widen", "keep"]
Walls = Literal["auto", "upright", "sloped"]
ThinWalls = Literal["mark", "merge", "thicken"]
DxfVersion = Literal["R12", "R2000", "R2010", "R2018"]
Zero = Literal["corner", "centre", "pin"]
Grain = Literal["horizontal", "vertical"]

_TEXT = WithJsonSchema({"type": "string"})

Area = Annotated[
    tuple[Length, Length] | None,
    PlainValidator(values.read_board),
    PlainSerializer(values.show_board),
    _TEXT,
]
"""Width and height, as of a board or the machine's bed."""

Tolerance = Annotated[
    Length | None,
    PlainValidator(values.read_tolerance),
    PlainSerializer(values.show_tolerance),
    _TEXT,
]
PaletteWish = Annotated[
    str | int | tuple[NamedHex, ...],
    PlainValidator(values.read_palette),
    PlainSerializer(values.show_palette),
    WithJsonSchema({"type": ["string", "integer", "array"]}),
]
HexCode = Annotated[
    str, BeforeValidator(lambda value: values.read_hex(values.need_text(value, "#0b1f3a")))
]
"""``#rrggbb``."""

Share = Annotated[
    float, PlainValidator(values.read_share), PlainSerializer(values.show_share), _TEXT
]
Speed = Annotated[
    Length, PlainValidator(values.read_speed), PlainSerializer(values.show_speed), _TEXT
]
Straighten = Annotated[
    Literal["auto", "off"] | photo.Corners,
    PlainValidator(photo.read_straighten),
    PlainSerializer(photo.show_straighten),
    _TEXT,
]
Sheet = Annotated[str, BeforeValidator(photo.read_sheet)]
Measure = Annotated[
    photo.Measure | None,
    PlainValidator(photo.read_measure),
    PlainSerializer(photo.show_measure),
    _TEXT,
]
Point = Annotated[
    photo.Point, PlainValidator(photo.read_point), PlainSerializer(photo.show_point), _TEXT
]
ColourWish = Annotated[
    NamedHex, PlainValidator(values.read_named_hex), PlainSerializer(values.show_named_hex), _TEXT
]
Wood = Annotated[str, BeforeValidator(values.read_wood)]
ColourKey = Annotated[str, BeforeValidator(values.read_colour_key)]
FileName = Annotated[str, BeforeValidator(values.read_file)]
BitList = Annotated[tuple[str, ...], BeforeValidator(values.read_bits)]
