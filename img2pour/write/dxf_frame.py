"""What surrounds the entities of a DXF file: header, tables, blocks and objects.

Group codes and required records after the published DXF reference, 2018 edition; R12 after the
R11/R12 reference. Nothing depends on the clock or on chance.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import count
from typing import Literal

DxfVersion = Literal["R12", "R2000", "R2010", "R2018"]

ACADVER: dict[DxfVersion, str] = {
    "R12": "AC1009",
    "R2000": "AC1015",
    "R2010": "AC1024",
    "R2018": "AC1032",
}
INSUNITS = {"mm": 4, "in": 1}
MEASUREMENT = {"mm": 1, "in": 0}

Tag = tuple[int, object]


@dataclass(frozen=True)
class LayerRecord:
    """A row of the layer table: name, colour index, true colour or None."""

    name: str
    index: int
    true_colour: int | None


@dataclass(frozen=True)
class Handles:
    """Hands out the numbers that tie the records of one file together."""

    numbers: Iterator[int] = field(default_factory=lambda: count(0x10))

    def new(self) -> str:
        """Return the next handle in hexadecimal."""
        return f"{next(self.numbers):X}"


@dataclass(frozen=True)
class Frame:
    """The handles that the parts of a file refer to."""

    handles: Handles
    model: str
    paper: str
    model_layout: str
    paper_layout: str
    plot_style: str

    @classmethod
    def new(cls) -> Frame:
        """Return a frame with fresh handles."""
        handles = Handles()
        return cls(handles, *(handles.new() for _ in range(5)))


def text(tags: Iterable[Tag]) -> str:
    """Return the lines of the tags: group code, then value."""
    return "".join(f"{code:>3}\n{value}\n" for code, value in tags)


def section(name: str, body: str) -> str:
    """Return a whole section."""
    return f"  0\nSECTION\n  2\n{name}\n{body}  0\nENDSEC\n"


def header(
    version: DxfVersion,
    units: Literal["mm", "in"],
    extent: tuple[float, float, float, float],
    next_handle: str,
) -> str:
    """Return the header section; R12 knows neither units nor a measuring system."""
    x0, y0, x1, y1 = (round(value, 6) for value in extent)
    tags: list[Tag] = [
        (9, "$ACADVER"), (1, ACADVER[version]),
        (9, "$DWGCODEPAGE"), (3, "ANSI_1252"),
        (9, "$INSBASE"), (10, 0.0), (20, 0.0), (30, 0.0),
        (9, "$EXTMIN"), (10, x0), (20, y0), (30, 0.0),
        (9, "$EXTMAX"), (10, x1), (20, y1), (30, 0.0),
        (9, "$LIMMIN"), (10, x0), (20, y0),
        (9, "$LIMMAX"), (10, x1), (20, y1),
        (9, "$CLAYER"), (8, "0"),
        (9, "$LUNITS"), (70, 2),
        (9, "$LUPREC"), (70, 4),
    ]  # fmt: skip
    if version != "R12":
        tags += [
            (9, "$INSUNITS"), (70, INSUNITS[units]),
            (9, "$MEASUREMENT"), (70, MEASUREMENT[units]),
            (9, "$HANDSEED"), (5, next_handle),
        ]  # fmt: skip
    return section("HEADER", text(tags))


def old_tables(layers: Iterable[LayerRecord]) -> str:
    """Return the tables section of R12."""
    rows = list(layers)
    line_types: list[Tag] = [
        (0, "TABLE"), (2, "LTYPE"), (70, 1),
        (0, "LTYPE"), (2, "CONTINUOUS"), (70, 0), (3, "Solid line"), (72, 65), (73, 0), (40, 0.0),
        (0, "ENDTAB"),
    ]  # fmt: skip
    names: list[Tag] = [(0, "TABLE"), (2, "LAYER"), (70, len(rows))]
    for row in rows:
        names += [(0, "LAYER"), (2, row.name), (70, 0), (62, row.index), (6, "CONTINUOUS")]
    style: list[Tag] = [
        (0, "ENDTAB"),
        (0, "TABLE"), (2, "STYLE"), (70, 1),
        (0, "STYLE"), (2, "STANDARD"), (70, 0), (40, 0.0), (41, 1.0), (50, 0.0), (71, 0),
        (42, 2.5), (3, "txt"), (4, ""),
        (0, "ENDTAB"),
    ]  # fmt: skip
    return section("TABLES", text(line_types + names + style))


def tables(frame: Frame, layers: Iterable[LayerRecord], extent: tuple[float, ...]) -> str:
    """Return the tables section of R2000 and later."""
    parts = [
        _table(frame, "VPORT", [_viewport(extent)]),
        _table(frame, "LTYPE", [_line_type(name) for name in ("ByBlock", "ByLayer", "Continuous")]),
        _table(frame, "LAYER", [_layer(frame, row) for row in layers]),
        _table(frame, "STYLE", [_TEXT_STYLE]),
        _table(frame, "VIEW", []),
        _table(frame, "UCS", []),
        _table(frame, "APPID", [("AcDbRegAppTableRecord", [(2, "ACAD"), (70, 0)])]),
        _table(frame, "DIMSTYLE", [_DIMENSION_STYLE]),
        _block_records(frame),
    ]
    return section("TABLES", "".join(parts))


Record = tuple[str, list[Tag]]
"""Subclass marker and tags of a table's record."""

