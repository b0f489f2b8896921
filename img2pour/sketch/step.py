"""The sketch step: from a line drawing to cells that fill the picture without lines or gaps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.picture import Picture
from img2pour.sketch.cells import CellMap, find_cells, spread_to_middle
from img2pour.sketch.colouring import (
    OWN_COLOURS,
    colour_numbers,
    drawn_colours,
    grouped_colours,
    is_coloured_in,
    neighbours_of,
)
from img2pour.sketch.gaps import bridge_reach, bridged, look_back
from img2pour.sketch.hatching import without_hatching
from img2pour.sketch.ink import Ink, find_ink, line_pixels
from img2pour.sketch.thinning import thinned

LINE_WISHES = ("shared", "keep", "stand")
# Number of the lines' own colour and of the first cell colour in a label image.
_MOST_COLOURS = 250


@dataclass(frozen=True)
class Cell:
    """One area that lines enclose.

    Attributes
    ----------
    number : int
        A label for people, 1 upwards; it may change when the drawing does.
    at_px : (x, y)
        A point well inside it, in pixels of the drawing: this addresses the cell.
    area_px2 : int
    colour : int
        Index into the colours of the `LineDrawing`.
    at_rim : bool
        Whether it touches the picture's rim: the bare paper around the drawing does.
    """

    number: int
    at_px: tuple[float, float]
    area_px2: int
    colour: int
    at_rim: bool


@dataclass(frozen=True, eq=False)
class LineDrawing:
    """A line drawing as cells.

    Attributes
    ----------
    labels : (H, W) uint8
        Index into `colours`; neighbouring cells differ unless they were coloured in alike.
    cell_of : (H, W) int32
        Number of the cell each pixel belongs to, borders along the middle of the lines.
    cells : tuple of Cell
    colours : tuple of (name, hex)
    line_colour : int or None
        Index of the lines' own colour when they are kept.
    line_width_px : float
        Usual width of the drawn lines.
    typical : (count + 1, 3) float64
        sRGB 0..255 that each cell usually shows off the lines; row 0 is unused.
    notes : tuple of str
    """

    labels: NDArray[np.uint8]
    cell_of: NDArray[np.int32]
    cells: tuple[Cell, ...]
    colours: tuple[tuple[str, str], ...]
    line_colour: int | None
    line_width_px: float
    typical: NDArray[np.float64]
    notes: tuple[str, ...]


def read_drawing(
    picture: Picture,
    *,
    close_px: float,
    lines: str = "shared",
    line_width_px: float | None = None,
    wished: Mapping[tuple[float, float], tuple[str, str]] | None = None,
) -> LineDrawing | None:
    """Return the drawing's cells, or None when it shows no line at all.

    Parameters
    ----------
    picture : Picture
        Straightened and evenly lit.
    close_px : float
        Gaps in lines up to this length are bridged, 0 or more.
    lines : "shared", "keep" or "stand"
        Shared: cells meet in the middle of the line. Keep and stand: the lines are a colour of
        their own; how it is poured is up to the stages.
    line_width_px : float or None
        Even width of kept lines; None: the usual width as drawn.
    wished : mapping from (x, y) to (name, hex), or None
        Colours of cells by a point of the drawing inside them.

    Raises
    ------
    SettingsError
        On an unknown wish for the lines, a negative gap or width, or a point outside the picture.
    """
    _check(close_px, lines, line_width_px)
    ink = find_ink(picture.rgb)
    if ink is None:
        return None
    off_lines = line_pixels(ink)
    thin = thinned(ink.mask)
    width = ink.width_px / ink.scale
    closed, bridges = bridged(
        without_hatching(thin, width), bridge_reach(close_px / ink.scale, width), look_back(width)
    )
    depth = _reduced_depth(ink)
    cells = find_cells(closed, depth, width)
    cell_of = spread_to_middle(cells, off_lines, picture.rgb.shape[:2])
    notes = _notes(cells, bridges, ink)
    if cells.count == 0:
        cell_of = np.ones(picture.rgb.shape[:2], np.int32)
        cells = CellMap(cell_of, 1)
    typical = drawn_colours(picture.rgb, cell_of, off_lines, cells.count)
    group, colours, said = _cell_colours(cell_of, typical)
    group = _with_wishes(group, colours, cell_of, wished or {})
    labels = group[cell_of].astype(np.uint8)
    line_colour = None
    if lines != "shared":
        line_colour = len(colours)
        colours.append(("line", _hex(_line_rgb(picture.rgb, ink))))
        labels[even_lines(cell_of, line_width_px or ink.width_px)] = line_colour
    found = _described(cell_of, cells.count, group)
    said = (*notes, *said)
    return LineDrawing(
        labels, cell_of, found, tuple(colours), line_colour, ink.width_px, typical, said
    )


def _check(close_px: float, lines: str, line_width_px: float | None) -> None:
    if lines not in LINE_WISHES:
        raise SettingsError(
            f"lines is '{lines}': use one of {', '.join(LINE_WISHES)}", name="lines", value=lines
        )
    if not close_px >= 0:
        raise SettingsError(
            f"gaps of {close_px:g} px cannot be closed: give 0 or more",
            name="close",
            value=close_px,
        )
    if line_width_px is not None and not line_width_px > 0:
        raise SettingsError(
            f"a line width of {line_width_px:g} px is not above zero",
            name="line_width",
            value=line_width_px,
        )


def _reduced_depth(ink: Ink) -> NDArray[np.float32]:
    size = (ink.mask.shape[1], ink.mask.shape[0])
    return np.asarray(cv2.resize(ink.depth, size, interpolation=cv2.INTER_AREA), np.float32)


def _notes(
    cells: CellMap, bridges: list[tuple[tuple[int, int], tuple[int, int]]], ink: Ink
) -> tuple[str, ...]:
    found = "1 cell" if cells.count == 1 else f"{cells.count} cells"
    notes = [
        f"read as a line drawing: {found} between lines about {ink.width_px:.1f} px wide "
        "(--drawing off keeps its inks as colours)"
    ]
    if bridges:
        notes.append(
            "1 gap in a line was" if len(bridges) == 1 else f"{len(bridges)} gaps in lines were"
        )
        notes[-1] += " bridged"
    if cells.count <= 1:
        notes.append("no line closes on itself: there is no cell; close larger gaps, or redraw")
    return tuple(notes)


def _cell_colours(
    cell_of: NDArray[np.int32], typical: NDArray[np.float64]
) -> tuple[NDArray[np.int64], list[tuple[str, str]], tuple[str, ...]]:
    """Return the colour of each cell, the colours (name, hex) and what to say about them."""
    count = len(typical) - 1
    areas = np.bincount(cell_of.ravel(), minlength=count + 1).astype(np.int64)
    if not is_coloured_in(typical, areas):
        return *_own_colours(cell_of, count), ()
    group, found = grouped_colours(typical, areas)
    colours = [(f"drawn {k + 1}", _hex(colour)) for k, colour in enumerate(found)]
    return group, colours, (f"the cells were coloured in: {len(found)} drawn colours",)


def _hex(rgb: NDArray[np.float64]) -> str:
    red, green, blue = (round(float(v)) for v in rgb)
    return f"#{red:02x}{green:02x}{blue:02x}"


def _own_colours(
    cell_of: NDArray[np.int32], count: int
) -> tuple[NDArray[np.int64], list[tuple[str, str]]]:
    """Return a colour for each cell: bare paper at the rim, else so that neighbours differ."""
    rim = np.concatenate([cell_of[0], cell_of[-1], cell_of[:, 0], cell_of[:, -1]])
    around = int(np.argmax(np.bincount(rim, minlength=count + 1)))
    number = colour_numbers(neighbours_of(cell_of, count), {around: 0})
    number[0] = 0
    used = int(number.max()) + 1
    names = [("paper", "#fafafa")]
    names += [(f"cell colour {k}", OWN_COLOURS[(k - 1) % len(OWN_COLOURS)]) for k in range(1, used)]
    return number, names


def _with_wishes(
    group: NDArray[np.int64],
    colours: list[tuple[str, str]],
    cell_of: NDArray[np.int32],
    wished: Mapping[tuple[float, float], tuple[str, str]],
) -> NDArray[np.int64]:
    """Return the cells' colours with the wishes of the job written in; `colours` grows."""
    changed = group.copy()
    height, width = cell_of.shape
    for (x, y), colour in wished.items():
        if not (0 <= x < width and 0 <= y < height):
            raise SettingsError(
                f"no cell at {x:g},{y:g}: the picture has {width} x {height} px",
                name="cells",
                value=(x, y),
            )
        if colour not in colours:
            if len(colours) >= _MOST_COLOURS:
                raise SettingsError(
                    f"more than {_MOST_COLOURS} cell colours: use fewer", name="cells", value=colour
                )
            colours.append(colour)
        changed[cell_of[int(y), int(x)]] = colours.index(colour)
    return changed


