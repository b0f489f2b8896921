"""The files of the output folder, as bytes by name."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from img2pour.write.cells import cells_png
from img2pour.write.dxf import DxfSettings, regions_dxf
from img2pour.write.finished import finished_picture
from img2pour.write.svg import regions_svg
from img2pour.write.tables import colours_csv, report_json

if TYPE_CHECKING:
    from img2pour.results import Result


def output_files(result: Result) -> dict[str, bytes]:
    """Return every file of a run but ``job.toml`` and the manifest."""
    files = design_files(result)
    if result.verdict is None:
        return files
    # What only the shop's files need is loaded only for them.
    from img2pour.shop_files import shop_files

    return files | shop_files(result)


def design_files(result: Result) -> dict[str, bytes]:
    """Return the design's drawings, the finished piece and the figures."""
    settings = dxf_settings(result)
    region_map, layers, board = result.design.region_map, result.layers, result.board
    marks = result.marks
    cuts = result.cut_pieces.outlines
    with ThreadPoolExecutor(max_workers=1) as pool:
        finished = pool.submit(finished_picture, result)
        drawing = regions_dxf(region_map, layers, board, settings, marks, cuts)
        files = {
            settings.file_name("design/regions"): drawing,
            "design/regions.svg": regions_svg(region_map, layers, board, cut_outs=cuts),
            "report.json": report_json(result.report),
            "colours.csv": colours_csv(result.report),
            "finished.png": finished.result(),
        }
    if result.drawing is not None:
        files["cells.png"] = cells_png(result.drawing)
    return files


def dxf_settings(result: Result) -> DxfSettings:
    """Return how the job's drawings are written."""
    output = result.job.output
    zero_mm = output.zero_mm(result.board.width_mm, result.board.height_mm)
    return DxfSettings(output.dxf, result.job.shown_units, zero_mm)


def fills_of(result: Result) -> list[str]:
    """Return ``#rrggbb`` of each colour."""
    return [colour.hex for colour in result.design.colours]
