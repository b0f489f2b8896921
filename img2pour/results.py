"""What comes out: the report, the warnings, the regions, and the files as bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import shapely

from img2pour import __version__
from img2pour.board_edges import design_edges, edge_warnings, edges_data
from img2pour.carve.lettering import lost_lettering
from img2pour.carve.pockets import Walls
from img2pour.carve.profile import Profile, profile_of
from img2pour.cut_pieces import CutPieces, cut_out_data
from img2pour.design import Design, roles_of
from img2pour.job.carve_sections import DEFAULT_BITS
from img2pour.job.model import Job
from img2pour.job.shelf import settle_walls
from img2pour.plane.regionmap import colour_areas
from img2pour.units import format_length
from img2pour.write.dxf import DxfSettings
from img2pour.write.layers import Layer, colour_layers
from img2pour.write.pictures import WOOD_TONE
from img2pour.write.report import ColourRow, RemovedRow, ReportFacts, report_data
from img2pour.write.values import Board, Mark, Pin, Places

if TYPE_CHECKING:
    from img2pour.adjusted import Adjusted
    from img2pour.artwork import Geometry
    from img2pour.carve.claims import Change
    from img2pour.carve.edges import OpenEdge
    from img2pour.carve.limit import Limit
    from img2pour.carve.verdict import Verdict
    from img2pour.job.shelf import Shelf
    from img2pour.laid import Laid
    from img2pour.palette import Palette
    from img2pour.plane.trace import Traced
    from img2pour.planning import Planned
    from img2pour.quality import QualityNote
    from img2pour.ruled_values import Ruled
    from img2pour.sizing import Sizing
    from img2pour.sketch import LineDrawing
    from img2pour.steps import Workbench
    from img2pour.table import Facts, Limited, Roles
    from img2pour.touching_up import Touched
    from img2pour.write.stage_drawings import StageDrawing

MM3_PER_ML = 1000.0


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
    facts: Facts = bench.get("facts")
    geometry: Geometry = bench.get("geometry")
    volumes_mm3 = bench.get("pockets")
    board = Board(sizing.width_mm, sizing.height_mm, bench.job.board.thickness.mm)
    colours = limited.design.colours
    layers = colour_layers([c.name for c in colours], [c.hex for c in colours])
    if extent == "all":
        bench.get_beside(("plan", "check"))
    verdict = bench.get("check") if extent in ("judged", "all") else None
    planned = bench.get("plan") if extent in ("planned", "all") else None
    cut = _cut_pieces(bench, planned, board)
    warnings = _warnings(bench, limited, planned) + cut.notes
    drawings = _drawings(bench.job, planned, limited.design, board)
    zero_mm = bench.job.output.zero_mm(board.width_mm, board.height_mm)
    places = Places(zero_mm, DxfSettings(bench.job.output.dxf, bench.job.shown_units).file_name)
    report = report_data(
        ReportFacts(
            version=__version__,
            input_sha256=facts.sha256,
            board=board,
            scale_mm_per_px=sizing.placement.scale,
            image_to_mm=(_to_file_mm(sizing, zero_mm) @ geometry.matrix).tolist(),
            lens=_lens(geometry),
            colours=_colour_rows(limited.design, layers, volumes_mm3),
            removed=_removed_rows(limited.limit, limited.design, zero_mm),
            warnings=warnings,
            stages=_stages(planned, drawings, places),
            more=_more(bench, facts, sizing)
            | _extras(bench, limited, verdict, planned, places)
            | ({"cut_outs": cut_out_data(cut, places)} if cut.pieces else {}),
        )
    )
    return Result(
        bench.job,
        report,
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


def _extras(
    bench: Workbench,
    limited: Limited,
    verdict: Verdict | None,
    planned: Planned | None,
    places: Places,
) -> dict[str, object]:
    """Return the verdict and the plan for the report, where they were asked for."""
    adjusted: Adjusted = bench.get("adjust")
    names = [colour.name for colour in limited.design.colours]
    extras: dict[str, object] = {
        "changes": [_change(one, names, places) for one in adjusted.changes]
    }
    extras["edges"] = edges_data(_open_edges(bench, limited), places)
    drawing: LineDrawing | None = bench.get("drawing")
    if drawing is not None:
        extras["cells"] = _cells(drawing, bench.get("geometry"))
    if verdict is not None:
        from img2pour.bit_work import work_data
        from img2pour.judging import verdict_data

        extras["work"] = work_data(bench.get("work"), limited.design)
        found = verdict_data(verdict, limited.design, bench.job.shown_units, places)
        extras["verdict"] = found
        laid: Laid = bench.get("pieces")
        if laid.face_pieces is not None:
            spots = [finding.at_mm for finding in verdict.findings]
            owners = laid.pieces_at(spots + [wall.at_mm for wall in verdict.walls])
            listed: Any = found["places"]
            for place, owner in zip(listed, owners, strict=True):
                place["piece"] = owner
    if planned is not None:
        from img2pour.staged import plan_data

        extras["plan"] = plan_data(planned, places)
    if verdict is not None:
        from img2pour.pours.cautions import CAUTIONS

        extras["cautions"] = [{"title": one.title, "text": one.text} for one in CAUTIONS]
    return extras


def _open_edges(bench: Workbench, limited: Limited) -> tuple[tuple[str, OpenEdge], ...]:
    """Return where the pockets run off the board, with the names of their colours."""
    sizing: Sizing = bench.get("size")
    board = Board(sizing.width_mm, sizing.height_mm)
    return design_edges(limited.design, limited.polygons, board)


def _change(change: Change, names: list[str], places: Places) -> dict[str, object]:
    """Return what is said of one widened stroke or mended wall."""
    return {
        "kind": change.kind,
        "colour": names[change.colour],
        "into": names[change.into_colour],
        "was_mm": change.was_mm,
        "is_mm": change.is_mm,
        "area_mm2": change.area_mm2,
        "at_mm": places.seen(change.at_mm),
    }


def _cells(drawing: LineDrawing, geometry: Geometry) -> list[dict[str, object]]:
    """Return the cells with the points, in pixels of the upright picture, that address them."""
    return [
        {
            "number": cell.number,
            "at_px": list(geometry.to_upright(cell.at_px)),
            "colour": drawing.colours[cell.colour][0],
            "area_px2": cell.area_px2,
        }
        for cell in drawing.cells
    ]


def _drawings(
    job: Job, planned: Planned | None, design: Design, board: Board
) -> tuple[StageDrawing, ...]:
    """Return what is cut in each stage."""
    if planned is None:
        return ()
    from img2pour.staged import cut_drawings_of

    return tuple(cut_drawings_of(planned, ground_colour(design), board, job))


def _stages(
    planned: Planned | None, drawings: tuple[StageDrawing, ...], places: Places
) -> list[dict[str, Any]]:
    """Return the stages for the report."""
    if planned is None:
        return []
    from img2pour.staged import stages_data

    return stages_data(planned, drawings, places)


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


def _to_file_mm(sizing: Sizing, zero_mm: tuple[float, float]) -> np.ndarray:
    """Return the matrix from pixels to the files' own mm."""
    shift = np.array([[1, 0, -zero_mm[0]], [0, 1, -zero_mm[1]], [0, 0, 1.0]])
    matrix: np.ndarray = shift @ sizing.placement.matrix
    return matrix


