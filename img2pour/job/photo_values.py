"""Field types that speak of places in the picture: corners, points, a measured distance."""

from __future__ import annotations

import math
import re
from typing import Any, Literal

from img2pour.errors import SettingsError
from img2pour.units import Length, parse_length, quoted

Point = tuple[float, float]
Corners = tuple[Point, Point, Point, Point]
Measure = tuple[Point, Point, Length]

SHEETS = ("a2", "a3", "a4", "a5", "letter", "legal", "tabloid", "auto", "card")


def read_point(value: Any) -> Point:
    """Read "x,y" in pixels."""
    if isinstance(value, (list, tuple)) and len(value) == 2:
        value = f"{value[0]},{value[1]}"
    parts = str(value).split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError:
        raise SettingsError(f'{quoted(value)} is not a point; write it like "420,310"') from None
    if not (math.isfinite(x) and math.isfinite(y)):
        raise SettingsError(f"{quoted(value)} is not a place in a picture")
    return x, y


def show_point(point: Point) -> str:
    """Return a point as it is typed."""
    return f"{point[0]:.12g},{point[1]:.12g}"


def read_straighten(value: Any) -> Literal["auto", "off"] | Corners:
    """Read "auto", "off" or four corners."""
    if isinstance(value, (list, tuple)):
        value = " ".join(show_point(read_point(item)) for item in value)
    text = str(value).strip()
    if text == "auto" or text == "off":
        return "auto" if text == "auto" else "off"
    points = [read_point(word) for word in text.split()] if "," in text else []
    if len(points) != 4:
        raise SettingsError(
            f'{quoted(value)} is not auto, off or four corners like "40,60 980,52 1010,700 30,720"'
        )
    return points[0], points[1], points[2], points[3]


def show_straighten(value: str | Corners) -> str:
    """Return the wish as it is typed."""
    return value if isinstance(value, str) else " ".join(map(show_point, value))


def read_sheet(value: Any) -> str:
    """Read the name of a sheet."""
    name = str(value).strip().lower()
    if name not in SHEETS:
        raise SettingsError(f"{quoted(value)} is no sheet that is known: {', '.join(SHEETS)}")
    return name


def read_measure(value: Any) -> Measure | None:
    """Read two points and their distance: "120,80 940,96 = 7 1/2 in"; None for nothing."""
    if value is None:
        return None
    if isinstance(value, tuple) and len(value) == 3 and isinstance(value[2], Length):
        return value
    points, equals, length = str(value).partition("=")
    words = re.split(r"\s+", points.strip())
    if not equals or len(words) != 2:
        raise SettingsError(
            f"{quoted(value)} is not two points and a length; write it like "
            '"120,80 940,96 = 7 1/2 in"'
        )
    return read_point(words[0]), read_point(words[1]), parse_length(length, sign="positive")


def show_measure(value: Measure | None) -> str | None:
    """Return a measured distance as it is typed."""
    if value is None:
        return None
    return f"{show_point(value[0])} {show_point(value[1])} = {value[2]}"
