"""How far the work has come, and whether it shall go on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from img2pour.errors import CancelledError


def _silent(step: str, share: float) -> None:
    """Report to nobody."""


def _never() -> bool:
    return False


@dataclass(frozen=True)
class Progress:
    """One value that goes along with the work: it reports, and raises when cancelled.

    Attributes
    ----------
    report : callable
        Called with the step's name and the share of the whole that is done, 0 to 1.
    is_cancelled : callable
        Asked before each report; True stops the work.
    """

    report: Callable[[str, float], None] = field(default=_silent)
    is_cancelled: Callable[[], bool] = field(default=_never)

    def at(self, step: str, share: float) -> None:
        """Report that `step` begins with `share` (0 to 1) of the whole done.

        Raises
        ------
        CancelledError
            When the caller asked to stop.
        """
        if self.is_cancelled():
            raise CancelledError(f"stopped before the step '{step}'")
        self.report(step, share)
