"""``report.html``: the whole work sheet in one file that needs no network."""

from __future__ import annotations

import base64
from functools import cache
from typing import TYPE_CHECKING

from img2pour.units import format_area, format_length
from img2pour.write import words
from img2pour.write.chart import chart_svg
from img2pour.write.section import section_svg
from img2pour.write.sheet import Sheet
from img2pour.write.shrink import fit_pictures
from img2pour.write.text import without_turns
from img2pour.write.values import Picture

if TYPE_CHECKING:
    from jinja2 import Environment

MOST_BYTES = 5_000_000
"""Greatest size of the file: it goes by mail, and a phone opens it."""

TEXT_BYTES = 900_000
"""Room kept for everything that is no picture."""

MOST_LINES = 150
"""Lines of a list on the page; all of them are in ``report.json``."""

MOST_SPOTS = 20
"""Places without a number that are listed."""

SECTION_TIMES = 3.0
"""How much the heights of cuts are stretched: a board is thin."""

ROLE_WORDS = {"pour": "poured", "wood": "bare wood", "outside": "not part of it"}
_FORMATS = (
    words.plain,
    words.grams,
    words.millilitres,
    words.fluid_ounces,
    words.ounce_marks,
    words.hours,
    words.days,
    words.money,
    words.percent,
    words.ratio,
    words.size,
    words.place,
    words.span,
    words.gap,
    words.rule_figure,
    words.lost,
)


def report_html(sheet: Sheet) -> bytes:
    """Return the work sheet as one HTML file, at most `MOST_BYTES` long.

    Text from people is escaped wherever it stands.
    """
    from markupsafe import Markup

    pours = sheet.pours
    fitted = fit_pictures(sheet, (MOST_BYTES - TEXT_BYTES) * 3 // 4)  # base64: 4 bytes for 3
    page = page_environment().get_template("report.html.jinja")
    names = {stage.number: stage.name for stage in pours.stages} if pours else {}
    text = page.render(
        s=fitted,
        p=fitted.pours,
        pocket_ml=sum(colour.volume_ml or 0.0 for colour in sheet.colours),
        chart=Markup(chart_svg(pours.schedule.steps, names)) if pours else "",
        notes_before=_notes_before(sheet),
        sections=[
            (
                section.title,
                Markup(section_svg(section, height_times=SECTION_TIMES, caption=False)),
            )
            for section in sheet.sections
        ],
        section_times=words.plain(SECTION_TIMES),
        most_lines=MOST_LINES,
        most_spots=MOST_SPOTS,
        role_words=ROLE_WORDS,
    )
    return text.encode()


def _notes_before(sheet: Sheet) -> list[frozenset[str]]:
    """Return, for each step of the schedule, the notes that steps before it gave already."""
    notes = [row.note for row in sheet.pours.schedule.steps] if sheet.pours else []
    return [frozenset(notes[:index]) for index in range(len(notes))]


@cache
def page_environment() -> Environment:
    """Return what fills in the pages, with the words and formats that they use."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("img2pour.write", "page"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.globals.update({form.__name__: form for form in _FORMATS})
    environment.globals.update({"length": format_length, "area": format_area})
    environment.filters.update({"data_uri": data_uri, "sentence": sentence})
    environment.tests["colour_code"] = words.is_colour_code
    return environment


def _plain(value: object) -> object:
    """Return what the page prints: text without marks that would turn the figures beside it."""
    return without_turns(value) if type(value) is str else value


def data_uri(picture: Picture) -> str:
    """Return a PNG as an address that holds its bytes."""
    return "data:image/png;base64," + base64.b64encode(picture.data).decode("ascii")


def sentence(text: str) -> str:
    """Return words as a sentence: a capital first, a stop at the end."""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")