_TEXT_STYLE: Record = (
    "AcDbTextStyleTableRecord",
    [(2, "Standard"), (70, 0), (40, 0.0), (41, 1.0), (50, 0.0), (71, 0), (42, 2.5), (3, "txt"),
     (4, "")],
)  # fmt: skip
_DIMENSION_STYLE: Record = ("AcDbDimStyleTableRecord", [(2, "Standard"), (70, 0)])


def _viewport(extent: tuple[float, ...]) -> Record:
    """Return the view that shows the whole drawing."""
    x0, y0, x1, y1 = extent
    middle_x, middle_y = round((x0 + x1) / 2, 6), round((y0 + y1) / 2, 6)
    view_height = round(max(y1 - y0, (x1 - x0) / 1.34) * 1.05, 6)
    return "AcDbViewportTableRecord", [
        (2, "*Active"), (70, 0), (10, 0.0), (20, 0.0), (11, 1.0), (21, 1.0),
        (12, middle_x), (22, middle_y), (13, 0.0), (23, 0.0), (14, 10.0), (24, 10.0),
        (15, 10.0), (25, 10.0), (16, 0.0), (26, 0.0), (36, 1.0), (17, 0.0), (27, 0.0), (37, 0.0),
        (40, view_height), (41, 1.34), (42, 50.0), (43, 0.0), (44, 0.0), (50, 0.0), (51, 0.0),
        (71, 0), (72, 1000), (73, 1), (74, 3), (75, 0), (76, 0), (77, 0), (78, 0),
    ]  # fmt: skip


def _line_type(name: str) -> Record:
    return (
        "AcDbLinetypeTableRecord",
        [(2, name), (70, 0), (3, ""), (72, 65), (73, 0), (40, 0.0)],
    )


def _layer(frame: Frame, row: LayerRecord) -> Record:
    tags: list[Tag] = [(2, row.name), (70, 0), (62, row.index)]
    if row.true_colour is not None:
        tags.append((420, row.true_colour))
    tags += [(6, "Continuous"), (370, -3), (390, frame.plot_style)]
    return "AcDbLayerTableRecord", tags


def _table(frame: Frame, name: str, records: list[Record]) -> str:
    """Return one table; dimension styles keep their handle under a code of their own."""
    own = frame.handles.new()
    tags: list[Tag] = [(0, "TABLE"), (2, name), (5, own), (330, "0"), (100, "AcDbSymbolTable")]
    tags.append((70, len(records)))
    if name == "DIMSTYLE":
        tags.append((100, "AcDbDimStyleTable"))
    for marker, rest in records:
        handle: Tag = (105 if name == "DIMSTYLE" else 5, frame.handles.new())
        tags += [(0, name), handle, (330, own), (100, "AcDbSymbolTableRecord"), (100, marker)]
        tags += rest
    return text([*tags, (0, "ENDTAB")])


def _block_records(frame: Frame) -> str:
    own = frame.handles.new()
    tags: list[Tag] = [
        (0, "TABLE"), (2, "BLOCK_RECORD"), (5, own), (330, "0"), (100, "AcDbSymbolTable"), (70, 2),
    ]  # fmt: skip
    for handle, name, layout in (
        (frame.model, "*Model_Space", frame.model_layout),
        (frame.paper, "*Paper_Space", frame.paper_layout),
    ):
        tags += [
            (0, "BLOCK_RECORD"), (5, handle), (330, own), (100, "AcDbSymbolTableRecord"),
            (100, "AcDbBlockTableRecord"), (2, name), (340, layout),
        ]  # fmt: skip
    return text([*tags, (0, "ENDTAB")])


