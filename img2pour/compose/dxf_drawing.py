"""Read DXF: closed outlines of each layer, and lines and arcs that join up to closed ones."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import ezdxf
import numpy as np
from ezdxf import recover
from ezdxf.audit import AuditError
from ezdxf.lldxf.const import DXFError
from ezdxf.path import Command, make_path

from img2pour.compose.chains import Chain, join_up
from img2pour.compose.drawing import MOST_PIECES, Drawing, DrawingFinding, DrawnShape
from img2pour.compose.dxf_blocks import Blocks, Unused
from img2pour.compose.dxf_splines import spline_cubics
from img2pour.compose.pen import Pen
from img2pour.errors import SettingsError
from img2pour.plane.regionmap import FloatArray
from img2pour.units import quoted

MM_PER_INSUNITS = {
    1: 25.4,
    2: 304.8,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    13: 0.001,
    14: 100.0,
}
"""Header variable $INSUNITS: in, ft, mm, cm, m, micro-inch, mil, yd, micron, dm (DXF reference)."""

LARGEST_DXF_BYTES = 300_000_000
WIDEST_SWEEP_RAD = math.pi * 0.999
OUR_OWN_LAYERS = {"BOARD", "MARKS", "CUT_OUT", "PINS"}
"""Layers of our own drawings that show the board, numbers and cuts, not the design."""

DRAWN = {"LWPOLYLINE", "POLYLINE", "CIRCLE", "ARC", "LINE", "ELLIPSE", "SPLINE"}


@dataclass
class _Layer:
    """What a layer holds: a pen for whole outlines, and chains that may join up."""

    hex: str
    pen: Pen = field(default_factory=Pen)
    loose: list[Chain] = field(default_factory=list)


@dataclass
class _Reader:
    document: Any
    layers: dict[str, _Layer] = field(default_factory=dict)
    findings: list[DrawingFinding] = field(default_factory=list)
    unused: Unused = field(default_factory=Unused)
    pieces: int = 0

    def layer(self, name: str) -> _Layer:
        if name not in self.layers:
            self.layers[name] = _Layer(_layer_hex(self.document, name))
        return self.layers[name]


def read_dxf(data: bytes, source: str, layers: Iterable[str] | None = None) -> Drawing:
    """Read a DXF drawing.

    Parameters
    ----------
    data : bytes
    source : str
        Name of the file, for messages.
    layers : iterable of str, optional
        Layers to take; without it all that are shown, but for those of our own drawings that show
        the board, numbers and cuts.

    Returns
    -------
    Drawing
        One shape for each layer, holes by the even-odd rule.

    Raises
    ------
    SettingsError
        When it is no DXF, or a wanted layer is missing.
    """
    document, missing = _document(data, source)
    wanted = None if layers is None else {name.upper() for name in layers}
    _need_layers(document, wanted, source)
    reader = _Reader(document)
    blocks = Blocks(source)
    for entity, name in blocks.entities(document.modelspace()):
        if _is_wanted(document, name, wanted):
            _read_entity(reader, entity, name, source)
    shapes = []
    for name, layer in reader.layers.items():
        _join(reader, name, layer)
        shapes.append(DrawnShape(layer.pen, layer.hex, f"layer {name}", "evenodd", False, name))
    reader.findings += [*missing, *blocks.findings, *reader.unused.findings()]
    units = MM_PER_INSUNITS.get(int(document.header.get("$INSUNITS", 0) or 0))
    return Drawing(tuple(shapes), None, units, tuple(reader.findings))


def _document(data: bytes, source: str) -> tuple[Any, list[DrawingFinding]]:
    """Return the drawing, and what was missing or faulty so that it could not be read."""
    if len(data) > LARGEST_DXF_BYTES:
        raise SettingsError(f"the drawing {quoted(source)} is larger than 300 MB", name="file")
    try:
        document, auditor = recover.read(io.BytesIO(data))
    except (DXFError, OSError, ValueError, TypeError, KeyError, AttributeError, IndexError) as why:
        raise SettingsError(
            f"{quoted(source)} is no DXF drawing, or a broken one; save it again", name="file"
        ) from why
    lost = [fix.code for fix in auditor.fixes if "Deleted entity" in fix.message]
    blocks = lost.count(AuditError.UNDEFINED_BLOCK)
    said = []
    if blocks:
        said.append(DrawingFinding(f"{blocks} blocks are missing from the file and are left out"))
    if len(lost) > blocks:
        said.append(DrawingFinding(f"{len(lost) - blocks} faulty entries are left out"))
    return document, said


def _need_layers(document: Any, wanted: set[str] | None, source: str) -> None:
    known = {layer.dxf.name.upper() for layer in document.layers}
    missing = sorted((wanted or set()) - known)
    if missing:
        raise SettingsError(
            f"the drawing {quoted(source)} has no layer {quoted(missing[0])}; it has "
            f"{', '.join(sorted(known)[:12])}",
            name="layers",
            value=missing[0],
        )


def _is_wanted(document: Any, name: str, wanted: set[str] | None) -> bool:
    if wanted is not None:
        return name.upper() in wanted
    if name.upper() in OUR_OWN_LAYERS:
        return False
    if name not in document.layers:
        return True
    layer = document.layers.get(name)
    return not (layer.is_off() or layer.is_frozen())


def _layer_hex(document: Any, name: str) -> str:
    """Return a layer's true colour, else that of its index."""
    if name not in document.layers:
        return "#000000"
    layer = document.layers.get(name)
    if layer.rgb is not None:
        red, green, blue = layer.rgb
    else:
        red, green, blue = ezdxf.colors.aci2rgb(abs(layer.color) if layer.color else 7)
    return f"#{red:02x}{green:02x}{blue:02x}"


