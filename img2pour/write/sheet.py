"""What stands on the work sheet: plain values that the page, the cards and the template print.

The writers of ``report.html``, ``report.pdf`` and ``template.pdf`` read nothing else. Lengths are
mm, areas mm2, volumes ml, weights g; ``at_mm`` is measured from the zero of the drawings.
"""

from __future__ import annotations

from dataclasses import dataclass

from img2pour.units import Shown
from img2pour.write.outlines import Outline
from img2pour.write.section import Section
from img2pour.write.sheet_pours import PourSheet
from img2pour.write.values import Board, Picture, Pin, Point


@dataclass(frozen=True)
class ColourLine:
    """One colour of the artwork; `volume_ml` is None where nothing is poured."""

    name: str
    hex: str
    role: str
    layer: str | None
    area_mm2: float
    area_percent: float
    regions: int
    volume_ml: float | None


@dataclass(frozen=True)
class RemovedLine:
    """Regions of one colour that were taken out for the same reason."""

    colour: str
    reason: str
    count: int
    area_mm2: float
    at_mm: tuple[Point, ...]


@dataclass(frozen=True)
class PlaceLine:
    """A numbered place: its number on the picture, what is wrong there, and how wide it is."""

    number: int
    what: str
    at_mm: Point
    width_mm: float


@dataclass(frozen=True)
class VerdictLine:
    """What the bits keep of one colour."""

    colour: str
    kept_percent: float
    islands_lost: int
    necks: int
    thinnest_stroke_mm: float | None
    thinnest_wall_mm: float | None


@dataclass(frozen=True)
class WidthLine:
    """The same artwork on a board of another width."""

    width_mm: float
    lost_percent: float
    volume_ml: float
    minutes: float


@dataclass(frozen=True)
class VerdictSheet:
    """Whether the artwork can be carved, why, and what would help."""

    word: str
    accepted: bool
    lost_percent: float
    colours: tuple[VerdictLine, ...]
    advice: tuple[str, ...]
    widths: tuple[WidthLine, ...]


@dataclass(frozen=True)
class CautionLine:
    """A caution: a few words, then one to three sentences."""

    title: str
    text: str


@dataclass(frozen=True, eq=False)
class Sheet:
    """Everything on the work sheet.

    Attributes
    ----------
    title : str
        Of the piece, any text.
    units : {"in", "mm"}
        What lengths are shown in.
    version, input_sha256 : str
    board : Board
    zero : str
        Where the drawings have their zero, in words.
    grain : str
    depth_mm, surface_mm : float
    bits : tuple of str
    tolerance_mm : float or None
    finished : Picture
    colours : tuple of ColourLine
    removed : tuple of RemovedLine
    verdict : VerdictSheet or None
    places : tuple of PlaceLine
    losses : Picture or None
        Where the numbered places lie.
    sections : tuple of Section
    pours : PourSheet or None
        None until the pours are planned.
    warnings : tuple of str
    cautions : tuple of CautionLine
    lines : tuple of Outline
        All boundaries of the design, each once, mm from the board's lower-left corner.
    pins : tuple of Pin
    cut_outs : tuple of Outline
        Where pieces are cut out of the blank.
    """

    title: str
    units: Shown
    version: str
    input_sha256: str
    board: Board
    zero: str
    grain: str
    depth_mm: float
    surface_mm: float
    bits: tuple[str, ...]
    tolerance_mm: float | None
    finished: Picture
    colours: tuple[ColourLine, ...]
    removed: tuple[RemovedLine, ...]
    verdict: VerdictSheet | None
    places: tuple[PlaceLine, ...]
    losses: Picture | None
    sections: tuple[Section, ...]
    pours: PourSheet | None
    warnings: tuple[str, ...]
    cautions: tuple[CautionLine, ...]
    lines: tuple[Outline, ...]
    pins: tuple[Pin, ...] = ()
    cut_outs: tuple[Outline, ...] = ()
