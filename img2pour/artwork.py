"""From the picture to the artwork: straightened, evenly lit, reduced to labels and a palette.

Three ways lead to labels: flat colours, a line drawing's cells, or tones by lightness. Cells and
tones have edges of their own making, not edges that the pixels show, so their label image is what
is traced, drawn softly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colours.saddles import remove_saddles
from img2pour.errors import SettingsError
from img2pour.labels import OUTSIDE_LABEL, label_picture
from img2pour.light import even_light
from img2pour.palette import Palette, PaletteColour, find_palette
from img2pour.picture import Picture
from img2pour.sketch import LineDrawing, cells_are_plain, is_line_drawing, read_drawing
from img2pour.straighten import Lens, Straightened, mm_per_px_between, straighten
from img2pour.straighten.warp import project
from img2pour.tones import Posterised, posterise

if TYPE_CHECKING:
    from img2pour.job.model import Job

SOFT_PX = 1.2
"""Sigma of the blur with which a label image is drawn before it is traced."""

PICTURE_SHARE = 0.01
"""Share of the longer side that stands for lengths on the board while no size is known."""


NO_CELL = (
    "no drawn lines close around areas of one colour, so there are no cells: the picture is taken "
    "as flat colours; bridge larger gaps with --close, redraw, or leave --drawing at auto"
)


@dataclass(frozen=True, eq=False)
class Geometry:
    """How the artwork came from the upright input, without its pixels.

    Attributes
    ----------
    matrix : (3, 3) float64
        From upright input pixels, lens bulge taken out, to the artwork's.
    lens : Lens or None
    mm_per_px : float or None
        Scale that the sheet, a card or two measured points give.
    notes : tuple of str
    cut : tuple of str
        Where the photo's frame cuts the sheet, in words.
    """

    matrix: NDArray[np.float64]
    lens: Lens | None
    mm_per_px: float | None
    notes: tuple[str, ...]
    cut: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """Return all figures, so that equal geometry reads the same."""
        figures = self.matrix.tolist(), self.lens, self.mm_per_px, self.notes, self.cut
        return " ".join(map(repr, figures))

    def to_artwork(self, point_px: tuple[float, float]) -> tuple[float, float]:
        """Return where a point of the upright input lies in the artwork."""
        seen = np.array([point_px], np.float64)
        x, y = project(self.matrix, self.lens.straight(seen) if self.lens else seen)[0]
        return float(x), float(y)

    def to_upright(self, point_px: tuple[float, float]) -> tuple[float, float]:
        """Return where a point of the artwork lies in the upright input, lens bulge and all."""
        back = np.asarray(np.linalg.inv(self.matrix), np.float64)
        straight = project(back, np.array([point_px], np.float64))
        x, y = (self.lens.seen(straight) if self.lens else straight)[0]
        return float(x), float(y)


Way = Literal["colours", "cells", "tones"]


@dataclass(frozen=True)
class Lengths:
    """Lengths of the job in pixels of the artwork.

    Attributes
    ----------
    way : {"cells", "tones"}
        What they are for.
    close_px, smooth_px : float
        Gaps to bridge in a drawing, and the narrowest feature of tones.
    line_width_px : float or None
    """

    way: Way
    close_px: float
    smooth_px: float
    line_width_px: float | None


def straightened(picture: Picture, job: Job) -> Straightened:
    """Return the picture as the job wants it straightened; it is told of the sheet as well."""
    wish = job.photo.straighten
    return straighten(picture, wish, job.photo.sheet)


def geometry_of(done: Straightened, job: Job) -> Geometry:
    """Return the geometry of a straightened picture, with the scale that the photo gives."""
    mm_per_px = done.mm_per_px
    if job.photo.measure is not None:
        one, two, length = job.photo.measure
        mm_per_px = mm_per_px_between(one, two, length.mm, done.matrix, done.lens)
    if job.photo.sheet is not None and mm_per_px is None and not job.size.given:
        why = done.notes[-1] if done.notes else "no sheet found"
        raise SettingsError(
            f"the photo does not show the scale ({why}); "
            "give --width, --height or --board, or the sheet's corners with --straighten",
            name="photo.sheet",
            value=job.photo.sheet,
        )
    return Geometry(done.matrix, done.lens, mm_per_px, done.notes, done.cut)


def lit(picture: Picture, job: Job) -> Picture:
    """Return the picture evenly lit; its notes say what was done."""
    return even_light(picture, job.photo.light)[0]


def lengths_px(
    job: Job, way: Way, size_px: tuple[int, int], mm_per_px: float | None, bit_mm: float
) -> Lengths | None:
    """Return the job's lengths in pixels of the artwork; None for colours, which need none.

    Parameters
    ----------
    job : Job
    way : {"colours", "cells", "tones"}
    size_px : (width, height)
    mm_per_px : float or None
        None while nobody has said how large the piece is.
    bit_mm : float
        Width of the finest bit: tones are smoothed to it.
    """
    if way == "colours":
        return None
    wide = job.drawing.line_width
    if mm_per_px is None:
        usual = PICTURE_SHARE * max(size_px)
        return Lengths(way, usual, usual, None if wide is None else usual)
    return Lengths(
        way,
        job.drawing.close.mm / mm_per_px,
        bit_mm / mm_per_px,
        None if wide is None else wide.mm / mm_per_px,
    )


def way_of(artwork: Picture, job: Job) -> Way:
    """Return which way leads from this artwork to labels: flat colours, cells or tones."""
    if job.colours.tones is not None:
        return "tones"
    wish = job.drawing.read
    if wish == "on" or (wish == "auto" and is_line_drawing(artwork)):
        return "cells"
    return "colours"


def drawn_cells(
    artwork: Picture, geometry: Geometry, lengths: Lengths | None, job: Job
) -> LineDrawing | None:
    """Return the cells of a line drawing, or None where colours or tones lead on.

    They do as well where no line closes on itself, or lines do not bound the colours.

    Raises
    ------
    SettingsError
        When a drawing is asked for and the picture shows no line.
    """
    if lengths is None or lengths.way != "cells":
        return None
    wished = {_inside(artwork, geometry, cell.at): _named(cell.colour) for cell in job.cell}
    found = read_drawing(
        artwork,
        close_px=lengths.close_px,
        lines=job.drawing.lines,
        line_width_px=lengths.line_width_px,
        wished=wished,
    )
    if found is None:
        raise SettingsError(
            "no drawn line was found in the picture; leave --drawing at auto or off",
            name="drawing.read",
            value="on",
        )
    return found if len(found.cells) > 1 and cells_are_plain(artwork, found) else None


def _inside(artwork: Picture, geometry: Geometry, at: tuple[float, float]) -> tuple[float, float]:
    """Return where a cell's point lies in the artwork; it is refused outside."""
    x, y = geometry.to_artwork(at)
    height, width = artwork.rgb.shape[:2]
    if not (0 <= x < width and 0 <= y < height):
        raise SettingsError(
            f"no cell at {at[0]:g},{at[1]:g}: that is outside the drawing; give a point inside the "
            "cell, in pixels of the upright picture",
            name="cell.at",
            value=at,
        )
    return x, y