def blocks(frame: Frame) -> str:
    """Return the blocks section: the empty definitions of model and paper space."""
    tags: list[Tag] = []
    for owner, name in ((frame.model, "*Model_Space"), (frame.paper, "*Paper_Space")):
        tags += [
            (0, "BLOCK"), (5, frame.handles.new()), (330, owner), (100, "AcDbEntity"),
        ]  # fmt: skip
        if name == "*Paper_Space":
            tags.append((67, 1))
        tags += [
            (8, "0"), (100, "AcDbBlockBegin"), (2, name), (70, 0), (10, 0.0), (20, 0.0),
            (30, 0.0), (3, name), (1, ""),
            (0, "ENDBLK"), (5, frame.handles.new()), (330, owner), (100, "AcDbEntity"),
        ]  # fmt: skip
        if name == "*Paper_Space":
            tags.append((67, 1))
        tags += [(8, "0"), (100, "AcDbBlockEnd")]
    return section("BLOCKS", text(tags))


def classes(version: DxfVersion) -> str:
    """Return the classes section: the object kinds that are not built in.

    The count of instances (91) came after R2000.
    """
    instances: list[Tag] = [] if version == "R2000" else [(91, 1)]
    tags: list[Tag] = []
    for name, implementation in (
        ("ACDBDICTIONARYWDFLT", "AcDbDictionaryWithDefault"),
        ("ACDBPLACEHOLDER", "AcDbPlaceHolder"),
        ("LAYOUT", "AcDbLayout"),
    ):
        tags += [
            (0, "CLASS"), (1, name), (2, implementation), (3, "ObjectDBX Classes"), (90, 0),
            *instances, (280, 0), (281, 0),
        ]  # fmt: skip
    return section("CLASSES", text(tags))


def objects(frame: Frame) -> str:
    """Return the objects section: the root dictionary, both layouts, the plot style."""
    new = frame.handles.new
    root, groups, layouts, styles = new(), new(), new(), new()
    tags: list[Tag] = [
        (0, "DICTIONARY"), (5, root), (330, "0"), (100, "AcDbDictionary"), (281, 1),
        (3, "ACAD_GROUP"), (350, groups),
        (3, "ACAD_LAYOUT"), (350, layouts),
        (3, "ACAD_PLOTSTYLENAME"), (350, styles),
        (0, "DICTIONARY"), (5, groups), (330, root), (100, "AcDbDictionary"), (281, 1),
        (0, "DICTIONARY"), (5, layouts), (330, root), (100, "AcDbDictionary"), (281, 1),
        (3, "Model"), (350, frame.model_layout), (3, "Layout1"), (350, frame.paper_layout),
        (0, "ACDBDICTIONARYWDFLT"), (5, styles), (330, root), (100, "AcDbDictionary"), (281, 1),
        (3, "Normal"), (350, frame.plot_style), (100, "AcDbDictionaryWithDefault"),
        (340, frame.plot_style),
        (0, "ACDBPLACEHOLDER"), (5, frame.plot_style), (330, styles),
    ]  # fmt: skip
    tags += _layout(frame.model_layout, layouts, "Model", 0, frame.model)
    tags += _layout(frame.paper_layout, layouts, "Layout1", 1, frame.paper)
    return section("OBJECTS", text(tags))


def _layout(handle: str, owner: str, name: str, order: int, space: str) -> list[Tag]:
    """Return a layout: plot settings for an A4 sheet lying on its side, then the layout's own."""
    zeros = [(code, 0.0) for code in (44, 45, 46, 47, 48, 49, 140, 141)]
    plot_flags = 688 if order else 1712
    return [
        (0, "LAYOUT"), (5, handle), (330, owner), (100, "AcDbPlotSettings"),
        (1, ""), (4, ""), (6, ""), (40, 7.5), (41, 7.5), (42, 7.5), (43, 7.5),
        *zeros,
        (142, 1.0), (143, 1.0), (70, plot_flags), (72, 1), (73, 0), (74, 5), (7, ""), (75, 16),
        (147, 1.0), (148, 0.0), (149, 0.0), (100, "AcDbLayout"),
        (1, name), (70, 1), (71, order), (10, 0.0), (20, 0.0), (11, 297.0), (21, 210.0),
        (12, 0.0), (22, 0.0), (32, 0.0), (14, 1e20), (24, 1e20), (34, 1e20),
        (15, -1e20), (25, -1e20), (35, -1e20), (146, 0.0),
        (13, 0.0), (23, 0.0), (33, 0.0), (16, 1.0), (26, 0.0), (36, 0.0),
        (17, 0.0), (27, 1.0), (37, 0.0), (76, 1), (330, space),
    ]  # fmt: skip