def _read_entity(reader: _Reader, entity: Any, name: str, source: str) -> None:
    kind = entity.dxftype()
    if kind not in DRAWN or (kind == "POLYLINE" and not entity.is_2d_polyline):
        reader.unused.add(entity)
        return
    try:
        chain = _chain(entity)
    except (DXFError, ValueError, TypeError, ZeroDivisionError, AttributeError, IndexError):
        chain = None
    if chain is None:
        why = f"a {kind} of layer {name} holds numbers that cannot be read; it is left out"
        reader.findings.append(DrawingFinding(why))
        return
    if len(chain.pieces) == 0:
        return
    reader.pieces += len(chain.pieces)
    if reader.pieces > MOST_PIECES:
        raise SettingsError(
            f"the drawing {quoted(source)} has more than {MOST_PIECES} lines and arcs; it is no "
            "design for a board",
            name="file",
        )
    layer = reader.layer(name)
    if chain.is_closed:
        chain.draw(layer.pen)
    else:
        layer.loose.append(chain)


def _chain(entity: Any) -> Chain | None:
    """Return an entity as a chain in world coordinates, or None where it is not flat."""
    up = entity.dxf.get("extrusion", (0, 0, 1))
    if abs(up[0]) + abs(up[1]) > 1e-6:
        return None
    kind = entity.dxftype()
    if kind in {"ELLIPSE", "SPLINE"}:
        chain = _chain_of_path(entity)
    elif kind in {"LWPOLYLINE", "POLYLINE"}:
        chain = _chain_of_polyline(entity, mirrored=up[2] < 0)
    elif kind == "LINE":
        start, end = entity.dxf.start, entity.dxf.end
        chain = Chain([(start[0], start[1]), (end[0], end[1])], [0.0])
    else:
        chain = _chain_of_arc(entity, mirrored=up[2] < 0)
    return chain if np.isfinite(np.array(chain.all_points())).all() else None


def _chain_of_polyline(entity: Any, *, mirrored: bool) -> Chain:
    if entity.dxftype() == "LWPOLYLINE":
        rows = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        closed = bool(entity.closed)
    else:
        rows = [(v.dxf.location[0], v.dxf.location[1], v.dxf.bulge) for v in entity.vertices]
        closed = bool(entity.is_closed)
    side = -1.0 if mirrored else 1.0
    points = [(side * x, y) for x, y, _ in rows]
    bulges = [side * bulge for _, _, bulge in rows]
    if closed and points:
        points.append(points[0])
    chain = Chain(points[:1], [])
    for point, bulge in zip(points[1:], bulges, strict=False):
        chain.add_arc(point, bulge)
    return chain


def _chain_of_arc(entity: Any, *, mirrored: bool) -> Chain:
    """Return a circle or an arc, cut so that no part turns by more than half a circle."""
    side = -1.0 if mirrored else 1.0
    centre, radius = entity.dxf.center, entity.dxf.radius
    first, sweep = 0.0, 2 * math.pi
    if entity.dxftype() == "ARC":
        first = math.radians(entity.dxf.start_angle)
        sweep = (math.radians(entity.dxf.end_angle) - first) % (2 * math.pi) or 2 * math.pi
    parts = 1 if sweep <= WIDEST_SWEEP_RAD else 2
    points = [
        (
            side * (centre[0] + radius * math.cos(first + k * sweep / parts)),
            centre[1] + radius * math.sin(first + k * sweep / parts),
        )
        for k in range(parts + 1)
    ]
    if sweep == 2 * math.pi:
        points[-1] = points[0]
    return Chain(points, [side * math.tan(sweep / parts / 4)] * parts)


def _chain_of_cubics(pieces: FloatArray) -> Chain:
    """Return cubic curves that follow each other, (n, 4, 2)."""
    (x, y), *_ = pieces[0].tolist()
    chain = Chain([(x, y)], [])
    for _, one, other, end in pieces.tolist():
        chain.add_cubic(tuple(one), tuple(other), tuple(end))
    return chain


def _chain_of_path(entity: Any) -> Chain:
    """Return an ellipse or a spline as cubic curves."""
    if entity.dxftype() == "SPLINE":
        pieces = spline_cubics(entity)
        if pieces is not None:
            return _chain_of_cubics(pieces)
    path = make_path(entity)
    chain = Chain([(path.start.x, path.start.y)], [])
    for command in path.commands():
        end = (command.end.x, command.end.y)
        if command.type == Command.LINE_TO:
            chain.add_arc(end, 0.0)
        elif command.type == Command.CURVE4_TO:
            one, other = command.ctrl1, command.ctrl2  # type: ignore[union-attr]
            chain.add_cubic((one.x, one.y), (other.x, other.y), end)
        elif command.type == Command.CURVE3_TO:
            control = command.ctrl  # type: ignore[union-attr]
            (x0, y0), (x1, y1) = chain.points[-1], (control.x, control.y)
            chain.add_cubic(
                (x0 + 2 * (x1 - x0) / 3, y0 + 2 * (y1 - y0) / 3),
                (end[0] + 2 * (x1 - end[0]) / 3, end[1] + 2 * (y1 - end[1]) / 3),
                end,
            )
    return chain


def _join(reader: _Reader, name: str, layer: _Layer) -> None:
    """Draw the loose chains that join up; say where the others end."""
    closed, left = join_up(layer.loose)
    for chain in closed:
        chain.draw(layer.pen)
    for chain, branches in left:
        x, y = chain.points[-1]
        why = "branches" if branches else "is open"
        reader.findings.append(
            DrawingFinding(f"an outline of layer {name} {why} here and is left out", (x, y))
        )
