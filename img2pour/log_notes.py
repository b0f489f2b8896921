"""The job's log beside its plan: what was planned for the pours that are noted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from img2pour.errors import SettingsError
from img2pour.job.pour_sections import LogNote
from img2pour.pours.journal import LogEntry, log_entry
from img2pour.units import quoted

if TYPE_CHECKING:
    from img2pour.pours.mixes import Mix
    from img2pour.pours.plan_values import PourPlan


def completed_log(log: Sequence[LogNote], plan: PourPlan) -> tuple[LogNote, ...]:
    """Return the log with what `plan` had for each pour that is noted without it.

    Parameters
    ----------
    log : sequence of LogNote
    plan : PourPlan
        Made with the job's own waste and soak, before any log.

    Raises
    ------
    SettingsError
        When a note names no pour of the plan.
    """
    mixes = {mix.pour: mix for mix in all_mixes(plan)}
    return tuple(
        note if note.is_complete else _completed(number, note, mixes)
        for number, note in enumerate(log, 1)
    )


def all_mixes(plan: PourPlan) -> tuple[Mix, ...]:
    """Return every mix of a plan: the brushed coat's, if there is one, then the stages'."""
    coat = plan.seal.mix if plan.seal.seal.kind == "brush" else None
    mixes = tuple(mix for of_stage in plan.mixes for mix in of_stage)
    return mixes if coat is None else (coat, *mixes)


def entries_of(log: Iterable[LogNote]) -> tuple[LogEntry, ...]:
    """Return the notes that stand beside their plan, to learn from."""
    return tuple(
        LogEntry(note.pour, note.mixed_ml, note.left_ml, note.pocket_ml, note.allowed_ml)
        for note in log
        if note.pocket_ml is not None and note.allowed_ml is not None
    )


def _completed(number: int, note: LogNote, mixes: dict[str, Mix]) -> LogNote:
    if note.pour not in mixes:
        raise SettingsError(
            f"log {number}: there is no pour {quoted(note.pour)}; there are: {', '.join(mixes)}",
            name="log.pour",
            value=note.pour,
        )
    entry = log_entry(mixes[note.pour], note.mixed_ml, note.left_ml)
    planned = {
        "pocket_ml": round(entry.pocket_ml, 3),
        "allowed_ml": round(entry.allowed_ml, 3),
    }
    return note.model_copy(update=planned)
