"""Pockets that run off the board, as the job sees them: the list, the warnings, the overrun."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from img2pour.carve.edges import OpenEdge, carry_over, edge_radius_mm, open_edges
from img2pour.carve.profile import profile_of
from img2pour.design import Design, roles_of
from img2pour.job.shelf import settle_walls
from img2pour.units import Shown, format_length

if TYPE_CHECKING:
    from img2pour.carve.inscribed import Polygons
    from img2pour.carve.medial import IntArray
    from img2pour.job.bits import Bit
    from img2pour.job.model import Job
    from img2pour.job.shelf import Shelf
    from img2pour.write.values import Board, Places


def design_edges(
    design: Design, polygons: Polygons, board: Board
) -> tuple[tuple[str, OpenEdge], ...]:
    """Return where poured regions run off the board, with the names of their colours."""
    colours = design.region_map.face_colours
    poured = np.flatnonzero(np.isin(colours, roles_of(design.colours, "pour")))
    found = open_edges(polygons[poured], frame_of(board))
    return tuple((design.colours[int(colours[poured[one.region]])].name, one) for one in found)


def edges_data(edges: Sequence[tuple[str, OpenEdge]], places: Places) -> list[dict[str, Any]]:
    """Return the open edges as the report states them."""
    return [
        {"colour": name, "length_mm": one.length_mm, "at_mm": places.seen(one.at_mm)}
        for name, one in edges
    ]


def edge_warnings(edges: Sequence[tuple[str, OpenEdge]], units: Shown) -> list[str]:
    """Return one line for each colour that runs off the board."""
    lengths: dict[str, list[float]] = {}
    for name, one in edges:
        lengths.setdefault(name, []).append(one.length_mm)
    return [
        f"{name} runs off the board's edge in {_places(len(own))}: set a dam there, "
        f"{format_length(sum(own), units)} in all, or keep a rim of wood with --rim"
        for name, own in lengths.items()
    ]


def _places(count: int) -> str:
    return "one place" if count == 1 else f"{count} places"


def carried_off(
    outlines: Sequence[shapely.Geometry],
    bits: Sequence[Sequence[Bit]],
    depths_mm: Sequence[float],
    board: Board,
    job: Job,
) -> list[shapely.Geometry]:
    """Return the pockets of one stage as they are cut: carried past the board's edge.

    Parameters
    ----------
    outlines : sequence of shapely geometry
        At the finished face, in mm on the board.
    bits : sequence of sequence of Bit
        What cuts each of them.
    depths_mm : sequence of float
        From the carved face.
    board : Board
    job : Job
        Its blank says how much wood lies around the board.
    """
    radii = [
        edge_radius_mm([profile_of(bit) for bit in own], depth_mm, settle_walls(job, own))
        for own, depth_mm in zip(bits, depths_mm, strict=True)
    ]
    return carry_over(outlines, radii, frame_of(board), blank_of(board, job))


def carried_faces(
    design: Design, polygons: Polygons, shelf: Shelf, board: Board, job: Job
) -> Polygons | None:
    """Return the faces of a design, its pours as they are cut; None where none runs off the board.

    Parameters
    ----------
    design : Design
    polygons : (F,) object
        Its faces.
    shelf : Shelf
    board : Board
    job : Job
    """
    colours = design.region_map.face_colours
    poured = np.flatnonzero(np.isin(colours, roles_of(design.colours, "pour")))
    own = [design.colours[index] for index in colours[poured].tolist()]
    bits = [shelf.for_colour(colour.name, colour.hex) for colour in own]
    carried = carried_regions(polygons[poured], colours[poured], bits, board, job)
    if carried is None:
        return None
    faces = polygons.copy()
    faces[poured] = carried
    return faces


def carried_regions(
    regions: Polygons, colours: IntArray, bits: Sequence[Sequence[Bit]], board: Board, job: Job
) -> Polygons | None:
    """Return regions as they are cut past the board's edge; None where none runs off it.

    Parameters
    ----------
    regions : (N,) object
    colours : (N,) int64
        Regions of one colour stay apart beyond the board.
    bits : sequence of sequence of Bit
        What cuts each of them.
    board : Board
    job : Job
    """
    at_edge = np.unique([edge.region for edge in open_edges(regions, frame_of(board))])
    if len(at_edge) == 0:
        return None
    carried = regions.copy()
    for colour in np.unique(colours[at_edge]):
        own = at_edge[colours[at_edge] == colour].tolist()
        depths_mm = [job.carving.depth.mm] * len(own)
        cut = carried_off([regions[i] for i in own], [bits[i] for i in own], depths_mm, board, job)
        for index, shape in zip(own, cut, strict=True):
            # Whatever the blank's own shape cuts off stays out; the pocket itself is one piece.
            carried[index] = max(shapely.get_parts(shape), key=shapely.area)
    return carried


def frame_of(board: Board) -> shapely.Polygon:
    """Return the finished board."""
    return shapely.box(0, 0, board.width_mm, board.height_mm)


def blank_of(board: Board, job: Job) -> shapely.Polygon:
    """Return the wood on the machine."""
    margin_mm = job.blank.margin.mm
    return shapely.box(
        -margin_mm, -margin_mm, board.width_mm + margin_mm, board.height_mm + margin_mm
    )
