"""The files for the shop: what is carved stage by stage, pictures, the board in 3D, the sheets."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour import __version__
from img2pour.carve.board3d import CutPockets, board_mesh
from img2pour.carve.pockets import PocketSettings
from img2pour.design import roles_of
from img2pour.outputs import dxf_settings
from img2pour.write.cards import report_pdf
from img2pour.write.glb import glb_bytes
from img2pour.write.html import report_html
from img2pour.write.make_sheet import sheet_of
from img2pour.write.stage_drawings import stage_dxf, stages_dxf
from img2pour.write.template import template_pdf

if TYPE_CHECKING:
    from img2pour.results import Result
    from img2pour.write.sheet import Sheet


SEEN_MM, SEEN_SHARE = 0.04, 1 / 6000
"""Chords of the 3D board, at least and of its longer side: far below what shows on a screen."""


def shop_files(result: Result) -> dict[str, bytes]:
    """Return all files that go beyond the design; the 3D board is made beside the others."""
    with ThreadPoolExecutor(1) as beside:
        mesh = beside.submit(board_glb, result)
        plan = None if result.planned is None else result.planned.plan
        hexes = {} if result.planned is None else result.planned.hexes
        cuts = result.cut_pieces.outlines
        sheet = sheet_of(result, plan, hexes=hexes, pins=result.pins, cut_outs=cuts)
        files = carve_files(result) | picture_files(sheet) | sheet_files(sheet)
        return files | {"board.glb": mesh.result()}


def carve_files(result: Result) -> dict[str, bytes]:
    """Return what the machine carves, stage by stage."""
    if result.planned is None:
        return {}
    settings, pins, cuts = dxf_settings(result), result.pins, result.cut_pieces.outlines
    drawings = result.drawings
    files = {
        settings.file_name(f"carve/{drawing.file_stem}"): stage_dxf(
            drawing, result.board, settings, pins, cuts
        )
        for drawing in drawings
    }
    together = stages_dxf(drawings, result.board, settings, pins, cuts)
    return files | {settings.file_name("carve/all-stages"): together}


def picture_files(sheet: Sheet) -> dict[str, bytes]:
    """Return the losses and the board after each stage."""
    files: dict[str, bytes] = {}
    if sheet.losses is not None:
        files["losses.png"] = sheet.losses.data
    if sheet.pours is not None:
        for stage in sheet.pours.stages:
            files[f"stage-{stage.number}.png"] = stage.picture.data
    return files


def sheet_files(sheet: Sheet) -> dict[str, bytes]:
    """Return the sheets for the shop."""
    return {
        "report.html": report_html(sheet),
        "report.pdf": report_pdf(sheet),
        "template.pdf": template_pdf(sheet),
    }


def board_glb(result: Result) -> bytes:
    """Return the carved board, after surfacing, as a closed mesh."""
    design, job = result.design, result.job
    board = result.board
    seen_mm = max(SEEN_MM, SEEN_SHARE * max(board.width_mm, board.height_mm))
    polygons, colours = design.polygons(seen_mm), design.region_map.face_colours
    settings = PocketSettings(job.carving.depth.mm, job.carving.surface.mm, result.walls)
    pockets = [
        CutPockets(polygons[colours == index], result.profiles[index], settings)
        for index in roles_of(design.colours, "pour")
        if np.any(colours == index)
    ]
    frame = shapely.box(0, 0, board.width_mm, board.height_mm)
    thickness_mm = job.board.thickness.mm - job.carving.surface.mm
    mesh = board_mesh(frame, thickness_mm, pockets)
    return glb_bytes(mesh.vertices, mesh.triangles, version=__version__)
