"""One order at the desk, and how far the work on a job has come."""

from __future__ import annotations

import asyncio
import json
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from img2pour.web.edits import Change
from img2pour.web.events import Listeners
from img2pour.web.faults import RefusedError
from img2pour.web.parts import Parts
from img2pour.web.pool import Worker
from img2pour.web.store import StoredJob

SHOWN = ("draw", "plan", "check")
"""What is worked out after each change, in this order."""

MOST_REMEMBERED = 2_000
"""Names of steps that ran, the last ones."""

RANKS = {"split": 0, "draw": 0, "plan": 1, "output": 1, "check": 2, "tryout": 3}
PHASE_WORDS = {
    "draw": "design", "plan": "plan", "check": "check", "output": "output",
    "tryout": "try-out", "split": "split",
}  # fmt: skip


@dataclass(eq=False)
class Work:
    """One order, waiting or running.

    Attributes
    ----------
    kind : str
    stored : StoredJob
    revision : int
    more : dict
        What the order says beside the job.
    answered : Future or None
        Gets the last answer, where somebody waits for it.
    """

    kind: str
    stored: StoredJob
    revision: int
    order: dict[str, Any]
    number: int
    answered: asyncio.Future[dict[str, Any]] | None = None
    heard: Callable[[dict[str, Any], bytes], None] | None = None
    token: int | None = None
    worker: Worker | None = None
    is_called_back: bool = False

    @property
    def rank(self) -> tuple[int, int]:
        """The lowest goes first."""
        return RANKS[self.kind], self.number


@dataclass(eq=False)
class Standing:
    """How far the work on one job has come."""

    stored: StoredJob
    parts: Parts
    listeners: Listeners = field(default_factory=Listeners)
    faults: dict[str, str] = field(default_factory=dict)
    ran: deque[str] = field(default_factory=lambda: deque(maxlen=MOST_REMEMBERED))

    @property
    def revision(self) -> int:
        """The present revision of the job."""
        return self.stored.state.revision

    def missing(self) -> tuple[str, ...]:
        """Return what is still to be worked out of the present revision, and has not failed."""
        here = set(self.parts.ready(self.revision))
        if "draw" in self.faults:
            return ()
        if not self.stored.job.has_size:
            return () if {"source", "preview"} <= here else ("draw",)
        wanted = {"draw": {"source", "design"}, "plan": {"plan"}, "check": {"check"}}
        return tuple(k for k in SHOWN if not wanted[k] <= here and k not in self.faults)


def with_stages(standing: Standing, changes: list[Change]) -> list[Change]:
    """Return the changes; who marks stages as done holds on to the plan that they are of.

    Raises
    ------
    RefusedError
        While that plan is still being worked out.
    """
    paths = {change.path: change.value for change in changes}
    if not paths.get("pours.done") or "pours.stages" in paths:
        return changes
    if standing.parts.get("plan", standing.revision) is None:
        raise RefusedError(409, "the plan is still being worked out; mark the stage then")
    plan = json.loads(standing.parts.read("plan"))
    return [*changes, Change("pours.stages", plan.get("kept_stages", []))]
