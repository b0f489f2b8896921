"""The figures of a run as the report states them, and all that a person should know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from img2pour import __version__
from img2pour.board_edges import design_edges, edge_warnings, edges_data
from img2pour.carve.lettering import lettering_warnings
from img2pour.cut_pieces import CutPieces, cut_out_data
from img2pour.design import Design, roles_of
from img2pour.job.carve_sections import DEFAULT_BITS
from img2pour.plan_words import in_units
from img2pour.plane.regionmap import colour_areas
from img2pour.write.dxf import DxfSettings
from img2pour.write.layers import Layer
from img2pour.write.report import ColourRow, RemovedRow, ReportFacts, report_data
from img2pour.write.values import Board, Places

if TYPE_CHECKING:
    from img2pour.adjusted import Adjusted
    from img2pour.artwork import Geometry
    from img2pour.carve.claims import Change
    from img2pour.carve.edges import OpenEdge
    from img2pour.carve.limit import Limit
    from img2pour.carve.verdict import Verdict
    from img2pour.compose.legible import TextSize
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
class Found:
    """What the steps found that were asked for; None and empty for what was not."""

    limited: Limited
    board: Board
    layers: tuple[Layer, ...]
    verdict: Verdict | None
    planned: Planned | None
    drawings: tuple[StageDrawing, ...]
    cut: CutPieces


def report_of(bench: Workbench, found: Found, warnings: tuple[str, ...]) -> dict[str, Any]:
    """Return every figure, as in ``report.json``."""
    sizing: Sizing = bench.get("size")
    facts: Facts = bench.get("facts")
    geometry: Geometry = bench.get("geometry")
    output, board, limited = bench.job.output, found.board, found.limited
    zero_mm = output.zero_mm(board.width_mm, board.height_mm)
    places = Places(zero_mm, DxfSettings(output.dxf, bench.job.shown_units).file_name)
    report = report_data(
        ReportFacts(
            version=__version__,
            input_sha256=facts.sha256,
            board=board,
            scale_mm_per_px=sizing.placement.scale,
            image_to_mm=(_to_file_mm(sizing, zero_mm) @ geometry.matrix).tolist(),
            lens=_lens(geometry),
            colours=_colour_rows(limited.design, found.layers, bench.get("pockets")),
            removed=_removed_rows(limited.limit, limited.design, zero_mm),
            warnings=warnings,
            stages=_stages(found, places),
            more=_more(bench, facts, sizing) | _extras(bench, found, places),
        )
    )
    laid: Laid = bench.get("pieces")
    if laid.face_pieces is not None:
        from img2pour.piece_naming import name_pieces

        name_pieces(report, laid, zero_mm)
    return report


def warnings_of(bench: Workbench, found: Found) -> tuple[str, ...]:
    """Return all that a person should know, in the order of the work, each once."""
    colours = found.limited.design.colours
    units = bench.job.shown_units
    notes = _notes_of_steps(bench)
    if not roles_of(colours, "pour"):
        notes.append("nothing is poured: the picture holds no colour beside the wood")
    names = [colour.name for colour in colours]
    notes += lettering_warnings(found.limited.limit.removed, names, units)
    notes += edge_warnings(_open_edges(bench, found.limited), units)
    if found.planned is not None:
        notes += [*found.planned.notes, *found.planned.plan.warnings]
        notes += [finding.words for finding in found.planned.plan.findings]
    return (*dict.fromkeys(note for note in notes if note), *found.cut.notes)


def _notes_of_steps(bench: Workbench) -> list[str]:
    """Return what the steps from the picture to the roles say."""
    facts: Facts = bench.get("facts")
    palette: Palette = bench.get("colours")
    roles: Roles = bench.get("roles")
    shelf = bench.get("shelf")
    touched: Touched = bench.get("touch-ups")
    laid: Laid = bench.get("pieces")
    ruled: Ruled = bench.get("rules")
    quality: tuple[QualityNote, ...] = bench.get("quality")
    units = bench.job.shown_units
    letters: tuple[TextSize, ...] = bench.get("letters")
    return [
        *(in_units(text.note, units) for text in letters),
        *facts.notes,
        *palette.notes,
        *(in_units(note.message, units) for note in quality),
        roles.note,
        *touched.notes,
        *(in_units(note, units) for note in laid.notes),
        *ruled.notes,
        *(shelf.assumed if bench.job.bits.use != DEFAULT_BITS else ()),
    ]


def _extras(bench: Workbench, found: Found, places: Places) -> dict[str, object]:
    """Return what was changed, the verdict and the plan, where they were asked for."""
    adjusted: Adjusted = bench.get("adjust")
    names = [colour.name for colour in found.limited.design.colours]
    extras: dict[str, object] = {
        "changes": [_change(one, names, places) for one in adjusted.changes],
        "edges": edges_data(_open_edges(bench, found.limited), places),
    }
    drawing: LineDrawing | None = bench.get("drawing")
    if drawing is not None:
        extras["cells"] = _cells(drawing, bench.get("geometry"))
    if found.verdict is not None:
        extras |= _judged(bench, found.verdict, found.limited.design, places)
    if found.planned is not None:
        from img2pour.staged import plan_data

        extras["plan"] = plan_data(found.planned, places)
    if found.verdict is not None:
        from img2pour.pours.cautions import CAUTIONS

        extras["cautions"] = [{"title": one.title, "text": one.text} for one in CAUTIONS]
    letters: tuple[TextSize, ...] = bench.get("letters")
    if letters:
        extras["texts"] = [text.data() for text in letters]
    if found.cut.pieces:
        extras["cut_outs"] = cut_out_data(found.cut, places)
    return extras


def _judged(
    bench: Workbench, verdict: Verdict, design: Design, places: Places
) -> dict[str, object]:
    """Return what each bit does, and the verdict."""
    from img2pour.bit_work import work_data
    from img2pour.judging import verdict_data

    found = verdict_data(verdict, design, bench.job.shown_units, places)
    return {"work": work_data(bench.get("work"), design), "verdict": found}


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


def _stages(found: Found, places: Places) -> list[dict[str, Any]]:
    """Return the stages for the report."""
    if found.planned is None:
        return []
    from img2pour.staged import stages_data

    return stages_data(found.planned, found.drawings, places)


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
