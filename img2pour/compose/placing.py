"""Where a piece of art lies on the board: its size, place, turn and mirror, as one matrix."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from img2pour.errors import SettingsError
from img2pour.plane.placement import Placement
from img2pour.plane.regionmap import FloatArray
from img2pour.units import Length, parse_length, quoted, tidy

Bounds = tuple[float, float, float, float]

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
        One of them; the proportions are kept. None of them: its own size (drawings only).
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


def read_over(text: str) -> tuple[str, ArtPlace]:
    """Read a piece of art as typed on the command line.

    Parameters
    ----------
    text : str
        ``FILE@PLACE,SIZE`` and what else is wanted, like ``crest.png@centre,120mm``,
        ``crest.png@3in+4in,height 2in,turn 15deg,mirror``.

    Returns
    -------
    file : str
    place : ArtPlace

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
    given: dict[str, object] = {"spot": read_spot(parts[0])}
    for part in parts[1:]:
        _read_part(part, given, text)
    return file, ArtPlace(**given)  # type: ignore[arg-type]


def _read_part(part: str, given: dict[str, object], text: str) -> None:
    word, _, value = tidy(part).partition(" ")
    if word == "mirror":
        given["mirror"] = True
    elif word == "turn":
        given["turn_deg"] = read_angle(value)
    elif word == "height":
        given["height"] = parse_length(value, name="height")
    else:
        length = value if word == "width" else part
        given["width"] = parse_length(length, name="width")
    if "width" in given and "height" in given:
        raise SettingsError(
            f"{quoted(text, 80)} gives a width and a height; keep one of them (the art keeps its "
            "proportions)",
            name="over",
            value=text,
        )


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


def art_placement(
    place: ArtPlace,
    bounds: Bounds,
    board_mm: tuple[float, float],
    *,
    y_down: bool,
    mm_per_unit: float | None = None,
) -> Placement:
    """Return the placement of a piece of art on the board.

    Parameters
    ----------
    place : ArtPlace
    bounds : (x0, y0, x1, y1)
        The art's frame in its own units: pixels of a traced picture, or a drawing's millimetres.
    board_mm : (width, height)
    y_down : bool
        True for pictures, whose first row is at the top.
    mm_per_unit : float, optional
        Scale where neither width nor height is given.

    Raises
    ------
    SettingsError
        When no size is given and the art has none of its own.
    """
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    if place.width is not None:
        scale = place.width.mm / width
    elif place.height is not None:
        scale = place.height.mm / height
    elif mm_per_unit is not None:
        scale = mm_per_unit
    else:
        raise SettingsError(
            "how large shall the piece of art be? Give its width or its height", name="width"
        )
    angle = np.radians(place.turn_deg)
    cosine, sine = np.cos(angle), np.sin(angle)
    if place.turn_deg % 90 == 0:
        cosine, sine = np.round(cosine), np.round(sine)
    flips = np.diag([-1.0 if place.mirror else 1.0, -1.0 if y_down else 1.0])
    linear = scale * np.array([[cosine, -sine], [sine, cosine]]) @ flips
    middle = np.array([bounds[0] + bounds[2], bounds[1] + bounds[3]]) / 2
    box = scale * np.array([[abs(cosine), abs(sine)], [abs(sine), abs(cosine)]]) @ [width, height]
    target = _anchor_mm(place.spot, board_mm) + (0.5 - np.array(ANCHORS[place.spot.anchor])) * box
    matrix = np.eye(3)
    matrix[:2, :2] = linear
    matrix[:2, 2] = target - linear @ middle
    return Placement(matrix)


def _anchor_mm(spot: Spot, board_mm: tuple[float, float]) -> FloatArray:
    if spot.x is not None and spot.y is not None:
        return np.array([spot.x.mm, spot.y.mm])
    there: FloatArray = np.array(ANCHORS[spot.anchor]) * np.array(board_mm)
    return there
