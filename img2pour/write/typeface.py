"""Typefaces of the printed pages: the built-in one, and an embedded one for other alphabets.

Latin text of western Europe needs nothing embedded. Text with other Latin letters, Greek, Cyrillic
or Georgian is set in FiraGO (SIL Open Font License), of which only the letters used are embedded.
What neither shows, or shows only when letters are joined or run from the right, is spelt in Latin
letters.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Iterable
from functools import cache
from typing import Any

from img2pour.write.text import one_line

BUILT_IN = ("Helvetica", "Helvetica-Bold")
EMBEDDED = ("FiraGO", "FiraGO-Bold")

ALPHABETS = ("LATIN ", "GREEK ", "CYRILLIC ", "GEORGIAN ")
"""Set letter by letter, from the left; the letters' Unicode names begin so."""

SPELT_NOTE = (
    "Names in letters that these pages cannot show are spelt in Latin ones; report.html shows them "
    "as they are."
)


def printable(text: str) -> str:
    """Return text on one line as the pages can show it."""
    line = unicodedata.normalize("NFC", one_line(text))
    if _is_built_in(line):
        return line
    from anyascii import anyascii

    known = _known_letters()
    spelt = (c if ord(c) in known and _stands_alone(c) else anyascii(c) for c in line)
    return " ".join("".join(spelt).split())


def is_spelt(texts: Iterable[str]) -> bool:
    """Tell whether any of the texts has letters that are spelt in others."""
    return any(printable(text) != unicodedata.normalize("NFC", one_line(text)) for text in texts)


def face_of(line: str, *, bold: bool = False) -> str:
    """Return the name of the typeface that shows a printable line."""
    if _is_built_in(line):
        return BUILT_IN[bold]
    _known_letters()
    return EMBEDDED[bold]


def _is_built_in(line: str) -> bool:
    try:
        line.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


def _stands_alone(character: str) -> bool:
    """Tell whether a character is shown right without looking at those beside it."""
    category = unicodedata.category(character)
    if category[0] == "L":
        return unicodedata.name(character, "").startswith(ALPHABETS)
    is_left_to_right = unicodedata.bidirectional(character) not in ("R", "AL", "AN")
    return category[0] in "NPSZ" and is_left_to_right


@cache
def _known_letters() -> frozenset[int]:
    """Make the embedded typeface known to the writer of PDF; return what both its weights show."""
    from pymupdf_fonts import FiraGO_Bold, FiraGO_Regular
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    shown = []
    for name, font in zip(EMBEDDED, (FiraGO_Regular, FiraGO_Bold), strict=True):
        face: Any = TTFont(name, io.BytesIO(font.fontbuffer))
        registerFont(face)
        shown.append(frozenset(face.face.charToGlyph))
    return shown[0] & shown[1]
