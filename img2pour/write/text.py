"""Text from people, made fit for files: no name can change the meaning of what is written."""

from __future__ import annotations

import re

_UNFIT = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")
_TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_FORMULA_STARTS = "=+-@\uff1d\uff0b\uff0d\uff20"
_MARKUP = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})


def one_line(text: str) -> str:
    """Return `text` on one line, without control characters and broken surrogates."""
    return " ".join(_UNFIT.sub(" ", without_turns(text)).split())


def without_turns(text: str) -> str:
    """Return `text` without the marks that turn the direction of reading.

    In a name they would turn the figures that follow it.
    """
    return _TURNING.sub("", text)


def xml_text(text: str) -> str:
    """Return `text` for use between tags or in an attribute in double quotes."""
    return one_line(text).translate(_MARKUP)


def cell_text(text: str) -> str:
    """Return `text` for a cell of a table that a spreadsheet may open.

    What a spreadsheet would take for a formula gets an apostrophe in front, the sign for text.
    """
    line = one_line(text)
    return f"'{line}" if line[:1] and line[0] in _FORMULA_STARTS else line
