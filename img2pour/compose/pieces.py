"""From the job's pieces to layers: each one's outlines or map, placed, copied, with its moat."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from img2pour.compose import plain
from img2pour.compose.around import moat
from img2pour.compose.cut_outs import cut_out
from img2pour.compose.drawing import DrawnFills, drawn_fills, placed_outline
from img2pour.compose.palette import Colours
from img2pour.compose.placing import Bounds, Frame, placements
from img2pour.errors import SettingsError
from img2pour.job.piece_sections import ArtPiece, Piece, ShapePiece, TextPiece
from img2pour.job.places import ArtPlace
from img2pour.plane.overlay import FillLayer, Layer, MapLayer, Outline
from img2pour.plane.placement import Placement, place
from img2pour.plane.regionmap import OUTSIDE_COLOUR, RegionMap
from img2pour.units import quoted

DRAWING_SUFFIXES = {".svg", ".dxf"}


@dataclass(frozen=True, eq=False)
class TracedArt:
    """A picture that was traced: its map in pixels, y down, and its colours as (name, hex)."""

    region_map: RegionMap
    colours: tuple[tuple[str, str], ...]


TraceArt = Callable[[ArtPiece], TracedArt]


@dataclass(frozen=True, eq=False)
class PieceLayers:
    """What a piece lays on the board.

    Attributes
    ----------
    name : str
        What it is called in findings.
    layers : tuple of Layer
        As many for each copy, copy after copy; then moats come first, the same way.
    findings : tuple of str
    places : tuple of Placement
        Of every copy.
    cut_outs : tuple of tuple of (vertices, bulges)
        Where each copy is cut out of the blank; empty where none is.
    """

    name: str
    layers: tuple[Layer, ...]
    findings: tuple[str, ...]
    places: tuple[Placement, ...]
    cut_outs: tuple[tuple[Outline, ...], ...] = ()


@dataclass(frozen=True, eq=False)
class Table:
    """What all pieces are laid out on.

    Attributes
    ----------
    board_mm : (width, height)
    colours : Colours
    base : Path
        Folder from which files are seen.
    trace_art : callable
        Traces a picture.
    pin_mm : float
        Diameter of the pins that are to stand beside cut-outs; 0 for none.
    """

    board_mm: tuple[float, float]
    colours: Colours
    base: Path
    trace_art: TraceArt
    pin_mm: float = 0.0


def piece_names(pieces: Sequence[Piece]) -> tuple[str, ...]:
    """Return what each piece is called in findings: what it is, and a number where others are too.

    A file is called by its name alone, wherever it lies.
    """
    names: list[str] = []
    for piece in pieces:
        if isinstance(piece, ArtPiece):
            own = f"art {quoted(Path(piece.file).name)}"
        elif isinstance(piece, TextPiece):
            own = f"text {quoted(piece.words)}"
        elif isinstance(piece, ShapePiece):
            own = f"shape {piece.kind}"
        else:
            raise TypeError(f"{type(piece).__name__} is no piece")
        name, count = own, 2
        while name in names:
            name, count = f"{own} {count}", count + 1
        names.append(name)
    return tuple(names)


def piece_layers(piece: Piece, number: int, name: str, table: Table) -> PieceLayers:
    """Return the layers of one piece, the lowest first.

    Parameters
    ----------
    piece : Piece
    number : int
        By which faces know it.
    name : str
        From :func:`piece_names`.
    table : Table

    Raises
    ------
    SettingsError
        When a file, a size or a colour of it cannot be used.
    """
    if isinstance(piece, ArtPiece):
        made = _art(piece, number, name, table)
    elif isinstance(piece, ShapePiece):
        made = _shape(piece, number, name, table)
    elif isinstance(piece, TextPiece):
        made = _text(piece, number, name, table)
    else:
        raise TypeError(f"{type(piece).__name__} is no piece")
    each = len(made.layers) // len(made.places)
    first = list(made.layers[:each])
    if piece.moat is not None:
        colour = table.colours.of_piece(piece.moat_colour)
        around = [moat(layer, piece.moat.mm, colour, number) for layer in made.layers]
        first += around[:each]
        made = replace(made, layers=(*around, *made.layers))
    if piece.cut_out is None:
        return made
    outlines = cut_out(first, piece.cut_out.mm)
    return replace(made, cut_outs=_copied(outlines, made.places))


def _copied(
    outlines: Sequence[Outline], places: Sequence[Placement]
) -> tuple[tuple[Outline, ...], ...]:
    """Return the outlines of the first copy, and the same at the places of the others."""
    back = np.linalg.inv(places[0].matrix)
    moves = [Placement(place.matrix @ back) for place in places]
    return tuple(tuple(placed_outline(one, move) for one in outlines) for move in moves)


def _art(piece: ArtPiece, number: int, name: str, table: Table) -> PieceLayers:
    own = ArtPlace(piece.width, piece.height, mirror=piece.mirror)
    suffix = Path(piece.file).suffix.lower()
    if suffix in DRAWING_SUFFIXES:
        return _drawing(piece, own, number, table, name)
    traced = table.trace_art(piece)
    colours = [
        OUTSIDE_COLOUR if piece.clear in {colour, code} else table.colours.of_picture(code, colour)
        for colour, code in traced.colours
    ]
    if piece.clear is not None and OUTSIDE_COLOUR not in colours:
        known = ", ".join(colour for colour, _ in traced.colours)
        raise SettingsError(
            f"{name} has no colour {quoted(piece.clear)} to leave clear; it has {known}",
            name="clear",
            value=piece.clear,
        )
    lookup = np.array([*colours, OUTSIDE_COLOUR])
    bounds = traced.region_map.bounds
    shown = replace(traced.region_map, face_colours=lookup[traced.region_map.face_colours])
    places = placements(piece, own, Frame(bounds, y_down=True), table.board_mm)
    layers = tuple(MapLayer(place(shown, p), number) for p in places)
    return PieceLayers(name, layers, (), tuple(places))


def _drawing(piece: ArtPiece, own: ArtPlace, number: int, table: Table, name: str) -> PieceLayers:
    path = table.base / piece.file
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "cannot be read").lower()
        raise SettingsError(f"{name} cannot be read: {reason}", name="file") from error
    if path.suffix.lower() == ".svg":
        from img2pour.compose.fonts import open_font
        from img2pour.compose.svg_drawing import read_svg

        font = None if piece.font is None else open_font(table.base / piece.font)
        drawing = read_svg(data, path.name, font)
    else:
        from img2pour.compose.dxf_drawing import read_dxf

        drawing = read_dxf(data, path.name, piece.layers or None)
    if drawing.mm_per_unit is None and piece.width is None and piece.height is None:
        raise SettingsError(
            f"{name} tells no unit, so how large it is to be is not known; give its width or its "
            "height",
            name="width",
        )
    fills = drawn_fills(drawing, drawing.mm_per_unit or 1.0)
    places = placements(
        piece, own, Frame(fills.bounds, mm_per_unit=drawing.mm_per_unit), table.board_mm
    )
    if drawing.mm_per_unit is None or places[0].scale > 2 * drawing.mm_per_unit:
        fills = drawn_fills(drawing, places[0].scale)  # as finely as it will be cut
    _need_sensible(fills, places[0])
    numbers = {
        code: table.colours.of_hex(code, called) for code, called in fills.colour_names().items()
    }
    layers = [layer for p in places for layer in fills.layers(p, numbers, number)]
    return PieceLayers(name, tuple(layers), _said(name, fills, places[0]), tuple(places))


LARGEST_MM = 1e6
"""A drawing of more than a kilometre is meant to be smaller."""


def _need_sensible(fills: DrawnFills, placement: Placement) -> None:
    """Refuse a drawing that is vast by its own units."""
    size = placement.scale * max(
        fills.bounds[2] - fills.bounds[0], fills.bounds[3] - fills.bounds[1]
    )
    if not size <= LARGEST_MM:
        raise SettingsError(
            f"by its own units the drawing is {size / 1000:.3g} m wide or high; give its width or "
            "height",
            name="width",
        )


def _said(name: str, fills: DrawnFills, placement: Placement) -> tuple[str, ...]:
    """Return the findings of a drawing, with their places on the board."""
    lines = []
    for finding in fills.findings:
        where = ""
        if finding.at is not None:
            x, y = placement.apply(np.array([finding.at]))[0]
            where = f", at {x:.1f}, {y:.1f} mm"
        lines.append(f"{name}: {finding.reason}{where}")
    return tuple(lines)


def _shape(piece: ShapePiece, number: int, name: str, table: Table) -> PieceLayers:
    outlines = _plain_outlines(piece)
    points = np.concatenate([vertices for vertices, _ in outlines])
    width = piece.width.mm if piece.width is not None else float(np.ptp(points[:, 0]))
    height = piece.height.mm if piece.height is not None else width
    bounds = (-width / 2, -height / 2, width / 2, height / 2)
    return _filled(piece, name, outlines, bounds, number, table)


def _plain_outlines(piece: ShapePiece) -> tuple[Outline, ...]:
    """Return the outlines of a plain shape; the job has checked that its sizes are given."""
    width, height, band, corner = (
        0.0 if length is None else length.mm
        for length in (piece.width, piece.height, piece.band, piece.corner)
    )
    points = piece.points or 0
    if piece.kind == "rectangle":
        return (plain.rectangle(width, height, corner),)
    if piece.kind == "disc":
        return (plain.disc(width),)
    if piece.kind == "ring":
        return plain.ring(width, band)
    if piece.kind == "polygon":
        return (plain.polygon(points, width),)
    if piece.kind == "star":
        return (plain.star(points, width),)
    return plain.border(width, height, band, corner)


def _text(piece: TextPiece, number: int, name: str, table: Table) -> PieceLayers:
    from img2pour.compose.fonts import open_font
    from img2pour.compose.words import AlongCircle, set_words

    font = open_font(table.base / piece.font)
    along = None if piece.around is None else AlongCircle(piece.around.mm, piece.inside)
    spacing = 0.0 if piece.spacing is None else piece.spacing.mm
    letters = set_words(piece.words, font, piece.height.mm, along=along, spacing_mm=spacing)
    outlines = tuple(outline for letter in letters for outline in letter.outlines)
    if along is None:
        points = np.concatenate([vertices for vertices, _ in outlines])
        left, right = float(points[:, 0].min()), float(points[:, 0].max())
        bounds = (left, 0.0, right, piece.height.mm)
    else:
        r = along.radius_mm
        bounds = (-r, -r, r, r)
    return _filled(piece, name, outlines, bounds, number, table)


def _filled(
    piece: ShapePiece | TextPiece,
    name: str,
    outlines: tuple[Outline, ...],
    bounds: Bounds,
    number: int,
    table: Table,
) -> PieceLayers:
    """Return placed outlines as layers of the piece's colour."""
    colour = table.colours.of_piece(piece.colour)
    places = placements(
        piece, ArtPlace(), Frame(bounds, mm_per_unit=1.0, seen=outlines), table.board_mm
    )
    layers = tuple(
        FillLayer([placed_outline(outline, p) for outline in outlines], colour, number)
        for p in places
    )
    return PieceLayers(name, layers, (), tuple(places))