def _named(colour: tuple[str, str | None]) -> tuple[str, str]:
    """Return (name, hex) of a wished colour."""
    code, name = colour
    return name or code, code


def toned(artwork: Picture, lengths: Lengths | None, job: Job) -> Posterised | None:
    """Return the picture in tones, where the job asks for them."""
    if lengths is None or job.colours.tones is None:
        return None
    return posterise(artwork, job.colours.tones, lengths.smooth_px)


def palette_of(
    artwork: Picture, cells: LineDrawing | None, tones: Posterised | None, job: Job
) -> Palette:
    """Return the artwork's palette."""
    if tones is not None:
        return replace(tones.palette, blur_px=SOFT_PX)
    if cells is not None:
        return _cell_palette(cells)
    found = find_palette(artwork, job.colours.palette)
    if job.drawing.read == "on":
        found = replace(found, notes=(*found.notes, NO_CELL))
    if not artwork.by_camera:
        return found
    # Noise may hide it from the palette step, but a sensor adds up light.
    return replace(found, look=replace(found.look, linear_light=True))


def _cell_palette(cells: LineDrawing) -> Palette:
    """Return the palette of a drawing's cells."""
    counts = np.bincount(cells.labels.ravel(), minlength=len(cells.colours))
    colours = tuple(
        PaletteColour(name, _rgb(code), code, float(count / cells.labels.size))
        for (name, code), count in zip(cells.colours, counts, strict=False)
    )
    return Palette(colours, 1.0, SOFT_PX, 0.0, cells.notes)


def _rgb(code: str) -> tuple[float, float, float]:
    return float(int(code[1:3], 16)), float(int(code[3:5], 16)), float(int(code[5:7], 16))


def labels_of(
    artwork: Picture, palette: Palette, cells: LineDrawing | None, tones: Posterised | None
) -> NDArray[np.uint8]:
    """Return the label image, without saddles."""
    if cells is None and tones is None:
        return label_picture(artwork, palette)
    made = cells.labels if cells is not None else tones.labels  # type: ignore[union-attr]
    labels = made.copy()
    if artwork.outside is not None:
        labels[artwork.outside] = OUTSIDE_LABEL
    return remove_saddles(labels, artwork.rgb, palette.rgb, OUTSIDE_LABEL)


def traced_pixels(
    artwork: Picture, labels: NDArray[np.uint8], palette: Palette, made: bool
) -> NDArray[np.uint8]:
    """Return the pixels whose blends place the edges: the artwork's own, or softly drawn labels."""
    if not made:
        return artwork.rgb
    table = np.zeros((256, 3), np.uint8)
    table[: len(palette.colours)] = np.rint(palette.rgb).astype(np.uint8)
    return np.asarray(cv2.GaussianBlur(table[labels], (0, 0), SOFT_PX), np.uint8)
