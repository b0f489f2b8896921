"""DXF files that every reader keeps: closed outlines of lines and arcs, one layer a colour."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from img2pour.plane.regionmap import FloatArray, RegionMap
from img2pour.units import MM_PER_INCH
from img2pour.write import dxf_frame
from img2pour.write.digits import mark_outlines
from img2pour.write.dxf_frame import DxfVersion, Frame, LayerRecord
from img2pour.write.layers import BOARD_LAYER, CUT_OUT_LAYER, MARKS_LAYER, Layer, layer_colour
from img2pour.write.outlines import Outline, face_outlines
from img2pour.write.values import Board, Mark

BOARD_INDEX = 8
"""Colour index of the board's outline: mid grey, seen on any screen."""

MARKS_INDEX = 6
"""Colour index of marks: magenta, rare in wood and seen on any screen."""

CUT_OUT_INDEX = 1
"""Colour index of cut-outs: red."""


@dataclass(frozen=True)
class DxfSettings:
    """How a DXF file is written.

    Attributes
    ----------
    version : str
        R12 and R2000 hold index colours only; R12 holds no unit.
    units : {"mm", "in"}
        Unit of the numbers in the file.
    zero_mm : (x, y)
        The point of the board that becomes the origin, see :meth:`Board.zero_point`.
    """

    version: DxfVersion = "R2010"
    units: Literal["mm", "in"] = "mm"
    zero_mm: tuple[float, float] = (0.0, 0.0)

    def file_name(self, stem: str) -> str:
        """Return the file's name; that of R12 carries the unit, since the file cannot."""
        return f"{stem}-{self.units}.dxf" if self.version == "R12" else f"{stem}.dxf"


@dataclass(frozen=True, eq=False)
class DxfLayer:
    """What is drawn on one layer.

    Attributes
    ----------
    name : str
        ``[A-Z0-9_-]{1,31}``.
    index : int
        Colour index.
    true_colour : int or None
        24 bits, red first; written from R2010 on.
    outlines : sequence of Outline
        In mm on the board.
    circles : sequence of (x, y, radius)
        In mm on the board.
    """

    name: str
    index: int
    true_colour: int | None
    outlines: Sequence[Outline] = ()
    circles: Sequence[tuple[float, float, float]] = ()


def regions_dxf(
    board_map: RegionMap,
    layers: Sequence[Layer],
    board: Board,
    settings: DxfSettings = DxfSettings(),
    marks: Sequence[Mark] = (),
    cut_outs: Sequence[Outline] = (),
) -> bytes:
    """Return the design as a DXF file.

    Parameters
    ----------
    board_map : RegionMap
        In mm, y up, the board's lower-left corner at the origin.
    layers : sequence of Layer
        One per colour of the palette, see :func:`img2pour.write.layers.colour_layers`.
    board : Board
        Its outline goes on the layer ``BOARD``.
    settings : DxfSettings
    marks : sequence of Mark
        Numbered places for the layer ``MARKS``; without any there is no such layer.
    cut_outs : sequence of Outline
        Where pieces are cut out of the blank, for the layer ``CUT_OUT``; likewise.

    Raises
    ------
    GeometryError
        When the map holds a vertex that is not a number or an arc above half a circle.
    """
    drawn = [board_layer(board), *cut_out_layers(cut_outs)]
    if marks:
        drawn.append(marks_layer(marks))
    by_colour: list[list[Outline]] = [[] for _ in layers]
    for ring in face_outlines(board_map):
        by_colour[ring.colour].append(ring.outline)
    for layer, outlines in zip(layers, by_colour, strict=True):
        drawn.append(DxfLayer(layer.name, *layer_colour(layer.hex), outlines))
    return drawing_dxf(drawn, settings)


def board_layer(board: Board) -> DxfLayer:
    """Return the layer that holds the board's outline."""
    width, height = board.width_mm, board.height_mm
    corners = np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    return DxfLayer(BOARD_LAYER, BOARD_INDEX, None, [Outline(corners, np.zeros(4))])


def cut_out_layers(cut_outs: Sequence[Outline]) -> list[DxfLayer]:
    """Return the layer of the cut-outs, or nothing where there are none."""
    return [DxfLayer(CUT_OUT_LAYER, CUT_OUT_INDEX, None, cut_outs)] if cut_outs else []


def marks_layer(marks: Sequence[Mark]) -> DxfLayer:
    """Return the layer of numbered places: rings and numbers drawn as lines, without text."""
    outlines = [outline for mark in marks for outline in mark_outlines(mark)]
    return DxfLayer(MARKS_LAYER, MARKS_INDEX, None, outlines)


