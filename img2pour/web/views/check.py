"""The verdict for the page: its word, the numbered places, the advice, other widths."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from img2pour.advising import offers_of, width_changes
from img2pour.units import format_length
from img2pour.web.views.design import seen_from
from img2pour.write.make_sheet import PLACE_WORDS

if TYPE_CHECKING:
    from img2pour.results import Result


def check_view(result: Result) -> dict[str, Any]:
    """Return the verdict; it must have been asked for."""
    assert result.verdict is not None
    data, job, board = result.report["verdict"], result.job, result.board
    seen = seen_from(job, board.width_mm, board.height_mm)
    return {
        "word": data["word"],
        "accepted": data["accepted"],
        "lost_percent": data["lost_percent"],
        "colours": data["colours"],
        "places": [
            {
                **row,
                "kind": mark.kind,
                "xy": seen.xy(row["at_mm"]),
                "words": PLACE_WORDS.get(mark.kind, mark.kind),
                "width_text": format_length(mark.size_mm, seen.units),
            }
            for mark, row in zip(result.marks, data["places"], strict=True)
        ],
        "advice": [
            {
                "words": offer.words,
                "button": offer.button or None,
                "changes": [{"path": path, "value": value} for path, value in offer.changes],
            }
            for offer in offers_of(result.verdict, job, board)
        ],
        "ladder": [
            {
                **row,
                "width_text": format_length(row["width_mm"], seen.units).partition(" (")[0],
                "changes": [
                    {"path": path, "value": value}
                    for path, value in width_changes(row["width_mm"], job, board)
                ],
            }
            for row in data["ladder"]
        ],
    }


def work_view(result: Result) -> dict[str, Any]:
    """Return what each bit does in the pockets of each colour."""
    return {"rows": result.report["work"]}