def _lens(geometry: Geometry) -> dict[str, object] | None:
    """Return how the lens bulge was taken out: straight = centre + (seen - centre)(1 + k rho^2)."""
    lens = geometry.lens
    if lens is None:
        return None
    return {"centre_px": list(lens.centre_px), "radius_px": lens.radius_px, "k": lens.k}


def _colour_rows(
    design: Design, layers: tuple[Layer, ...], volumes_mm3: np.ndarray
) -> list[ColourRow]:
    """Return the figures of every colour; `outside` has no layer and no share."""
    face_colours = design.region_map.face_colours
    areas = colour_areas(design.region_map, len(design.colours))
    outside = roles_of(design.colours, "outside")
    whole = areas.sum() - areas[outside].sum()
    rows = []
    for index, (colour, layer) in enumerate(zip(design.colours, layers, strict=True)):
        own = face_colours == index
        is_outside = colour.role == "outside"
        rows.append(
            ColourRow(
                name=colour.name,
                hex=colour.hex,
                role=colour.role,
                layer=None if is_outside else layer.name,
                area_mm2=float(areas[index]),
                area_percent=0.0 if is_outside or whole <= 0 else float(100 * areas[index] / whole),
                volume_ml=(
                    float(volumes_mm3[own].sum() / MM3_PER_ML) if colour.role == "pour" else None
                ),
                regions=int(own.sum()),
            )
        )
    return rows


