"""Read SVG: what is filled, as outlines. Nothing is fetched and nothing is run."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from img2pour.compose.drawing import Drawing, DrawingFinding, DrawnShape
from img2pour.compose.fonts import Font
from img2pour.compose.pen import Pen
from img2pour.compose.safe_xml import Element, read_xml
from img2pour.compose.svg_paths import PathError, PlacedPen, draw_path, read_transform
from img2pour.compose.svg_style import Style, read_rules, styled
from img2pour.errors import SettingsError
from img2pour.plane.cover import Rule
from img2pour.plane.regionmap import FloatArray
from img2pour.units import quoted

MM_PER_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "q": 0.25,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
}
"""Absolute lengths (CSS Values 3, section 6.2); px are not taken for a size in wood."""

_LENGTH = re.compile(
    r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*([a-zA-Z%]*)\s*"
)
SHAPES = {"path", "rect", "circle", "ellipse", "polygon", "polyline"}
GROUPS = {"svg", "g", "a", "switch", "use"}
SILENT = {
    *("defs", "symbol", "title", "desc", "metadata", "style", "script", "namedview", "line"),
    *("linearGradient", "radialGradient", "pattern", "clipPath", "mask", "marker", "filter"),
}
NOT_USED = {
    "image": "a picture inside the drawing is left out; give it as a piece of art of its own",
    "foreignObject": "foreign content is left out",
}
MOST_USES = 10_000


@dataclass
class _Reader:
    """What is collected on the way through the file."""

    source: str
    by_id: dict[str, Element]
    rules: list[tuple[str, dict[str, str]]]
    font: Font | None = None
    shapes: list[DrawnShape] = field(default_factory=list)
    findings: list[DrawingFinding] = field(default_factory=list)
    uses: int = 0

    def style(self, parent: Style, element: Element) -> Style:
        return styled(parent, element, self.rules)

    def note(self, reason: str, matrix: FloatArray | None = None) -> None:
        at = None if matrix is None else (float(matrix[0, 2]), float(matrix[1, 2]))
        self.findings.append(DrawingFinding(reason, at))


def read_svg(data: bytes, source: str, font: Font | None = None) -> Drawing:
    """Read an SVG drawing.

    Parameters
    ----------
    data : bytes
    source : str
        Name of the file, for messages.
    font : Font, optional
        Draws its texts; without it they are left out, and told with their places.

    Returns
    -------
    Drawing
        In the units of its width (mm per unit known), else in its own (None).

    Raises
    ------
    SettingsError
        When it is no SVG, or hostile.
    """
    root = read_xml(data, source)
    if root.name != "svg":
        raise SettingsError(f"{quoted(source)} is no SVG drawing", name="file")
    by_id = {e.attributes["id"]: e for e in root.walk() if "id" in e.attributes}
    rules = [rule for e in root.walk() if e.name == "style" for rule in read_rules(e.text)]
    reader = _Reader(source, by_id, rules, font)
    matrix, frame, mm_per_unit = _page(root)
    _read_children(reader, root, matrix, styled(Style(), root, rules), ())
    return Drawing(tuple(reader.shapes), frame, mm_per_unit, tuple(reader.findings))


def _length(text: str | None) -> tuple[float, str] | None:
    match = _LENGTH.fullmatch(text or "")
    return None if match is None else (float(match[1]), match[2].lower())


def _page(
    root: Element,
) -> tuple[FloatArray, tuple[float, float, float, float] | None, float | None]:
    """Return the matrix to units with y up, the page, and how large a unit is."""
    sizes = [_length(root.attributes.get(name)) for name in ("width", "height")]
    mm = [
        size[0] * MM_PER_UNIT[size[1]] if size is not None and size[1] in MM_PER_UNIT else None
        for size in sizes
    ]
    view = _numbers(root.attributes.get("viewBox", ""))
    if len(view) != 4 or view[2] <= 0 or view[3] <= 0:
        plain = [size[0] if size is not None and size[1] != "%" else 0.0 for size in sizes]
        view = [0.0, 0.0, *plain]
        if min(plain) <= 0:
            return np.diag([1.0, -1.0, 1.0]), None, None
        # Without a viewBox a unit is a CSS pixel, 1/96 in, where the page has a size in inches.
        if mm[0] is not None and mm[1] is not None:
            view = [0.0, 0.0, mm[0] / 25.4 * 96, mm[1] / 25.4 * 96]
    x, y, width, height = view
    matrix = np.array([[1.0, 0, -x], [0, -1.0, y + height], [0, 0, 1]])
    frame = (0.0, 0.0, width, height)
    scales = [m / v for m, v in zip(mm, (width, height), strict=True) if m is not None]
    # The page keeps its proportions inside its size (xMidYMid meet).
    return matrix, frame, min(scales) if scales and min(scales) > 0 else None


def _numbers(text: str) -> list[float]:
    try:
        numbers = [float(part) for part in re.split(r"[\s,]+", text.strip()) if part]
    except ValueError:
        return []
    return numbers if np.isfinite(numbers).all() else []


def _read_children(
    reader: _Reader, element: Element, matrix: FloatArray, style: Style, path: tuple[str, ...]
) -> None:
    for child in element.children:
        _read(reader, child, matrix, style, path)


def _read(
    reader: _Reader, element: Element, matrix: FloatArray, style: Style, path: tuple[str, ...]
) -> None:
    """Read one element and all below it."""
    if element.name in NOT_USED:
        reader.note(NOT_USED[element.name], matrix)
        return
    if element.name not in SHAPES | GROUPS | {"text"}:
        if element.name not in SILENT:
            reader.note(f"{element.name} is not known and is left out")
        return
    try:
        matrix = matrix @ read_transform(element.attributes.get("transform", ""))
    except PathError as why:
        reader.note(f"{_name(element)}: {why}; it is left out", matrix)
        return
    own = styled(style, element, reader.rules)
    if own.hidden:
        return
    if own.clipped and element.name not in SHAPES:
        reader.note(f"{_name(element)} is clipped or masked; the clip is not applied")
    if element.name == "text":
        _read_text(reader, element, matrix, own)
    elif element.name == "use":
        _read_use(reader, element, matrix, own, path)
    elif element.name in GROUPS:
        _read_children(reader, element, _inner_page(element, matrix), own, path)
    else:
        _read_shape(reader, element, matrix, own)


def _read_text(reader: _Reader, element: Element, matrix: FloatArray, style: Style) -> None:
    """Draw a text with the font, or say where it is and how it becomes outlines."""
    from img2pour.compose.svg_text import draw_text, place_of, words_of

    words, at = words_of(element), place_of(element, matrix)
    if reader.font is None:
        reader.findings.append(
            DrawingFinding(
                f"the text {words} is left out; name a font file to draw it with (font = "
                '"name.ttf" of this [[art]]), or turn it into paths in the drawing program',
                at,
            )
        )
        return
    runs, missing = draw_text(element, matrix, style, reader.style, reader.font)
    for run in runs:
        reader.shapes.append(DrawnShape(run.pen, run.hex, f"text {words}", "nonzero", True))
    reader.findings += [DrawingFinding(f"the text {words}: {why}", at) for why in missing]


def _inner_page(element: Element, matrix: FloatArray) -> FloatArray:
    """Return the matrix inside an svg element inside the drawing."""
    if element.name != "svg":
        return matrix
    sizes = [_length(element.attributes.get(name)) for name in ("x", "y", "width", "height")]
    x, y, width, height = (0.0 if size is None else size[0] for size in sizes)
    view = _numbers(element.attributes.get("viewBox", ""))
    moved = np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])
    if len(view) == 4 and min(view[2:]) > 0 and min(width, height) > 0:
        scale = min(width / view[2], height / view[3])
        u = (width - scale * view[2]) / 2 - scale * view[0]
        v = (height - scale * view[3]) / 2 - scale * view[1]
        moved = moved @ np.array([[scale, 0, u], [0, scale, v], [0, 0, 1.0]])
    made: FloatArray = matrix @ moved
    return made


def _read_use(
    reader: _Reader, element: Element, matrix: FloatArray, style: Style, path: tuple[str, ...]
) -> None:
    """Read what a use element points at, inside this file only and never itself."""
    link = element.attributes.get("href", "")
    target = reader.by_id.get(link[1:]) if link.startswith("#") else None
    reader.uses += 1
    if target is None:
        reader.note(f"{quoted(link)} lies outside of the drawing or is missing; it is left out")
        return
    if link in path or reader.uses > MOST_USES:
        raise SettingsError(
            f"the drawing {quoted(reader.source)} uses {quoted(link)} inside itself, or uses too "
            "much; save it again with its copies as outlines",
            name="file",
        )
    x, y = (_length(element.attributes.get(name)) or (0.0, "") for name in ("x", "y"))
    matrix = matrix @ np.array([[1, 0, x[0]], [0, 1, y[0]], [0, 0, 1.0]])
    if target.name == "symbol":
        _read_children(reader, target, matrix, styled(style, target, reader.rules), (*path, link))
    else:
        _read(reader, target, matrix, style, (*path, link))


def _read_shape(reader: _Reader, element: Element, matrix: FloatArray, style: Style) -> None:
    pen = Pen()
    why = ""
    try:
        _draw(element, PlacedPen(pen, matrix))
    except PathError as fault:
        why = f": {fault}; what came before it is used"
    if style.fill is None:
        why = " has no fill and is left out; turn its stroke into an outline"
    elif style.fill_note and not why:
        why = f": {style.fill_note}"
    if why:
        reader.findings.append(DrawingFinding(f"{_name(element)}{why}", pen.first))
    if style.clipped:
        why = f"{_name(element)} is clipped or masked; the clip is not applied"
        reader.findings.append(DrawingFinding(why, pen.first))
    if style.fill is not None:
        rule: Rule = "evenodd" if style.rule == "evenodd" else "nonzero"
        reader.shapes.append(DrawnShape(pen, style.fill, _name(element), rule, fills_open=True))


def _name(element: Element) -> str:
    identity = element.attributes.get("id")
    return f"{element.name} {quoted(identity)}" if identity else element.name


def _draw(element: Element, pen: PlacedPen) -> None:
    attributes = element.attributes
    if element.name == "path":
        draw_path(attributes.get("d", ""), pen)
    elif element.name in {"polygon", "polyline"}:
        numbers = _numbers(attributes.get("points", ""))
        for k in range(0, len(numbers) - 1, 2):
            (pen.line if k else pen.move)((numbers[k], numbers[k + 1]))
        if element.name == "polygon" and len(numbers) > 2:
            pen.close()
    elif element.name == "rect":
        _draw_rect(attributes, pen)
    else:
        _draw_round(attributes, pen)


def _value(attributes: dict[str, str], name: str) -> float:
    found = _length(attributes.get(name))
    if found is None or found[1] in {"", "px"}:
        return 0.0 if found is None else found[0]
    if found[1] in MM_PER_UNIT:
        return found[0] * MM_PER_UNIT[found[1]] / 25.4 * 96
    raise PathError(f"{name} is {attributes[name]!r}, which has no fixed size")


def _draw_rect(attributes: dict[str, str], pen: PlacedPen) -> None:
    x, y, width, height = (_value(attributes, name) for name in ("x", "y", "width", "height"))
    given = [_value(attributes, name) if name in attributes else None for name in ("rx", "ry")]
    rx, ry = (own if own is not None else other or 0.0 for own, other in (given, given[::-1]))
    rx, ry = min(abs(rx), width / 2), min(abs(ry), height / 2)
    if width <= 0 or height <= 0:
        return
    pen.move((x + rx, y))
    for (u, v), (p, q) in (
        ((x + width - rx, y), (x + width, y + ry)),
        ((x + width, y + height - ry), (x + width - rx, y + height)),
        ((x + rx, y + height), (x, y + height - ry)),
        ((x, y + ry), (x + rx, y)),
    ):
        pen.line((u, v))
        pen.ellipse((rx, ry), 0.0, (False, True), (p, q))
    pen.close()


def _draw_round(attributes: dict[str, str], pen: PlacedPen) -> None:
    x, y = _value(attributes, "cx"), _value(attributes, "cy")
    names = ("r", "r") if "r" in attributes else ("rx", "ry")
    rx, ry = (_value(attributes, name) for name in names)
    if rx <= 0 or ry <= 0:
        return
    pen.move((x - rx, y))
    pen.ellipse((rx, ry), 0.0, (False, True), (x + rx, y))
    pen.ellipse((rx, ry), 0.0, (False, True), (x - rx, y))
    pen.close()