def drawing_dxf(layers: Sequence[DxfLayer], settings: DxfSettings) -> bytes:
    """Return a DXF file of the given layers; the same layers always give the same bytes."""
    scale = 1 / MM_PER_INCH if settings.units == "in" else 1.0
    extent = _extent(layers, settings.zero_mm, scale)
    has_true = settings.version in ("R2010", "R2018")
    records = [LayerRecord("0", 7, None)] + [
        LayerRecord(layer.name, layer.index, layer.true_colour if has_true else None)
        for layer in layers
    ]
    pen = _Pen(settings, scale, Frame.new())
    drawn = dxf_frame.section("ENTITIES", "".join(pen.entities(layers)))
    if settings.version == "R12":
        parts = [dxf_frame.old_tables(records), drawn]
    else:
        parts = [
            dxf_frame.classes(settings.version),
            dxf_frame.tables(pen.frame, records, extent),
            dxf_frame.blocks(pen.frame),
            drawn,
            dxf_frame.objects(pen.frame),
        ]
    # The header names the first free handle, so it is made last.
    head = dxf_frame.header(settings.version, settings.units, extent, pen.frame.handles.new())
    return "".join([head, *parts, "  0\nEOF\n"]).encode("ascii")


def _extent(
    layers: Sequence[DxfLayer], zero_mm: tuple[float, float], scale: float
) -> tuple[float, float, float, float]:
    """Return the box of all vertices and circles in the file's unit; bulging arcs may pass it."""
    points = [outline.vertices for layer in layers for outline in layer.outlines]
    for layer in layers:
        for x, y, radius in layer.circles:
            points.append(np.array([(x - radius, y - radius), (x + radius, y + radius)]))
    every = np.concatenate(points) if points else np.zeros((1, 2))
    low, high = ((edge - zero_mm) * scale for edge in (every.min(axis=0), every.max(axis=0)))
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


@dataclass(frozen=True)
class _Pen:
    """Writes entities in the file's unit and version."""

    settings: DxfSettings
    scale: float
    frame: Frame

    def entities(self, layers: Sequence[DxfLayer]) -> Iterable[str]:
        """Yield every entity's text, layer after layer."""
        for layer in layers:
            for outline in layer.outlines:
                yield self._outline(layer.name, outline)
            for x, y, radius in layer.circles:
                yield self._circle(layer.name, x, y, radius)

    def _placed(self, points: FloatArray) -> FloatArray:
        return (points - self.settings.zero_mm) * self.scale

    def _outline(self, layer: str, outline: Outline) -> str:
        rows = np.column_stack([self._placed(outline.vertices), outline.bulges])
        # Adding zero turns -0.0 into 0.0.
        values = (np.round(rows, 9) + 0.0).tolist()
        closed = int(outline.closed)
        if self.settings.version == "R12":
            body = "".join(
                f"  0\nVERTEX\n  8\n{layer}\n 10\n{x:.7f}\n 20\n{y:.7f}\n 30\n0.0\n{_bulge(b)}"
                for x, y, b in values
            )
            start = f"  8\n{layer}\n 66\n1\n 70\n{closed}\n 10\n0.0\n 20\n0.0\n 30\n0.0\n"
            return f"  0\nPOLYLINE\n{start}{body}  0\nSEQEND\n  8\n{layer}\n"
        body = "".join(f" 10\n{x:.7f}\n 20\n{y:.7f}\n{_bulge(b)}" for x, y, b in values)
        marker = f"100\nAcDbPolyline\n 90\n{len(values)}\n 70\n{closed}\n"
        return f"{self._entity('LWPOLYLINE', layer)}{marker}{body}"

    def _circle(self, layer: str, x: float, y: float, radius: float) -> str:
        ((x, y),) = (np.round(self._placed(np.array([[x, y]])), 9) + 0.0).tolist()
        shape = f" 10\n{x:.7f}\n 20\n{y:.7f}\n 30\n0.0\n 40\n{radius * self.scale:.7f}\n"
        if self.settings.version == "R12":
            return f"  0\nCIRCLE\n  8\n{layer}\n{shape}"
        return f"{self._entity('CIRCLE', layer)}100\nAcDbCircle\n{shape}"

    def _entity(self, kind: str, layer: str) -> str:
        handle, owner = self.frame.handles.new(), self.frame.model
        return f"  0\n{kind}\n  5\n{handle}\n330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n"


def _bulge(bulge: float) -> str:
    """Return the tag of a bulge; a line needs none."""
    return f" 42\n{bulge:.9f}\n" if bulge else ""
