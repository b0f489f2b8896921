"""How SVG elements are filled: attributes, style attributes and simple style sheets."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from PIL import ImageColor

from img2pour.compose.safe_xml import Element

BLACK = "#000000"
_RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_SELECTOR = re.compile(r"([a-zA-Z*][\w-]*)?((?:[.#][\w-]+)*)")
_LENGTH = re.compile(
    r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*([a-zA-Z%]*)\s*"
)
_INHERITED = (
    *("fill", "fill-rule", "color", "visibility", "fill-opacity"),
    *("font-size", "text-anchor", "letter-spacing", "white-space"),
)
PX_PER_UNIT = {
    "": 1.0,
    "px": 1.0,
    "mm": 96 / 25.4,
    "cm": 96 / 2.54,
    "q": 96 / 101.6,
    "in": 96.0,
    "pt": 96 / 72,
    "pc": 16.0,
}
"""Absolute lengths in the units of a drawing (CSS Values 3, section 6.2)."""
_OWN = ("display", "opacity", "clip-path", "mask")


@dataclass(frozen=True)
class Style:
    """What counts of an element's style.

    Attributes
    ----------
    fill : str or None
        ``#rrggbb``, or None where it is not filled.
    fill_note : str
        What is said about a fill that is no plain colour.
    rule : str
    colour : str
        What ``currentColor`` means.
    hidden : bool
    clipped : bool
    invisible : bool
    font_size, letter_spacing : float
        Of text, in the drawing's units.
    anchor : str
        Which part of a text stands at its place: "start", "middle" or "end".
    keeps_spaces : bool
        True where spaces of a text count as they are.
    """

    fill: str | None = BLACK
    fill_note: str = ""
    rule: str = "nonzero"
    colour: str = BLACK
    hidden: bool = False
    clipped: bool = False
    invisible: bool = False
    font_size: float = 16.0
    letter_spacing: float = 0.0
    anchor: str = "start"
    keeps_spaces: bool = False


def read_rules(text: str) -> list[tuple[str, dict[str, str]]]:
    """Return the rules of a style sheet: one simple selector and its declarations each."""
    found = []
    for selectors, body in _RULE.findall(_COMMENT.sub("", text)):
        for selector in selectors.split(","):
            found.append((selector.strip(), _declarations(body)))
    return found


def _declarations(body: str) -> dict[str, str]:
    made = {}
    for part in body.split(";"):
        name, colon, value = part.partition(":")
        if colon:
            made[name.strip().lower()] = value.replace("!important", "").strip()
    return made


def _fits(selector: str, element: Element) -> bool:
    """Return whether a simple selector (a name, classes, an id) fits an element."""
    match = _SELECTOR.fullmatch(selector)
    if match is None or not selector:
        return False
    if match[1] not in {None, "*", element.name}:
        return False
    classes = element.attributes.get("class", "").split()
    for mark in re.findall(r"[.#][\w-]+", match[2]):
        known = classes if mark[0] == "." else [element.attributes.get("id", "")]
        if mark[1:] not in known:
            return False
    return True


def styled(parent: Style, element: Element, rules: list[tuple[str, dict[str, str]]]) -> Style:
    """Return the style of an element: its parent's, its attributes, style sheets, its own style."""
    given = {k: v for k, v in element.attributes.items() if k in (*_INHERITED, *_OWN)}
    for selector, declarations in sorted(rules, key=lambda rule: _weight(rule[0])):
        if _fits(selector, element):
            given.update(declarations)
    given.update(_declarations(element.attributes.get("style", "")))
    made = replace(parent, hidden=False, clipped=False)
    colour = given.get("color", "inherit")
    if colour not in {"inherit", "currentColor"}:
        made = replace(made, colour=_hex(colour) or BLACK)
    if given.get("fill", "inherit") != "inherit":
        made = _filled(made, given["fill"])
    if _is_zero(given.get("fill-opacity", "1")):
        made = replace(made, fill=None)
    if given.get("fill-rule") in {"evenodd", "nonzero"}:
        made = replace(made, rule=given["fill-rule"])
    hidden = given.get("display") == "none" or _is_zero(given.get("opacity", "1"))
    if given.get("visibility") in {"hidden", "collapse", "visible"}:
        made = replace(made, invisible=given["visibility"] != "visible")
    if made.invisible and not element.children:
        hidden = True
    clipped = any(given.get(name, "none") != "none" for name in ("clip-path", "mask"))
    return _lettered(replace(made, hidden=hidden, clipped=clipped), given, element)


def _lettered(style: Style, given: dict[str, str], element: Element) -> Style:
    """Return a style with what is given of its letters."""
    size = length_px(given.get("font-size"), style.font_size)
    if size is not None and size > 0:
        style = replace(style, font_size=size)
    spacing = length_px(given.get("letter-spacing"), style.font_size)
    if spacing is not None:
        style = replace(style, letter_spacing=spacing)
    if given.get("text-anchor") in {"start", "middle", "end"}:
        style = replace(style, anchor=given["text-anchor"])
    kept = given.get("white-space", element.attributes.get("space", ""))
    if kept in {"pre", "pre-wrap", "break-spaces", "preserve", "default", "normal"}:
        style = replace(style, keeps_spaces=kept not in {"default", "normal"})
    return style


def length_px(text: str | None, em: float = 16.0) -> float | None:
    """Return a length in the drawing's units, None where it is none; % counts of `em`."""
    match = _LENGTH.fullmatch(text or "")
    if match is None:
        return None
    value, unit = float(match[1]), match[2].lower()
    if unit in {"em", "%"}:
        value *= em / (100 if unit == "%" else 1)
    elif unit in PX_PER_UNIT:
        value *= PX_PER_UNIT[unit]
    else:
        return None
    return value if math.isfinite(value) else None


def _weight(selector: str) -> tuple[int, int]:
    return selector.count("#"), selector.count(".")


def _is_zero(text: str) -> bool:
    try:
        return float(text.rstrip("%")) == 0
    except ValueError:
        return False


def _filled(style: Style, text: str) -> Style:
    if text in {"none", "transparent"}:
        return replace(style, fill=None, fill_note="")
    if text == "currentColor":
        return replace(style, fill=style.colour, fill_note="")
    if text.startswith("url("):
        after = _hex(text.partition(")")[2].strip()) or BLACK
        note = f"it is filled with a gradient or pattern; {after} is taken instead"
        return replace(style, fill=after, fill_note=note)
    known = _hex(text)
    note = "" if known else f"the colour {text[:40]!r} is not known; black is taken instead"
    return replace(style, fill=known or BLACK, fill_note=note)


def _hex(text: str) -> str | None:
    """Return a CSS colour as ``#rrggbb``, or None."""
    try:
        red, green, blue = ImageColor.getrgb(text.strip())[:3]
    except ValueError:
        return None
    return f"#{red:02x}{green:02x}{blue:02x}"
