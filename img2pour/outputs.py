"""The files of the output folder, as bytes by name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from img2pour.design import roles_of
from img2pour.write.dxf import DxfSettings, regions_dxf
from img2pour.write.pictures import WOOD_TONE, finished_png
from img2pour.write.svg import regions_svg
from img2pour.write.tables import colours_csv, report_json

if TYPE_CHECKING:
    from img2pour.results import Result


def output_files(result: Result) -> dict[str, bytes]:
    """Return every file of a run but ``job.toml`` and the manifest."""
    settings = dxf_settings(result)
    region_map, layers, board = result.design.region_map, result.layers, result.board
    return {
        settings.file_name("design/regions"): regions_dxf(region_map, layers, board, settings),
        "design/regions.svg": regions_svg(region_map, layers, board),
        "report.json": report_json(result.report),
        "colours.csv": colours_csv(result.report),
        "finished.png": finished_png(
            region_map, [c.hex for c in result.design.colours], board, ground=ground_colour(result)
        ),
    }


def dxf_settings(result: Result) -> DxfSettings:
    """Return how the job's drawings are written."""
    output = result.job.output
    zero_mm = output.zero_mm(result.board.width_mm, result.board.height_mm)
    return DxfSettings(output.dxf, result.job.shown_units, zero_mm)


def ground_colour(result: Result) -> str:
    """Return the colour of the board around the artwork: that of its wood, if it has any."""
    wood = roles_of(result.design.colours, "wood")
    return result.design.colours[wood[0]].hex if wood else WOOD_TONE
