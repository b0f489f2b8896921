"""Cross-sections of the board to scale: wood, resin and the floors that the bits left."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from img2pour.errors import GeometryError
from img2pour.write.text import xml_text

WOOD_FILL = "#e0c59a"
MARGIN_MM = 4.0
TYPE_MM = 3.5
LINE_MM = 0.2

Point = tuple[float, float]


@dataclass(frozen=True)
class Fill:
    """A part of the section in one material.

    Attributes
    ----------
    title, hex : str
        Name and colour of the material.
    outline : sequence of (along, height)
        In mm: along the cut from its start, and height above the board's underside.
    """

    title: str
    hex: str
    outline: Sequence[Point]


@dataclass(frozen=True)
class Section:
    """A cut through the board.

    Attributes
    ----------
    title : str
        What is cut, any text.
    length_mm : float
        Length of the cut.
    thickness_mm : float
        Of the board.
    floor : sequence of (along, depth)
        The carved profile from the start of the cut to its end, in mm; depth from the face.
    fills : sequence of Fill
        Drawn over the wood, the earliest first.
    """

    title: str
    length_mm: float
    thickness_mm: float
    floor: Sequence[Point]
    fills: Sequence[Fill] = ()


def section_svg(section: Section, *, height_times: float = 1.0, caption: bool = True) -> str:
    """Return the section as an SVG element of true size.

    Parameters
    ----------
    section : Section
    height_times : float
        How much heights are stretched; above 1 the drawing says so.
    caption : bool
        Whether a line of text stands below it.

    Raises
    ------
    GeometryError
        When a point is not a number.
    """
    _require_numbers(section)
    width = section.length_mm + 2 * MARGIN_MM
    thickness = section.thickness_mm * height_times
    height = thickness + 2 * MARGIN_MM + (2 * TYPE_MM if caption else 0.0)
    floor = [(x, section.thickness_mm - depth) for x, depth in section.floor]
    wood = [(0.0, 0.0), *floor, (section.length_mm, 0.0)]
    shapes = [_polygon(wood, WOOD_FILL, "wood", section, height_times)]
    shapes += [
        _polygon(fill.outline, fill.hex, fill.title, section, height_times)
        for fill in section.fills
    ]
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width:.2f}mm" '
            f'height="{height:.2f}mm" viewBox="0 0 {width:.2f} {height:.2f}">\n',
            f"<title>{xml_text(section.title)}</title>\n",
            *shapes,
            _line([*floor], section, height_times),
            _caption(section, height_times, height) if caption else "",
            "</svg>\n",
        ]
    )


def _require_numbers(section: Section) -> None:
    points = [*section.floor, *(p for fill in section.fills for p in fill.outline)]
    if not all(math.isfinite(value) for point in points for value in point):
        raise GeometryError(f"the section {section.title!r} holds a point that is not a number")


def _at(point: Point, section: Section, height_times: float) -> str:
    """Return a point of the section in units of the drawing, y down."""
    x = point[0] + MARGIN_MM
    y = (section.thickness_mm - point[1]) * height_times + MARGIN_MM
    return f"{x:.3f},{y:.3f}"


def _polygon(
    outline: Sequence[Point], fill: str, title: str, section: Section, height_times: float
) -> str:
    points = " ".join(_at(point, section, height_times) for point in outline)
    return f'<polygon points="{points}" fill="{fill}"><title>{xml_text(title)}</title></polygon>\n'


def _line(points: Sequence[Point], section: Section, height_times: float) -> str:
    """Return the carved profile as a line over the fills."""
    joined = " ".join(_at(point, section, height_times) for point in points)
    stroke = f'fill="none" stroke="#000000" stroke-width="{LINE_MM}"'
    return f'<polyline points="{joined}" {stroke}/>\n'


def _caption(section: Section, height_times: float, height: float) -> str:
    """Return the title, the true thickness, and how heights are stretched."""
    scale = "to scale" if height_times == 1.0 else f"heights {height_times:g} times"
    words = f"{section.title} - board {section.thickness_mm:g} mm thick, {scale}"
    place = f'x="{MARGIN_MM}" y="{height - TYPE_MM:.2f}"'
    return (
        f'<text {place} font-family="sans-serif" font-size="{TYPE_MM}">{xml_text(words)}</text>\n'
    )
