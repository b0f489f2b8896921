"""Pieces over the artwork: what the composer is told, and the colours of the whole board."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from img2pour.compose.board import compose_board, in_order
from img2pour.compose.legible import TextSize, text_sizes
from img2pour.compose.palette import Colours
from img2pour.compose.pieces import Table, TracedArt
from img2pour.design import DesignColour, design_colour, roles_of
from img2pour.job.picture_sections import Artwork, Drawing, Photo, Size
from img2pour.job.picture_sections import Colours as ColoursSection
from img2pour.laid import Laid
from img2pour.steps import Workbench
from img2pour.write.pictures import WOOD_TONE

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.job.piece_sections import ArtPiece
    from img2pour.palette import Palette
    from img2pour.plane.regionmap import RegionMap
    from img2pour.sizing import Sizing
    from img2pour.touching_up import Touched


def size_texts(job: Job, base: Path, bit_mm: float) -> tuple[TextSize, ...]:
    """Return how the strokes of the job's texts compare with the bit.

    Parameters
    ----------
    job : Job
    base : Path
        Folder from which fonts are seen.
    bit_mm : float
        Narrowest stroke that the bits cut.
    """
    return text_sizes(in_order(job.art, job.shape, job.text), base, bit_mm)


@dataclass(frozen=True, eq=False)
class Ground:
    """What the pieces are laid on: the placed artwork, its colours and the board."""

    placed: RegionMap
    colours: tuple[DesignColour, ...]
    sizing: Sizing


def lay_pieces(bench: Workbench, ground: Ground) -> Laid:
    """Return the board with the job's pieces of art, shapes and texts laid over the artwork.

    Parameters
    ----------
    bench : Workbench
        Its job names the pieces; pictures among them are traced on benches of their own, and kept.
    ground : Ground

    Raises
    ------
    SettingsError
        When a piece, its file or its colour cannot be used.
    """
    job = bench.job
    wood = next(iter(roles_of(ground.colours, "wood")), None)
    known = [(colour.name, colour.hex) for colour in ground.colours]
    wood_hex = WOOD_TONE if wood is None else ground.colours[wood].hex
    table = Table(
        board_mm=(ground.sizing.width_mm, ground.sizing.height_mm),
        colours=Colours(known, wood, wood_hex),
        base=bench.base,
        trace_art=lambda piece: _traced(bench, piece),
        pin_mm=job.blank.pin_width.mm if job.blank.pins else 0.0,
    )
    composed = compose_board(
        ground.placed,
        in_order(job.art, job.shape, job.text),
        table,
        least_wall_mm=job.limits.least_wall_along.mm,
        merge_thin=job.carving.thin_walls == "merge",
    )
    own = {colour.name: colour for colour in ground.colours}
    colours = tuple(
        own.get(name) or design_colour(index, name, code, composed.wood, job)
        for index, (name, code) in enumerate(composed.colours)
    )
    return Laid(
        composed.region_map,
        colours,
        composed.face_pieces,
        composed.names,
        composed.findings,
        composed.cut_outs,
    )


def _size_of(piece: ArtPiece, board: Size) -> Size:
    """Return how large a piece is to be, in the place of the board's size."""
    if piece.width is not None:
        return Size(width=piece.width)
    return board if piece.height is None else Size(height=piece.height)


def _traced(bench: Workbench, piece: ArtPiece) -> TracedArt:
    """Trace a picture that is a piece, as clean artwork, without looking at the board."""
    path = bench.base / piece.file
    job = bench.job.model_copy(
        update={
            "artwork": Artwork(file=piece.file, max_megapixels=bench.job.artwork.max_megapixels),
            "photo": Photo(straighten="off", light="off"),
            "drawing": Drawing(read="off"),
            "colours": ColoursSection(palette=piece.colours, wood="none"),
            "touch": (),
            "override": (),
            "size": _size_of(piece, bench.job.size),
        }
    )
    own = Workbench(
        bench.table, path, f"piece {path.resolve()}", job, bench.base, bench.progress, bench.kept
    )
    if path.is_file():
        own = replace(own, source_key=f"piece {path.resolve()} {path.stat().st_mtime_ns}")
    palette: Palette = own.get("colours")
    traced: Touched = own.get("trace")
    return TracedArt(traced.region_map, tuple((c.name, c.hex) for c in palette.colours))
