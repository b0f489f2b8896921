"""The design as SVG 1.1: one unit is one millimetre, arcs stay arcs, one group a colour."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from img2pour.plane.regionmap import RegionMap
from img2pour.write.layers import BOARD_LAYER, CUT_OUT_LAYER, Layer
from img2pour.write.outlines import Outline, face_outlines
from img2pour.write.text import xml_text
from img2pour.write.values import Board

OUTLINE_WIDTH_MM = 0.25


def regions_svg(
    board_map: RegionMap,
    layers: Sequence[Layer],
    board: Board,
    title: str = "regions",
    cut_outs: Sequence[Outline] = (),
) -> bytes:
    """Return the design as an SVG file.

    Parameters
    ----------
    board_map : RegionMap
        In mm, y up, the board's lower-left corner at the origin.
    layers : sequence of Layer
        One per colour of the palette; a layer's name is its group's id, see :func:`group_id`.
    board : Board
        Its outline is the group ``BOARD``.
    title : str
        Any text.
    cut_outs : sequence of Outline
        Where pieces are cut out of the blank; the group ``CUT_OUT``, without any there is none.

    Returns
    -------
    bytes
        One path a face, filled by the even-odd rule. y points down in SVG, so the top of the
        board is at y = 0. `outside` is not drawn.
    """
    paths = _face_paths(board_map, board.height_mm)
    groups = [_group(layer, paths.get(index, [])) for index, layer in enumerate(layers)]
    lines = [_board_outline(board), _cut_out_lines(cut_outs, board.height_mm)]
    return "".join([_head(board, title), *groups, *lines, "</svg>\n"]).encode()


def _face_paths(board_map: RegionMap, height_mm: float) -> dict[int, list[str]]:
    """Return the path data of every face, by colour."""
    by_face: dict[tuple[int, int], list[str]] = {}
    for ring in face_outlines(board_map):
        data = path_data(ring.outline, height_mm)
        by_face.setdefault((ring.colour, ring.face), []).append(data)
    by_colour: dict[int, list[str]] = {}
    for (colour, _), rings in by_face.items():
        by_colour.setdefault(colour, []).append("".join(rings))
    return by_colour


def path_data(outline: Outline, height_mm: float) -> str:
    """Return the data of a path along `outline`, turned over so that y points down.

    The radius of an arc of bulge b over a chord c is c (1 + b^2) / (4 |b|). Anticlockwise with y
    up is the negative-angle direction of SVG, whose sweep flag is 0.
    """
    points, bulges = outline.vertices, outline.bulges
    ahead = np.roll(points, -1, axis=0)
    chords = np.hypot(*(ahead - points).T)
    wide = np.maximum(np.abs(bulges), 1e-12)
    radii = chords * (1 + wide**2) / (4 * wide)
    flipped = np.round(np.column_stack([ahead[:, 0], height_mm - ahead[:, 1]]), 6) + 0.0
    x0, y0 = round(float(points[0, 0]), 6) + 0.0, round(float(height_mm - points[0, 1]), 6) + 0.0
    pieces = [f"M{x0:.9g} {y0:.9g}"]
    rows = zip(flipped.tolist(), bulges.tolist(), radii.tolist(), strict=True)
    for index, ((x, y), bulge, radius) in enumerate(rows, start=1):
        if bulge:
            sweep = 0 if bulge > 0 else 1
            pieces.append(f"A{radius:.9g} {radius:.9g} 0 0 {sweep} {x:.9g} {y:.9g}")
        elif index < len(points):
            pieces.append(f"L{x:.9g} {y:.9g}")
    return "".join(pieces) + ("Z" if outline.closed else "")


def _head(board: Board, title: str) -> str:
    width, height = f"{board.width_mm:.9g}", f"{board.height_mm:.9g}"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<svg xmlns="http://www.w3.org/2000/svg" version="1.1" '
        f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">\n'
        f"<title>{xml_text(title)}</title>\n"
    )


def _group(layer: Layer, paths: Sequence[str]) -> str:
    drawn = "".join(f'<path d="{data}"/>\n' for data in paths)
    return (
        f'<g id="{group_id(layer.name)}" fill="{layer.hex}" fill-rule="evenodd">\n'
        f"<title>{xml_text(layer.title)}</title>\n{drawn}</g>\n"
    )


def group_id(layer_name: str) -> str:
    """Return the id of a layer's group: XML names begin with a letter or ``_``."""
    return layer_name if layer_name[0].isalpha() else f"_{layer_name}"


def _board_outline(board: Board) -> str:
    size = f'width="{board.width_mm:.9g}" height="{board.height_mm:.9g}"'
    return (
        f'<g id="{BOARD_LAYER}" fill="none" stroke="#808080" stroke-width="{OUTLINE_WIDTH_MM}">\n'
        f'<title>board</title>\n<rect x="0" y="0" {size}/>\n</g>\n'
    )


def _cut_out_lines(cut_outs: Sequence[Outline], height_mm: float) -> str:
    if not cut_outs:
        return ""
    drawn = "".join(f'<path d="{path_data(outline, height_mm)}"/>\n' for outline in cut_outs)
    return (
        f'<g id="{CUT_OUT_LAYER}" fill="none" stroke="#ff0000" stroke-width="{OUTLINE_WIDTH_MM}">\n'
        f"<title>cut-outs</title>\n{drawn}</g>\n"
    )
