"""Field types of the job: what may be typed, and the value it becomes."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import PlainSerializer, PlainValidator, WithJsonSchema

from img2pour.errors import SettingsError
from img2pour.units import Length, Sign, parse_board, parse_length, quoted, tidy

MOST_COLOURS = 64  # more flat colours than anybody mixes resins for; labels leave room for 254
LEAST_TONES, MOST_TONES = 2, 12  # one tone shows nothing
LONGEST_NAME = 80

NamedHex = tuple[str, str | None]

_TEXT_SCHEMA = WithJsonSchema({"type": "string"})
_AS_TEXT = PlainSerializer(str, return_type=str)


def need_text(value: object, example: str) -> str:
    """Return `value` if it is text.

    Raises
    ------
    SettingsError
        When it is a number or anything else; the message shows `example`.
    """
    if isinstance(value, str):
        return value
    raise SettingsError(f'{quoted(value)} is not text in quotes; write it like "{example}"')


def _length_reader(sign: Sign) -> Callable[[Any], Length]:
    def read(value: Any) -> Length:
        if isinstance(value, Length):
            value = value.text
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            value = str(value)
        return parse_length(need_text(value, "14 1/4 in"), sign=sign)

    return read


PositiveLength = Annotated[
    Length, PlainValidator(_length_reader("positive")), _AS_TEXT, _TEXT_SCHEMA
]
NonNegativeLength = Annotated[
    Length, PlainValidator(_length_reader("not negative")), _AS_TEXT, _TEXT_SCHEMA
]
AnyLength = Annotated[Length, PlainValidator(_length_reader("any")), _AS_TEXT, _TEXT_SCHEMA]


def read_tolerance(value: Any) -> Length | None:
    """Read a cap on the deviation: a length, or "auto" (None)."""
    if value is None or value == "auto":
        return None
    return _length_reader("positive")(value)


def show_tolerance(value: Length | None) -> str:
    """Return the cap on the deviation as it stands in a job file."""
    return "auto" if value is None else str(value)


def read_board(value: Any) -> tuple[Length, Length] | None:
    """Read the size of a board, width x height, or None."""
    if value is None:
        return None
    if isinstance(value, tuple):
        value = show_board(value)
    return parse_board(need_text(value, "21x14.25in"))


def show_board(board: tuple[Length, Length] | None) -> str | None:
    """Return a board as text that reads back the same."""
    return None if board is None else f"{board[0]} x {board[1]}"


def read_share(value: Any) -> float:
    """Read a share typed in per cent, ``"40 %"``, as 0 to 1."""
    text = need_text(value, "1 %")
    match = re.fullmatch(r"([0-9]+\.?[0-9]*|\.[0-9]+) ?%", tidy(text))
    if match is None:
        raise SettingsError(f"{quoted(text)} is not a share; write it like 1 %")
    share = float(match[1]) / 100
    if not share <= 1:
        raise SettingsError(f"{quoted(text)} is not between 0 % and 100 %")
    return share


def show_share(share: float | None) -> str | None:
    """Return a share as per cent that read back the same."""
    if share is None:
        return None
    for digits in range(1, 18):
        text = f"{share * 100:.{digits}g}"
        if "e" not in text and float(text) / 100 == share:
            return f"{text} %"
    return f"{share * 100:.17f} %"


def read_speed(value: Any) -> Length:
    """Read a speed, ``2000 mm/min`` or ``80 in/min``, as the length per minute."""
    if isinstance(value, Length):
        return value
    text = need_text(value, "2000 mm/min")
    length, slash, minute = tidy(text).rpartition("/")
    if not slash or minute.strip() != "min":
        raise SettingsError(
            f"{quoted(text)} is not a speed; write it like 2000 mm/min or 80 in/min"
        )
    return parse_length(length)


def show_speed(speed: Length | None) -> str | None:
    """Return a speed as text that reads back the same."""
    return None if speed is None else f"{speed}/min"


def read_hex(text: str) -> str:
    """Return ``#rrggbb`` in small letters for ``#rgb`` or ``#rrggbb``.

    Raises
    ------
    SettingsError
        For anything else.
    """
    plain = text.strip().lower()
    if not re.fullmatch(r"#(?:[0-9a-f]{3}){1,2}", plain):
        raise SettingsError(f"{quoted(text)} is not a colour; write # and six hex digits: #0b1f3a")
    return plain if len(plain) == 7 else "#" + "".join(2 * c for c in plain[1:])


def read_name(value: Any) -> str:
    """Return the name of a colour; any characters that a file can hold are allowed."""
    name = need_text(value, "navy").strip()
    if not name:
        raise SettingsError("the name of a colour is empty; give it a name")
    if len(name) > LONGEST_NAME:
        raise SettingsError(f"{quoted(name)} is longer than {LONGEST_NAME} characters; shorten it")
    if any("\ud800" <= c <= "\udfff" for c in name):
        raise SettingsError(f"{quoted(name)} holds characters that no file can hold; rename it")
    return name


def read_file(value: Any) -> str:
    """Return the name of a file that a job file can hold."""
    name = need_text(value, "sign.png")
    if not name or "\0" in name or any("\ud800" <= c <= "\udfff" for c in name):
        raise SettingsError(f"{quoted(name)} is no file name that a job can hold; rename the file")
    return name


def read_palette(value: Any) -> str | int | tuple[NamedHex, ...]:
    """Read the colours: "auto", a number, or ``#hex=name`` items (one text with commas, or a list).

    Returns
    -------
    "auto", the number of colours, or a tuple of (hex, name or None)
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, list, tuple)):
        raise SettingsError(f"{quoted(value)} is not auto, a number or a list of #hex=name")
    if isinstance(value, str):
        text = value.strip()
        if text.lower() == "auto":
            return "auto"
        value = int(text) if re.fullmatch(r"[+-]?[0-9]{1,9}", text) else text.split(",")
    if isinstance(value, int):
        if not 1 <= value <= MOST_COLOURS:
            raise SettingsError(f"{value} colours cannot be made; ask for 1 to {MOST_COLOURS}")
        return value
    return _check_palette(tuple(read_named_hex(item) for item in value))


