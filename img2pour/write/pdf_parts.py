"""Building blocks of the printed pages: text, pictures and tables in one look."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.colors import HexColor, black, white
from reportlab.lib.pagesizes import A4, letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Image, Paragraph, Table

from img2pour.units import Shown
from img2pour.write.text import xml_text
from img2pour.write.typeface import BUILT_IN, face_of, printable
from img2pour.write.values import Picture
from img2pour.write.words import is_colour_code

MARGIN_MM = 14.0
RULE = HexColor("#8a8a80")
BAND = HexColor("#ecebe3")
MARK = HexColor("#0d5c63")
STROKE = 0.6
LONGEST_NAME = 90

PLAIN = ParagraphStyle("plain", fontName=BUILT_IN[False], fontSize=9.5, leading=12.5)
SMALL = ParagraphStyle("small", parent=PLAIN, fontSize=8, leading=10)
STRONG = ParagraphStyle("strong", parent=PLAIN, fontName=BUILT_IN[True])
RIGHT = ParagraphStyle("right", parent=PLAIN, alignment=2)
STRONG_RIGHT = ParagraphStyle("strong-right", parent=STRONG, alignment=2)
BIG_RIGHT = ParagraphStyle("big-right", parent=STRONG, fontSize=13, leading=15, alignment=2)
HEAD = ParagraphStyle(
    "head", parent=STRONG, fontSize=12.5, leading=15, spaceBefore=8, spaceAfter=3, keepWithNext=1
)
TITLE = ParagraphStyle("title", parent=STRONG, fontSize=22, leading=26, spaceAfter=4)

Look = list[Any]
"""Commands of a table's style."""

PLAIN_GRID: Look = [
    ("LINEBELOW", (0, 0), (-1, -1), STROKE, RULE),
    ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 2.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
]
HEADED_GRID: Look = [
    *PLAIN_GRID,
    ("LINEBELOW", (0, 0), (-1, 0), 1.2, black),
    ("BACKGROUND", (0, 0), (-1, 0), BAND),
]


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, points; A4 where mm are read, letter where inches are."""

    width: float
    height: float
    name: str

    @classmethod
    def of(cls, units: Shown) -> Paper:
        """Return the usual sheet of those units."""
        pagesize, name = (A4, "A4") if units == "mm" else (letter, "letter")
        return cls(pagesize[0], pagesize[1], name)

    @property
    def inner_width(self) -> float:
        """Between the margins."""
        return self.width - 2 * MARGIN_MM * mm


def shortened(text: str) -> str:
    """Return a name for a cell or a head: cut where it would fill a page."""
    return text if len(text) <= LONGEST_NAME else f"{text[: LONGEST_NAME - 3]}..."


def paragraph(text: str, style: Any = PLAIN) -> Any:
    """Return a paragraph of plain text; nothing in it is markup."""
    line = printable(text)
    face = face_of(line, bold=style.fontName == BUILT_IN[True])
    if face != style.fontName:
        style = style.clone(f"{style.name} in {face}", fontName=face)
    return Paragraph(xml_text(line), style)


def draw_line(canvas: Any, place: tuple[float, float], line: str, size: float) -> None:
    """Draw a printable line of text, its left end at a place, points."""
    canvas.setFont(face_of(line), size)
    canvas.drawString(*place, line)


def picture(shown: Picture, width: float, height: float) -> Any:
    """Return a picture as large as fits, points."""
    scale = min(width / shown.width_px, height / shown.height_px)
    return Image(io.BytesIO(shown.data), shown.width_px * scale, shown.height_px * scale)


def table(
    rows: Sequence[Sequence[str]],
    widths: Sequence[float],
    *,
    numbers_from: int = 99,
    chips: Sequence[str] = (),
) -> Any:
    """Return a table whose first row is its head.

    Parameters
    ----------
    rows : sequence of sequence of str
        Any text.
    widths : sequence of float
        Of the columns, points.
    numbers_from : int
        Columns from this one on stand to the right.
    chips : sequence of str
        ``#rrggbb`` for each row below the head, shown at its left; the first column is theirs.
    """
    cells = []
    for number, row in enumerate(rows):
        styles = (STRONG, STRONG_RIGHT) if number == 0 else (PLAIN, RIGHT)
        line = [
            paragraph(shortened(text), styles[column >= numbers_from])
            for column, text in enumerate(row)
        ]
        cells.append(["", *line] if chips else line)
    look: Look = [*HEADED_GRID]
    for number, code in enumerate(chips, 1):
        look.append(("BACKGROUND", (0, number), (0, number), _tone(code)))
        look.append(("BOX", (0, number), (0, number), STROKE, black))
    columns = [5 * mm, *widths] if chips else list(widths)
    return Table(cells, columns, style=look, hAlign="LEFT", repeatRows=1)


def _tone(code: str) -> Any:
    """Return a colour; white for what is no ``#rrggbb``."""
    return HexColor(code) if is_colour_code(code) else white


def boxes(labels: Sequence[str], width: float, columns: int, height: float = 12 * mm) -> Any:
    """Return empty boxes to write in, each with its label in its corner."""
    cells: list[Any] = [paragraph(label, SMALL) for label in labels]
    cells += [""] * (-len(cells) % columns)
    rows = [cells[at : at + columns] for at in range(0, len(cells), columns)]
    look: Look = [
        ("GRID", (0, 0), (-1, -1), STROKE, black),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ]
    return Table(rows, [width / columns] * columns, [height] * len(rows), style=look, hAlign="LEFT")
