"""Stages that are poured already: what they hold, and what changed since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from img2pour.errors import SettingsError
from img2pour.pours.plan import plan_pours
from img2pour.pours.plan_values import PlanSettings, Tools
from img2pour.pours.stages import CLEAR
from img2pour.units import quoted

if TYPE_CHECKING:
    import shapely

    from img2pour.job.model import Job
    from img2pour.pours.roles import Layout


@dataclass(frozen=True)
class Done:
    """What is done.

    Attributes
    ----------
    kept : tuple of tuple of str
        Names of the pours of each stage, the seal's too.
    pours : tuple of tuple of str
        The same without the seal.
    added : tuple of str
        Pours decided on since.
    notes : tuple of str
        What to know where roles changed since.
    """

    kept: tuple[tuple[str, ...], ...] = ()
    pours: tuple[tuple[str, ...], ...] = ()
    added: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def find_done(
    job: Job, layout: Layout, board: shapely.Polygon, tools: Tools, settings: PlanSettings
) -> Done:
    """Return what is done, as the job's stages have it, or else as planned today.

    Raises
    ------
    SettingsError
        When there are not so many stages, or nothing is a pour of a done stage any more.
    """
    count = job.pours.done
    if not count:
        return Done()
    planned = job.pours.stages or _stages_today(layout, board, tools, settings)
    if len(planned) < count:
        raise SettingsError(
            f"{count} stages are said to be done, but the plan has only {len(planned)}",
            name="pours.done",
            value=count,
        )
    kept = planned[:count]
    names = [pour.name for pour in layout.pours]
    _check_still_poured(kept, names)
    before = {name for stage in planned for name in stage}
    added = tuple(name for name in names if name not in before)
    gone = tuple(name for stage in planned[count:] for name in stage if name not in names)
    pours = tuple(stage for stage in kept if stage != (CLEAR,))
    return Done(kept, pours, added, _done_notes(added, gone, sealed=(CLEAR,) in kept))


def _stages_today(
    layout: Layout, board: shapely.Polygon, tools: Tools, settings: PlanSettings
) -> tuple[tuple[str, ...], ...]:
    """Return the stages as the plan has them without any done."""
    fresh = replace(settings, done=0, stage=replace(settings.stage, done=0))
    stages = plan_pours(layout, board, tools, fresh).stages
    return tuple(tuple(pocket.pour for pocket in stage.pockets) for stage in stages)


def _check_still_poured(kept: tuple[tuple[str, ...], ...], names: Sequence[str]) -> None:
    for number, stage in enumerate(kept, 1):
        for name in stage:
            if name not in names and name != CLEAR:
                raise SettingsError(
                    f"{quoted(name)} is in stage {number}, which is done, but nothing is a pour of "
                    "that name now; give its regions back, or set done lower",
                    name="pours.stages",
                    value=name,
                )


def _done_notes(added: Sequence[str], gone: Sequence[str], *, sealed: bool) -> tuple[str, ...]:
    """Return what to know about stages that are done when roles changed since."""
    notes = []
    if gone:
        notes.append(
            f"{', '.join(gone)} was to be poured over stages that are done and is no pour now: "
            "what they were carried under it shows there"
        )
    if sealed and (added or gone):
        notes.append(
            "the seal is done, and pours changed since: edges with wood that are new are not "
            "sealed; brush them before you pour"
        )
    return tuple(notes)
