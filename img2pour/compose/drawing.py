"""A drawing as it was read: filled outlines in its own units, and what could not be used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from img2pour.compose.pen import CURVE_TOLERANCE_MM, Pen
from img2pour.errors import SettingsError
from img2pour.plane.cover import Rule
from img2pour.plane.curves import Curves
from img2pour.plane.cuts import self_meetings
from img2pour.plane.overlay import FillLayer, Outline
from img2pour.plane.placement import Placement
from img2pour.plane.regionmap import FloatArray
from img2pour.write.text import one_line

Bounds = tuple[float, float, float, float]

MOST_PIECES = 2_000_000
"""More lines and curves than any board needs; such a drawing is refused."""

FARTHEST = 1e9
"""In the drawing's own units; numbers that reach farther are no design."""

SHOWN_FINDINGS = 3
LONGEST_NAME = 40


@dataclass(frozen=True)
class DrawingFinding:
    """Something in a drawing that was not used as it is.

    Attributes
    ----------
    reason : str
        In plain words.
    at : (x, y) or None
        Where, in the drawing's own units, y up.
    """

    reason: str
    at: tuple[float, float] | None = None


@dataclass(frozen=True, eq=False)
class DrawnShape:
    """What one pen drew, to be filled with one colour.

    Attributes
    ----------
    pen : Pen
    hex : str
        ``#rrggbb``.
    name : str
        Of the layer or the object.
    rule : {"nonzero", "evenodd"}
    fills_open : bool
        True where outlines that are not closed are filled all the same, as SVG does.
    layer : str
        Name of its layer, "" where it has none.
    """

    pen: Pen
    hex: str
    name: str
    rule: Rule
    fills_open: bool
    layer: str = ""


@dataclass(frozen=True, eq=False)
class Drawing:
    """A drawing in its own units, y up.

    Attributes
    ----------
    shapes : tuple of DrawnShape
        In the order of painting.
    frame : (x0, y0, x1, y1) or None
        What the file calls its page; without it the box around all shapes.
    mm_per_unit : float or None
        None where the file does not tell its unit.
    findings : tuple of DrawingFinding
    """

    shapes: tuple[DrawnShape, ...]
    frame: Bounds | None
    mm_per_unit: float | None
    findings: tuple[DrawingFinding, ...]


@dataclass(frozen=True, eq=False)
class DrawnFills:
    """The outlines of a drawing as lines and arcs, in its own units.

    Attributes
    ----------
    outlines : tuple of tuple of (vertices, bulges)
        Of each shape that is left.
    shapes : tuple of DrawnShape
        The shape of each.
    bounds : (x0, y0, x1, y1)
    findings : tuple of DrawingFinding
    """

    outlines: tuple[tuple[Outline, ...], ...]
    shapes: tuple[DrawnShape, ...]
    bounds: Bounds
    findings: tuple[DrawingFinding, ...]

    def colours(self) -> tuple[str, ...]:
        """Return the colours, each once, in the order of painting."""
        return tuple(dict.fromkeys(shape.hex for shape in self.shapes))

    def colour_names(self) -> dict[str, str]:
        """Return a name for each colour: its layer's, else that of the nearest named colour."""
        from img2pour.colour import rgb_from_hex
        from img2pour.colours.names import nearest_name

        names: dict[str, str] = {}
        for shape in self.shapes:
            if shape.hex not in names:
                layer = one_line(shape.layer)[:LONGEST_NAME]
                names[shape.hex] = layer or nearest_name(rgb_from_hex(shape.hex))
        return names

    def layers(
        self, placement: Placement, colour_of: dict[str, int], piece: int
    ) -> tuple[FillLayer, ...]:
        """Return the layers to lay on the board.

        Parameters
        ----------
        placement : Placement
            From the drawing's units to the board.
        colour_of : dict
            Index in the palette of each ``#rrggbb``.
        piece : int
        """
        return tuple(
            FillLayer(
                [placed_outline(outline, placement) for outline in outlines],
                colour_of[shape.hex],
                piece,
                shape.rule,
            )
            for outlines, shape in zip(self.outlines, self.shapes, strict=True)
        )


def placed_outline(outline: Outline, placement: Placement) -> Outline:
    """Return an outline moved by a placement; a mirror turns its arcs the other way."""
    vertices, bulges = outline
    return placement.apply(vertices), -bulges if placement.mirrors else bulges


