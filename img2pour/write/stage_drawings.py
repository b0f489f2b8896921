"""DXF files of what is carved in each stage, from shapely outlines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import shapely

from img2pour.write.chords import TOLERANCE_MM, shape_outlines
from img2pour.write.dxf import (
    DxfLayer,
    DxfSettings,
    board_layer,
    cut_out_layers,
    drawing_dxf,
    marks_layer,
)
from img2pour.write.layers import LONGEST_NAME, RESERVED, fold_name, layer_colour, layer_names
from img2pour.write.outlines import Outline
from img2pour.write.values import Board, Mark

PINS_LAYER = "PINS"
PINS_INDEX = 3
"""Colour index of pins: green."""

Pin = tuple[float, float, float]
"""x, y and diameter in mm on the board."""


@dataclass(frozen=True, eq=False)
class PocketDrawing:
    """What is carved for one pour of a stage.

    Attributes
    ----------
    title : str
        Name of the pour, any text.
    hex : str
        ``#rrggbb`` of its resin.
    outline : shapely geometry
        The final top outline in mm on the board.
    """

    title: str
    hex: str
    outline: shapely.Geometry

    @cached_property
    def outlines(self) -> list[Outline]:
        """The outline as few lines and arcs."""
        return shape_outlines(self.outline, TOLERANCE_MM)

    @property
    def area_mm2(self) -> float:
        """Area inside the lines and arcs, as it stands in the file."""
        return sum(outline.area_mm2 for outline in self.outlines)


@dataclass(frozen=True, eq=False)
class StageDrawing:
    """One stage.

    Attributes
    ----------
    number : int
        1 for the first.
    name : str
        Any text.
    pockets : sequence of PocketDrawing
    marks : sequence of Mark
        Numbered places of this stage.
    """

    number: int
    name: str
    pockets: Sequence[PocketDrawing]
    marks: Sequence[Mark] = ()

    @property
    def file_stem(self) -> str:
        """Name of its file without ending: ``stage-1-clear``."""
        return f"stage-{self.number}-{fold_name(self.name).lower().replace('_', '-')}"


def stage_dxf(
    stage: StageDrawing,
    board: Board,
    settings: DxfSettings,
    pins: Sequence[Pin] = (),
    cut_outs: Sequence[Outline] = (),
) -> bytes:
    """Return the DXF file of one stage: each pocket's outline once, board, pins and marks."""
    return stages_dxf([stage], board, settings, pins, cut_outs)


def stages_dxf(
    stages: Sequence[StageDrawing],
    board: Board,
    settings: DxfSettings,
    pins: Sequence[Pin] = (),
    cut_outs: Sequence[Outline] = (),
) -> bytes:
    """Return one DXF file of several stages; its layers sort in the order of the work.

    Parameters
    ----------
    stages : sequence of StageDrawing
    board : Board
    settings : DxfSettings
    pins : sequence of (x, y, diameter)
        In mm on the board; circles on the layer ``PINS``.
    cut_outs : sequence of Outline
        Where pieces are cut out at the end; on the layer ``CUT_OUT``.
    """
    drawn = [board_layer(board), *cut_out_layers(cut_outs)]
    if pins:
        circles = [(x, y, diameter / 2) for x, y, diameter in pins]
        drawn.append(DxfLayer(PINS_LAYER, PINS_INDEX, None, circles=circles))
    marks = [mark for stage in stages for mark in stage.marks]
    if marks:
        drawn.append(marks_layer(marks))
    pockets = [pocket for stage in stages for pocket in stage.pockets]
    names = stage_layer_names(stages)
    for name, pocket in zip(names, pockets, strict=True):
        drawn.append(DxfLayer(name, *layer_colour(pocket.hex), pocket.outlines))
    return drawing_dxf(drawn, settings)


def stage_layer_names(stages: Sequence[StageDrawing]) -> tuple[str, ...]:
    """Return the layer of every pocket, stage after stage: ``S01_NAVY``."""
    wanted = [
        f"S{stage.number:02d}_{fold_name(pocket.title)}"[:LONGEST_NAME]
        for stage in stages
        for pocket in stage.pockets
    ]
    return layer_names(wanted, taken=(*RESERVED, PINS_LAYER))