def read_named_hex(item: Any) -> NamedHex:
    """Read one ``#hex=name``; the name may be left out."""
    if isinstance(item, tuple) and len(item) == 2:
        return read_hex(item[0]), None if item[1] is None else read_name(item[1])
    code, equals, name = need_text(item, "#0b1f3a=navy").partition("=")
    if not code.strip().startswith("#"):
        raise SettingsError(
            f"{quoted(item)} is not a colour; use auto, a number of colours, or "
            "a list like #0b1f3a=navy,#e9d8a6=sand"
        )
    return read_hex(code), read_name(name) if equals else None


def _check_palette(colours: tuple[NamedHex, ...]) -> tuple[NamedHex, ...]:
    if not 1 <= len(colours) <= MOST_COLOURS:
        raise SettingsError(f"{len(colours)} colours are listed; list 1 to {MOST_COLOURS}")
    codes = [code for code, _ in colours]
    names = [name for _, name in colours if name is not None]
    for words in (codes, names):
        for word in words:
            if words.count(word) > 1:
                raise SettingsError(f"{quoted(word)} is listed twice; each colour once")
    for name in names:
        if name.lower() in {"auto", "none"} or name.startswith("#"):
            raise SettingsError(f"a colour cannot be named {quoted(name)}; choose another name")
    return colours


def show_named_hex(value: NamedHex) -> str:
    """Return a colour as it is typed."""
    return value[0] if value[1] is None else f"{value[0]}={value[1]}"


def show_palette(value: str | int | tuple[NamedHex, ...]) -> str | int | list[str]:
    """Return the colours as they stand in a job file."""
    if not isinstance(value, tuple):
        return value
    return [code if name is None else f"{code}={name}" for code, name in value]


def read_wood(value: Any) -> str:
    """Read which colour is the wood: auto, none, ``#hex``, or a name."""
    name = read_colour_key(value)
    return name.lower() if name.lower() in {"auto", "none"} else name


def read_colour_key(value: Any) -> str:
    """Read which colour is meant: by name, or by ``#hex``."""
    text = need_text(value, "navy").strip()
    return read_hex(text) if text.startswith("#") else read_name(text)


def read_bits(value: Any) -> tuple[str, ...]:
    """Read a list of bits as typed; each is tidied when it follows the grammar of bits.

    Any other text is kept: it may be a name in the user's own table.
    """
    items = [value] if isinstance(value, str) else value
    if not isinstance(items, (list, tuple)):
        raise SettingsError(f'{quoted(value)} is not a list; write it like ["flat 1/4in"]')
    bits = tuple(need_text(item, "flat 1/4in").strip() for item in items)
    if not bits:
        raise SettingsError('no bits are listed; name at least one, for example "flat 1/8in"')
    for bit in bits:
        if bits.count(bit) > 1:
            raise SettingsError(f"{quoted(bit)} is listed twice; each bit once")
    return bits