def drawn_fills(drawing: Drawing, mm_per_unit: float) -> DrawnFills:
    """Return the outlines of a drawing; its curves become arcs within 0.005 mm.

    Parameters
    ----------
    drawing : Drawing
    mm_per_unit : float
        Scale at which it will lie on the board.

    Raises
    ------
    SettingsError
        When no closed outline is left.
    """
    tolerance = CURVE_TOLERANCE_MM / mm_per_unit
    findings = list(drawing.findings)
    outlines, shapes = [], []
    for shape in drawing.shapes:
        drawn = shape.pen.outlines(tolerance)
        for vertices, _ in drawn.open:
            findings.append(_open_finding(shape, vertices))
        own = [*drawn.closed, *(drawn.open if shape.fills_open else ())]
        near = [outline for outline in own if _is_near(outline)]
        if len(near) < len(own):
            why = f"an outline of {shape.name} reaches farther than any board; it was left out"
            findings.append(DrawingFinding(why))
        if near:
            outlines.append(tuple(near))
            shapes.append(shape)
    if not outlines:
        raise _nothing_to_fill(findings)
    _need_bounded(outlines)
    findings += _crossings(outlines, shapes, tolerance)
    bounds = drawing.frame or _around(outlines)
    return DrawnFills(tuple(outlines), tuple(shapes), bounds, tuple(findings))


def _is_near(outline: Outline) -> bool:
    vertices, _ = outline
    return len(vertices) > 0 and bool(np.abs(vertices).max() <= FARTHEST)


def _nothing_to_fill(findings: Sequence[DrawingFinding]) -> SettingsError:
    seen = [
        one.reason if one.at is None else f"{one.reason}, at {one.at[0]:.6g}, {one.at[1]:.6g}"
        for one in findings[:SHOWN_FINDINGS]
    ]
    told = f" ({'; '.join(seen)})" if seen else ""
    return SettingsError(
        f"the drawing has no closed outline to fill{told}; close its outlines, or give its "
        "shapes a fill",
        name="file",
    )


def _need_bounded(outlines: Sequence[tuple[Outline, ...]]) -> None:
    count = sum(len(bulges) for own in outlines for _, bulges in own)
    if count > MOST_PIECES:
        raise SettingsError(
            f"the drawing has {count} lines and arcs, more than {MOST_PIECES}; simplify its "
            "outlines in the drawing program",
            name="file",
        )


def _open_finding(shape: DrawnShape, vertices: FloatArray) -> DrawingFinding:
    x, y = vertices[-1].tolist()
    what = "closed with a straight line" if shape.fills_open else "left out"
    return DrawingFinding(f"an outline of {shape.name} is open; it was {what}", (x, y))


def _crossings(
    outlines: Sequence[tuple[Outline, ...]], shapes: Sequence[DrawnShape], tolerance: float
) -> list[DrawingFinding]:
    """Return where an outline crosses itself, one finding for each such outline."""
    flat = [
        (outline, shape) for own, shape in zip(outlines, shapes, strict=True) for outline in own
    ]
    start = np.concatenate([vertices for (vertices, _), _ in flat])
    end = np.concatenate([np.roll(vertices, -1, axis=0) for (vertices, _), _ in flat])
    bulges = np.concatenate([b for (_, b), _ in flat])
    owner = np.repeat(np.arange(len(flat)), [len(b) for (_, b), _ in flat])
    owners, points = self_meetings(Curves(start, end, bulges), owner, tolerance)
    found = []
    for k in np.flatnonzero(np.diff(owners, prepend=-1) > 0).tolist():
        x, y = points[k].tolist()
        name = flat[int(owners[k])][1].name
        found.append(DrawingFinding(f"an outline of {name} crosses or touches itself", (x, y)))
    return found


def _around(outlines: Sequence[tuple[Outline, ...]]) -> Bounds:
    from img2pour.plane.curves import boxes

    every = [
        boxes(Curves(vertices, np.roll(vertices, -1, axis=0), bulges))
        for own in outlines
        for vertices, bulges in own
    ]
    box = np.concatenate(every)
    low, high = box[:, :2].min(axis=0).tolist(), box[:, 2:].max(axis=0).tolist()
    return (low[0], low[1], high[0], high[1])