def _removed_rows(found: Limit, design: Design, zero_mm: tuple[float, float]) -> list[RemovedRow]:
    """Return the islands that the limit took out."""
    return [
        RemovedRow(
            design.colours[island.colour].name,
            island.reason,
            island.area_mm2,
            (island.at_mm[0] - zero_mm[0], island.at_mm[1] - zero_mm[1]),
        )
        for island in found.removed
    ]


def _warnings(bench: Workbench, limited: Limited, planned: Planned | None) -> tuple[str, ...]:
    """Return all that a person should know, in the order of the work."""
    facts: Facts = bench.get("facts")
    palette: Palette = bench.get("colours")
    roles: Roles = bench.get("roles")
    shelf = bench.get("shelf")
    touched: Touched = bench.get("touch-ups")
    laid: Laid = bench.get("pieces")
    ruled: Ruled = bench.get("rules")
    quality: tuple[QualityNote, ...] = bench.get("quality")
    notes = [
        *facts.notes,
        *palette.notes,
        *(note.message for note in quality),
        roles.note,
        *touched.notes,
        *laid.notes,
        *ruled.notes,
        *(shelf.assumed if bench.job.bits.use != DEFAULT_BITS else ()),
    ]
    colours = limited.design.colours
    units = bench.job.shown_units
    if not roles_of(colours, "pour"):
        notes.append("nothing is poured: the picture holds no colour beside the wood")
    for line in lost_lettering(limited.limit.removed):
        notes.append(
            f"lettering is lost: {line.letters} letters of {colours[line.colour].name}, up to "
            f"{format_length(line.height_mm, units)} high, are too fine for the bits; "
            "take a finer bit, a larger board, or keep them with --small keep"
        )
    notes += edge_warnings(_open_edges(bench, limited), units)
    if planned is not None:
        notes += [*planned.notes, *planned.plan.warnings]
        notes += [finding.words for finding in planned.plan.findings]
    return tuple(dict.fromkeys(note for note in notes if note))


def _more(bench: Workbench, facts: Facts, sizing: Sizing) -> dict[str, object]:
    """Return further figures of the run."""
    traced: Traced = bench.get("trace")
    palette: Palette = bench.get("colours")
    scale = sizing.placement.scale
    return {
        "picture": {
            "width_px": facts.upright_px[0],
            "height_px": facts.upright_px[1],
            "artwork_width_px": facts.width_px,
            "artwork_height_px": facts.height_px,
            "dpi": facts.dpi,
        },
        "tracing": {
            "tolerance_px": traced.tolerance_px,
            "tolerance_mm": traced.tolerance_px * scale,
            "noise_px": traced.noise_px,
            "blur_px": palette.blur_px,
            "linear_light": traced.linear_light,
            "explained_percent": 100 * palette.explained_share,
        },
        "carving": {
            "depth_mm": bench.job.carving.depth.mm,
            "surface_mm": bench.job.carving.surface.mm,
            "bits": [bit.name for bit in bench.get("shelf").bits],
        },
    }
