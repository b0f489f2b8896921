"""All pieces of a job on one board: the composed map, its colours, and what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from img2pour.compose.around import Sliver, find_slivers, merge_slivers, silhouette
from img2pour.compose.cut_outs import CUTTER_MM, CutOut, cut_out_findings
from img2pour.compose.drawing import placed_outline
from img2pour.compose.pieces import PieceLayers, Table, piece_layers, piece_names
from img2pour.compose.repeats import nest
from img2pour.job.piece_sections import ArtPiece, Piece, ShapePiece, TextPiece
from img2pour.job.piece_values import IN_ROWS
from img2pour.plane.curves import Curves, boxes
from img2pour.plane.overlay import Composed, FillLayer, Layer, MapLayer, lay
from img2pour.plane.placement import Placement, place
from img2pour.plane.regionmap import OUTSIDE_COLOUR, IntArray, RegionMap

Bounds = tuple[float, float, float, float]

NEST_GAP_MM = 10.0
"""Left free between nested pieces: a 1/4 in cutter and a wall. Common practice, no source."""

PIN_WALL_MM = 1.5
"""Wood left between a pin and whatever is cut. Common practice, no source."""

GROUND = 0
"""Number of the artwork itself; pieces count from 1."""


@dataclass(frozen=True, eq=False)
class ComposedBoard:
    """The board with all its pieces.

    Attributes
    ----------
    region_map : RegionMap
        In mm; colours are indices into `colours`.
    face_pieces : (F,) int64
        The piece that each face belongs to: 0 the artwork, then as in `names`; -1 the bare board.
    names : tuple of str
        What each piece is called.
    colours : tuple of (name, hex)
        The artwork's first, in their order.
    wood : int or None
        Index of the wood.
    findings : tuple of str
    cut_outs : tuple of CutOut
        Where the copies of pieces are cut out of the blank.
    """

    region_map: RegionMap
    face_pieces: IntArray
    names: tuple[str, ...]
    colours: tuple[tuple[str, str], ...]
    wood: int | None
    findings: tuple[str, ...]
    cut_outs: tuple[CutOut, ...] = ()


def in_order(
    art: Sequence[ArtPiece], shapes: Sequence[ShapePiece], texts: Sequence[TextPiece]
) -> list[Piece]:
    """Return all pieces from the lowest to the top one."""
    return sorted([*art, *shapes, *texts], key=lambda piece: piece.level)


def compose_board(
    ground: RegionMap,
    pieces: Sequence[Piece],
    table: Table,
    *,
    least_wall_mm: float,
    merge_thin: bool,
) -> ComposedBoard:
    """Lay all pieces over the artwork.

    Parameters
    ----------
    ground : RegionMap
        The placed artwork.
    pieces : sequence of Piece
        The lowest first, from :func:`in_order`.
    table : Table
        Its colours begin with the artwork's.
    least_wall_mm : float
        Regions cut thinner than this are slivers.
    merge_thin : bool
        True: slivers are given to a neighbour; False: they are listed.

    Raises
    ------
    SettingsError
        When a piece cannot be used.
    """
    names = ("artwork", *piece_names(pieces))
    made = [piece_layers(piece, k, names[k], table) for k, piece in enumerate(pieces, start=1)]
    made = _nested(pieces, made, table)
    bounds = _frame(ground, made, table.board_mm)
    beyond = bounds == ground.bounds
    bare = OUTSIDE_COLOUR if beyond else table.colours.wood
    composed = _laid(ground, pieces, made, bounds, bare, table)
    thin = find_slivers(composed, least_wall_mm)
    findings = [line for one in made for line in one.findings]
    findings += _sliver_lines(thin, names, table, merge_thin)
    if merge_thin:
        composed = merge_slivers(composed, thin)
    colours = tuple(table.colours.all)
    wood = table.colours.wood_if_any
    cut_outs = tuple(
        CutOut(one.name, number, outlines)
        for one in made
        for number, outlines in enumerate(one.cut_outs, start=1)
    )
    findings += cut_out_findings(cut_outs, table.board_mm)
    return ComposedBoard(
        composed.region_map, composed.face_pieces, names, colours, wood, tuple(findings), cut_outs
    )


def _sliver_lines(
    slivers: Sequence[Sliver], names: Sequence[str], table: Table, merged: bool
) -> list[str]:
    """Return one line for the slivers of one colour that a piece was left with."""
    groups: dict[tuple[int, int], list[Sliver]] = {}
    for sliver in slivers:
        groups.setdefault((sliver.piece, sliver.colour), []).append(sliver)
    lines = []
    for (piece, colour), own in groups.items():
        widest = max(own, key=lambda sliver: sliver.width_mm)
        owner = names[piece] if piece >= 0 else "the board"
        name, (x, y) = table.colours.all[colour][0], widest.at_mm
        what = "a sliver" if len(own) == 1 else f"{len(own)} slivers"
        done = "given to a neighbour" if merged else "left"
        lines.append(
            f"{owner}: {what} of {name} {'was' if len(own) == 1 else 'were'} {done}, "
            f"{'' if len(own) == 1 else 'the widest '}{widest.width_mm:.2f} mm wide at "
            f"{x:.1f}, {y:.1f} mm"
        )
    return lines


def _nested(
    pieces: Sequence[Piece], made: Sequence[PieceLayers], table: Table
) -> list[PieceLayers]:
    """Return the pieces' layers, those that are to lie in rows moved there, with their copies."""
    rows = [k for k, piece in enumerate(pieces) if piece.at == IN_ROWS]
    if not rows:
        return list(made)
    frames = {k: _needed(made[k]) for k in rows}
    copies = [k for k in rows for _ in range(pieces[k].copies)]
    sizes = [(frames[k][2] - frames[k][0], frames[k][3] - frames[k][1]) for k in copies]
    gap = NEST_GAP_MM
    if table.pin_mm and any(made[k].cut_outs for k in rows):
        gap = max(gap, table.pin_mm + 2 * (CUTTER_MM + PIN_WALL_MM))
    found = nest(sizes, table.board_mm, gap_mm=gap, margin_mm=NEST_GAP_MM)
    shifts: dict[int, list[Placement]] = {k: [] for k in rows}
    for k, (x, y) in zip(copies, found.corners_mm, strict=True):
        matrix = np.array([[1, 0, x - frames[k][0]], [0, 1, y - frames[k][1]], [0, 0, 1]])
        shifts[k].append(Placement(matrix))
    return [_copied(one, shifts[k]) if k in shifts else one for k, one in enumerate(made)]


