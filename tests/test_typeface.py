"""Names in many alphabets on the printed pages, read back by an independent reader of PDF."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium
import pytest

from img2pour.write.cards import report_pdf
from img2pour.write.lettering import Words, letter, width_of
from img2pour.write.template import template_pdf
from img2pour.write.typeface import SPELT_NOTE, face_of, is_spelt, printable
from tests.sheets import full_sheet


@pytest.mark.parametrize(
    ("text", "shown", "face"),
    [
        ("naïve Ærø – 1/2 €", "naïve Ærø – 1/2 €", "Helvetica"),
        ("žluťoučký kůň", "žluťoučký kůň", "FiraGO"),
        ("z\u030c", "ž", "Helvetica"),  # put together: one letter
        ("Łódź, İstanbul, ő", "Łódź, İstanbul, ő", "FiraGO"),
        ("Tiếng Việt", "Tiếng Việt", "FiraGO"),
        ("Γλαύκα", "Γλαύκα", "FiraGO"),
        ("Синий зимородок", "Синий зимородок", "FiraGO"),
        ("საქართველო", "საქართველო", "FiraGO"),
        ("深海", "ShenHai", "Helvetica"),
        ("שלום", "slvm", "Helvetica"),  # runs from the right
        ("नीला", "nila", "Helvetica"),  # letters join
        ("a\u202eb\u2066c", "abc", "Helvetica"),
    ],
)
def test_what_can_be_shown_is_shown_and_the_rest_is_spelt(text: str, shown: str, face: str) -> None:
    assert printable(text) == shown
    assert face_of(shown) == face
    assert face_of(shown, bold=True) == f"{face}-Bold"


def test_spelling_is_told_apart_from_tidying() -> None:
    assert is_spelt(["sea", "深海"])
    assert not is_spelt(["Синий", "z\u030c", " two  spaces "])


@pytest.mark.parametrize("write", [report_pdf, template_pdf])
def test_names_are_read_back_by_another_program(write: object) -> None:
    assert callable(write)
    pages = pages_of(write(replace(full_sheet(), title="Синий Γλαύκα kůň")))
    assert "Синий Γλαύκα kůň" in pages[0]
    assert SPELT_NOTE not in pages[0].replace("\n", " ")
    spelt = pages_of(write(replace(full_sheet(), title="深海")))
    assert "ShenHai" in spelt[0]
    assert SPELT_NOTE in spelt[0].replace("\n", " ")


def test_only_the_letters_used_are_embedded() -> None:
    plain = len(report_pdf(full_sheet()))
    greek = len(report_pdf(replace(full_sheet(), title="Γλαύκα")))
    assert plain < greek < plain + 40_000
    assert report_pdf(full_sheet()).count(b"/FontFile2") == 0


def pages_of(data: bytes) -> list[str]:
    """Return the text of each page as the reader finds it."""
    return [
        page.get_textpage().get_text_bounded().replace("\r\n", "\n")
        for page in pdfium.PdfDocument(data)
    ]


def test_words_on_pictures_are_no_boxes() -> None:
    """Letters that a typeface lacks all look the same: as its box."""
    page = np.full((40, 60, 3), 255, dtype=np.uint8)
    drawn = [letter(page, [Words(c, 10, 20, 24)]).tobytes() for c in "яжΩδčŘ"]
    assert len(set(drawn)) == 6
    assert width_of("深", 20) == width_of(printable("深"), 20) > 0
