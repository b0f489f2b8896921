"""Every place of a report with the piece that it lies on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from img2pour.laid import Laid

PLACED = ("removed", "changes", "edges", "verdict", "plan")
"""Parts of the report that tell places on the board."""


def name_pieces(report: dict[str, Any], laid: Laid, zero_mm: tuple[float, float]) -> None:
    """Put ``piece`` beside every ``at_mm`` of what was found.

    Parameters
    ----------
    report : dict
        Changed in place.
    laid : Laid
        The board with its pieces.
    zero_mm : (x, y)
        The point of the board from which the report measures.
    """
    rows = [row for part in PLACED for row in _placed(report.get(part))]
    spots = [(row["at_mm"][0] + zero_mm[0], row["at_mm"][1] + zero_mm[1]) for row in rows]
    for row, piece in zip(rows, laid.pieces_at(spots), strict=True):
        row["piece"] = piece


def _placed(part: Any) -> Iterator[dict[str, Any]]:
    """Yield all rows with a place, however deep."""
    if isinstance(part, dict):
        if part.get("at_mm") is not None:
            yield part
        for value in part.values():
            yield from _placed(value)
    elif isinstance(part, (list, tuple)):
        for value in part:
            yield from _placed(value)
