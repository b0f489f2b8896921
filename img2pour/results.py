"""What comes out: the report, the warnings, the regions, and the files as bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import shapely

from img2pour.carve.pockets import Walls
from img2pour.carve.profile import Profile, profile_of
from img2pour.cut_pieces import CutPieces
from img2pour.design import Design, roles_of
from img2pour.job.model import Job
from img2pour.job.shelf import settle_walls
from img2pour.report_figures import Found, report_of, warnings_of
from img2pour.write.layers import Layer, colour_layers
from img2pour.write.pictures import WOOD_TONE
from img2pour.write.values import Board, Mark, Pin

if TYPE_CHECKING:
    from img2pour.carve.verdict import Verdict
    from img2pour.job.shelf import Shelf
    from img2pour.laid import Laid
    from img2pour.planning import Planned
    from img2pour.sizing import Sizing
    from img2pour.sketch import LineDrawing
    from img2pour.steps import Workbench
    from img2pour.table import Limited
    from img2pour.write.stage_drawings import StageDrawing


@dataclass(frozen=True, eq=False)
class Result:
    """The outcome of a job.

    Attributes
    ----------
    job : Job
    report : dict
        Every figure, as in ``report.json``.
    warnings : tuple of str
    design : Design
        The regions on the board, in mm.
    board : Board
    layers : tuple of Layer
        One per colour.
    verdict : Verdict or None
        Where it was asked for.
    planned : Planned or None
        Where it was asked for and something is poured.
    profiles : mapping of int to list of Profile
        The bits' shapes by colour.
    walls : {"upright", "sloped"}
        How they meet the wall.
    drawing : LineDrawing or None
        The cells, where the picture was read as a line drawing.
    drawings : tuple of StageDrawing
        What is cut in each stage; empty without a plan.
    cut_pieces : CutPieces
        What is cut out of the blank at the end, with its pins.
    """

    job: Job
    report: dict[str, Any]
    warnings: tuple[str, ...]
    design: Design
    board: Board
    layers: tuple[Layer, ...]
    verdict: Verdict | None = None
    planned: Planned | None = None
    profiles: Mapping[int, tuple[Profile, ...]] = field(default_factory=dict)
    walls: Walls = "upright"
    drawing: LineDrawing | None = None
    drawings: tuple[StageDrawing, ...] = ()
    cut_pieces: CutPieces = field(default_factory=CutPieces)

    @property
    def regions(self) -> dict[str, shapely.Geometry]:
        """All regions of each colour as one multipolygon, in mm on the board, by name."""
        polygons = self.design.polygons()
        colours = self.design.region_map.face_colours
        return {
            colour.name: shapely.multipolygons(polygons[colours == index])
            for index, colour in enumerate(self.design.colours)
        }

    @property
    def job_to_keep(self) -> Job:
        """The job with its stages as planned, so that a later run can hold on to those done."""
        if self.planned is None:
            return self.job
        from img2pour.planning import with_stages

        return with_stages(self.job, self.planned)

    @property
    def pins(self) -> tuple[Pin, ...]:
        """The pins of the blank, and those beside the pieces that are cut out of it."""
        from img2pour.staged import pins_of

        return pins_of(self.job, self.board) + self.cut_pieces.pins

    @property
    def marks(self) -> tuple[Mark, ...]:
        """The numbered places of the verdict; none where it was not asked for."""
        if self.verdict is None:
            return ()
        from img2pour.judging import marks_of

        return marks_of(self.verdict)

    def files(self) -> dict[str, bytes]:
        """Return the files of the output folder by name, without ``job.toml``."""
        from img2pour.outputs import output_files

        return output_files(self)


Extent = Literal["design", "judged", "planned", "all"]
"""How far to go: the regions; with the verdict; with the plan of the pours; with both."""


def make_result(bench: Workbench, extent: Extent = "design") -> Result:
    """Run the steps that are still to do and gather what they found."""
    limited: Limited = bench.get("limit")
    sizing: Sizing = bench.get("size")
    board = Board(sizing.width_mm, sizing.height_mm, bench.job.board.thickness.mm)
    colours = limited.design.colours
    layers = colour_layers([c.name for c in colours], [c.hex for c in colours])
    if extent == "all":
        bench.get_beside(("plan", "check"))
    verdict = bench.get("check") if extent in ("judged", "all") else None
    planned = bench.get("plan") if extent in ("planned", "all") else None
    cut = _cut_pieces(bench, planned, board)
    drawings = _drawings(bench.job, planned, limited.design, board)
    found = Found(limited, board, layers, verdict, planned, drawings, cut)
    warnings = warnings_of(bench, found)
    return Result(
        bench.job,
        report_of(bench, found, warnings),
        warnings,
        limited.design,
        board,
        layers,
        verdict,
        planned,
        _profiles(bench, limited.design),
        settle_walls(bench.job, bench.get("shelf").bits),
        bench.get("drawing"),
        drawings,
        cut,
    )


def _cut_pieces(bench: Workbench, planned: Planned | None, board: Board) -> CutPieces:
    """Return the pieces that are cut out of the blank."""
    laid: Laid = bench.get("pieces")
    if not laid.cut_outs:
        return CutPieces()
    from img2pour.cutting_out import carved_in, cut_pieces

    return cut_pieces(laid.cut_outs, carved_in(planned), board, bench.job)


def _drawings(
    job: Job, planned: Planned | None, design: Design, board: Board
) -> tuple[StageDrawing, ...]:
    """Return what is cut in each stage."""
    if planned is None:
        return ()
    from img2pour.staged import cut_drawings_of

    return tuple(cut_drawings_of(planned, ground_colour(design), board, job))


def ground_colour(design: Design) -> str:
    """Return the colour of the board around the artwork: that of its wood, if it has any."""
    wood = roles_of(design.colours, "wood")
    return design.colours[wood[0]].hex if wood else WOOD_TONE


def _profiles(bench: Workbench, design: Design) -> dict[int, tuple[Profile, ...]]:
    """Return the shapes of the bits that cut each colour."""
    shelf: Shelf = bench.get("shelf")
    return {
        index: tuple(profile_of(bit) for bit in shelf.for_colour(colour.name, colour.hex))
        for index, colour in enumerate(design.colours)
    }
