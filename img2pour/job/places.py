"""Where a piece of art lies on the board, as it is typed: a place, a size, a turn."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from img2pour.errors import SettingsError
from img2pour.units import Length, parse_length, quoted, tidy

ANCHORS: dict[str, tuple[float, float]] = {
    "lower-left": (0.0, 0.0),
    "lower": (0.5, 0.0),
    "lower-right": (1.0, 0.0),
    "left": (0.0, 0.5),
    "centre": (0.5, 0.5),
    "right": (1.0, 0.5),
    "upper-left": (0.0, 1.0),
    "upper": (0.5, 1.0),
    "upper-right": (1.0, 1.0),
}
"""Shares of width and height, from the lower-left corner."""

SAME_WORD = {"center": "centre", "middle": "centre", "top": "upper", "bottom": "lower"}


@dataclass(frozen=True)
class Spot:
    """A place on the board.

    Attributes
    ----------
    anchor : str
        One of ANCHORS: which point of the art is meant.
    x, y : Length or None
        Where that point lies, from the board's lower-left corner. Without them it lies on the same
        anchor of the board.
    """

    anchor: str = "centre"
    x: Length | None = None
    y: Length | None = None


@dataclass(frozen=True)
class ArtPlace:
    """How a piece of art is laid on the board.

    Attributes
    ----------
    width, height : Length or None
        The proportions are kept; with both it is fitted inside. With none its own size (drawings
        only).
    spot : Spot
    turn_deg : float
        Anticlockwise, about its centre.
    mirror : bool
        Left and right change places before it is turned.
    """

    width: Length | None = None
    height: Length | None = None
    spot: Spot = Spot()
    turn_deg: float = 0.0
    mirror: bool = False


def read_anchor(text: str) -> str:
    """Return the anchor that a word names.

    Raises
    ------
    SettingsError
    """
    words = [SAME_WORD.get(word, word) for word in re.split(r"[ _-]+", tidy(text))]
    name = "-".join(sorted(words, key=lambda word: word in {"left", "right"}))
    if name not in ANCHORS:
        raise SettingsError(
            f"{quoted(text)} is no place; the places are {', '.join(ANCHORS)}, or two lengths from "
            "the board's lower-left corner like 3in+4in",
            name="at",
            value=text,
        )
    return name


def read_spot(text: str, anchor: str | None = None) -> Spot:
    """Return the place that is typed: an edge, a corner, ``centre``, or ``3in+4in``.

    Parameters
    ----------
    text : str
    anchor : str, optional
        Which point of the art lies there; of typed lengths the centre, else the same point.

    Raises
    ------
    SettingsError
    """
    x, plus, y = text.partition("+")
    if not plus:
        there = read_anchor(text)
        if anchor is not None and read_anchor(anchor) != there:
            raise SettingsError(
                f"the art's {anchor} cannot lie at the board's {there}; give the place as lengths, "
                "like 3in+4in",
                name="by",
                value=anchor,
            )
        return Spot(there)
    by = "centre" if anchor is None else read_anchor(anchor)
    return Spot(by, parse_length(x, name="at", sign="any"), parse_length(y, name="at", sign="any"))


def read_over(text: str) -> dict[str, Any]:
    """Read a piece of art as typed on the command line.

    Parameters
    ----------
    text : str
        ``FILE@PLACE,SIZE`` and what else is wanted, like ``crest.png@centre,120mm``,
        ``crest.png@3in+4in,height 2in,turn 15deg,mirror,clear white,moat 2mm,cut_out 3mm``, and
        for the texts of a drawing ``font own.ttf``.

    Returns
    -------
    dict
        The fields of an ``[[art]]`` section of a job.

    Raises
    ------
    SettingsError
        When a part cannot be read.
    """
    file, at, rest = text.rpartition("@")
    if not at or not file:
        raise SettingsError(
            f"{quoted(text, 80)} names no file and place; write it like crest.png@centre,120mm",
            name="over",
            value=text,
        )
    parts = [part.strip() for part in rest.split(",")]
    read_spot(parts[0])
    given: dict[str, Any] = {"file": file, "at": parts[0]}
    for part in parts[1:]:
        _read_part(part, given)
    return given


def _read_part(part: str, given: dict[str, Any]) -> None:
    word, _, value = tidy(part).partition(" ")
    if word == "mirror":
        given["mirror"] = True
    elif word == "turn":
        read_angle(value)
        given["turn"] = value
    elif word == "clear":
        given["clear"] = part.partition(" ")[2].strip()
    elif word == "font":
        given["font"] = part.partition(" ")[2].strip()
    elif word in {"height", "moat", "cut_out"}:
        given[word] = parse_length(value, name=word, sign="not negative").text
    else:
        length = value if word == "width" else part
        given["width"] = parse_length(length, name="width").text


def read_angle(text: str) -> float:
    """Return an angle in degrees, typed like ``15deg`` or ``-30 deg``.

    Raises
    ------
    SettingsError
    """
    match = re.fullmatch(r"([+-]?[0-9]*\.?[0-9]+) ?(?:deg|degrees|°)", tidy(text))
    if match is None:
        raise SettingsError(
            f"{quoted(text)} is not an angle; write it like 15deg", name="turn", value=text
        )
    return float(match[1])