def _described(
    cell_of: NDArray[np.int32], count: int, group: NDArray[np.int64]
) -> tuple[Cell, ...]:
    """Return each cell with the middle of the largest disc in it."""
    areas = np.bincount(cell_of.ravel(), minlength=count + 1)
    edge = np.zeros(cell_of.shape, np.uint8)
    edge[:, :-1] |= cell_of[:, :-1] != cell_of[:, 1:]
    edge[:-1] |= cell_of[:-1] != cell_of[1:]
    padded = np.pad(1 - edge, 1)
    inside = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    # The middle of a cell is a peak; the few peaks are quickly sorted.
    peak = np.flatnonzero(inside >= cv2.dilate(inside, np.ones((3, 3), np.uint8)))
    order = peak[np.lexsort((peak, -inside.ravel()[peak], cell_of.ravel()[peak]))]
    first = np.searchsorted(cell_of.ravel()[order], np.arange(1, count + 1))
    rim = set(np.concatenate([cell_of[0], cell_of[-1], cell_of[:, 0], cell_of[:, -1]]).tolist())
    found = []
    for number in range(1, count + 1):
        if areas[number] == 0:
            continue
        row, column = divmod(int(order[first[number - 1]]), cell_of.shape[1])
        at = (column + 0.5, row + 0.5)
        found.append(Cell(number, at, int(areas[number]), int(group[number]), number in rim))
    return tuple(found)


def _line_rgb(rgb: NDArray[np.uint8], ink: Ink) -> NDArray[np.float64]:
    """Return the typical colour in the middle of the lines."""
    middle = ink.depth > 0.8 * ink.contrast
    values = rgb[middle]
    if len(values) == 0:
        return np.array([40.0, 40.0, 40.0])
    return np.asarray(np.median(values[:: max(1, len(values) // 100_000)], axis=0), np.float64)


def even_lines(cell_of: NDArray[np.int32], width_px: float) -> NDArray[np.bool_]:
    """Return the pixels within half of `width_px` of the borders between cells (H, W)."""
    off = np.ones(cell_of.shape, np.uint8)
    across = cell_of[:, :-1] != cell_of[:, 1:]
    down = cell_of[:-1] != cell_of[1:]
    off[:, :-1][across] = 0
    off[:, 1:][across] = 0
    off[:-1][down] = 0
    off[1:][down] = 0
    # Both pixels beside a border are half a pixel from it.
    distance = cv2.distanceTransform(off, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) + 0.5
    return np.asarray(distance <= width_px / 2)
