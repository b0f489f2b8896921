"""Field types of the pieces that are laid on the board: places, angles, counts."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainSerializer, PlainValidator, WithJsonSchema

from img2pour.errors import SettingsError
from img2pour.job.places import read_anchor, read_angle, read_spot
from img2pour.job.values import NamedHex, need_text, read_hex, read_name
from img2pour.units import quoted

_TEXT = WithJsonSchema({"type": "string"})

MOST_COPIES = 1000

IN_ROWS = "rows"
"""The place of pieces that are nested in rows, wherever there is room."""


def read_at(value: Any) -> str:
    """Return a place as typed, after it was found to be one."""
    text = need_text(value, "centre").strip()
    if text != IN_ROWS:
        read_spot(text)
    return text


def read_by(value: Any) -> str | None:
    """Return the name of the point of the art that lies at its place."""
    return None if value is None else read_anchor(need_text(value, "centre"))


def read_turn(value: Any) -> str:
    """Return an angle as typed, after it was found to be one."""
    text = need_text(value, "15 deg").strip()
    read_angle(text)
    return text


def read_grid(value: Any) -> tuple[int, int] | None:
    """Read how many columns and rows: ``3x2``."""
    if value is None or isinstance(value, tuple):
        return value
    match = re.fullmatch(r"([0-9]{1,3}) ?x ?([0-9]{1,3})", need_text(value, "3x2").strip())
    if match is None or not 1 <= int(match[1]) * int(match[2]) <= MOST_COPIES:
        raise SettingsError(
            f"{quoted(value)} is no grid; write columns x rows like 3x2, {MOST_COPIES} copies at "
            "most"
        )
    return int(match[1]), int(match[2])


def show_grid(grid: tuple[int, int] | None) -> str | None:
    """Return a grid as text that reads back the same."""
    return None if grid is None else f"{grid[0]}x{grid[1]}"


def read_colour(value: Any) -> NamedHex:
    """Read a colour of its own, ``#0b1f3a=navy``, or the name of one of the picture's.

    Returns
    -------
    (hex, name) of a colour of its own; ("", name) where one of the picture's is meant
    """
    if isinstance(value, tuple):
        return value
    text = need_text(value, "#0b1f3a=navy").strip()
    if not text.startswith("#"):
        return "", read_name(text)
    code, equals, name = text.partition("=")
    return read_hex(code), read_name(name) if equals else None


def show_colour(colour: NamedHex | None) -> str | None:
    """Return a colour as text that reads back the same."""
    if colour is None:
        return None
    code, name = colour
    return (name or code) if not (code and name) else f"{code}={name}"


At = Annotated[str, BeforeValidator(read_at)]
By = Annotated[str | None, BeforeValidator(read_by)]
Turn = Annotated[str, BeforeValidator(read_turn)]
Grid = Annotated[
    tuple[int, int] | None, PlainValidator(read_grid), PlainSerializer(show_grid), _TEXT
]
PieceColour = Annotated[NamedHex, PlainValidator(read_colour), PlainSerializer(show_colour), _TEXT]