def _needed(one: PieceLayers) -> Bounds:
    """Return the box of a piece and its cut-out."""
    cut = [FillLayer(outlines, 0, 0) for outlines in one.cut_outs]
    return _around([_reach(layer) for layer in (*one.layers, *cut)])


def _copied(one: PieceLayers, shifts: Sequence[Placement]) -> PieceLayers:
    """Return a piece copied by shifts."""
    return replace(
        one,
        layers=tuple(_moved(layer, shift) for shift in shifts for layer in one.layers),
        cut_outs=tuple(
            tuple(placed_outline(outline, shift) for outline in outlines)
            for shift in shifts
            for outlines in one.cut_outs
        ),
    )


def _moved(layer: Layer, placement: Placement) -> Layer:
    if isinstance(layer, MapLayer):
        return replace(layer, region_map=place(layer.region_map, placement))
    return replace(layer, outlines=[placed_outline(o, placement) for o in layer.outlines])


def _around(boxes_mm: Sequence[Bounds]) -> Bounds:
    low = np.array(boxes_mm)[:, :2].min(axis=0).tolist()
    high = np.array(boxes_mm)[:, 2:].max(axis=0).tolist()
    return low[0], low[1], high[0], high[1]


def _laid(
    ground: RegionMap,
    pieces: Sequence[Piece],
    made: Sequence[PieceLayers],
    bounds: Bounds,
    bare: int,
    table: Table,
) -> Composed:
    """Lay the layers; colours of pieces that are not to flow together get numbers of their own."""
    own = np.arange(len(table.colours.all))
    apart = [own]
    layers: list[Layer] = []
    for piece, one in zip(pieces, made, strict=True):
        shift = 0
        if not piece.join:
            shift = len(own) * len(apart)
            keeps = np.arange(len(own)) == table.colours.wood_if_any
            apart.append(own)
            layers += [_shifted(layer, np.where(keeps, own, own + shift)) for layer in one.layers]
        else:
            layers += one.layers
    # What is outside of the artwork covers the bare board, so it has a number while it is laid.
    back = np.array([*np.concatenate(apart), OUTSIDE_COLOUR, OUTSIDE_COLOUR])
    lookup = np.append(own, len(back) - 2)
    artwork = replace(ground, face_colours=lookup[ground.face_colours])
    layers.insert(0, MapLayer(artwork, GROUND))
    joined = frozenset(range(len(back) - 1)) | {bare}
    composed = lay(layers, bounds, ground=bare, joined=joined)
    region_map = composed.region_map
    shown = replace(region_map, face_colours=back[region_map.face_colours])
    return Composed(shown, composed.face_pieces)


def _shifted(layer: Layer, numbers: IntArray) -> Layer:
    """Return a layer with its colours numbered anew."""
    if isinstance(layer, FillLayer):
        return replace(layer, colour=int(numbers[layer.colour]))
    lookup = np.append(numbers, OUTSIDE_COLOUR)
    seen = layer.region_map
    return replace(layer, region_map=replace(seen, face_colours=lookup[seen.face_colours]))


def _frame(ground: RegionMap, made: Sequence[PieceLayers], board_mm: tuple[float, float]) -> Bounds:
    """Return the artwork's frame, or the whole board where a piece reaches over it."""
    x0, y0, x1, y1 = ground.bounds
    for one in made:
        for layer in one.layers:
            a, b, c, d = _reach(layer)
            if a < x0 - 1e-6 or b < y0 - 1e-6 or c > x1 + 1e-6 or d > y1 + 1e-6:
                return (
                    min(x0, 0.0),
                    min(y0, 0.0),
                    max(x1, board_mm[0]),
                    max(y1, board_mm[1]),
                )
    return ground.bounds


def _reach(layer: Layer) -> Bounds:
    """Return the box around what a layer covers."""
    outlines = silhouette(layer) if isinstance(layer, MapLayer) else layer.outlines
    if not outlines:
        return np.inf, np.inf, -np.inf, -np.inf
    start = np.concatenate([vertices for vertices, _ in outlines])
    end = np.concatenate([np.roll(vertices, -1, axis=0) for vertices, _ in outlines])
    box = boxes(Curves(start, end, np.concatenate([bulges for _, bulges in outlines])))
    low, high = box[:, :2].min(axis=0).tolist(), box[:, 2:].max(axis=0).tolist()
    return low[0], low[1], high[0], high[1]
