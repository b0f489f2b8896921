"""What the page answers when something cannot be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from img2pour.errors import Img2PourError
from img2pour.job.faults import Fault

BROKEN_WORDS = "something went wrong here that should not; the log tells more"


@dataclass(frozen=True)
class FieldFault:
    """One setting that is wrong: ``size.width``, and what to change."""

    path: str
    message: str

    @classmethod
    def of(cls, fault: Fault) -> FieldFault:
        """Return a fault of the job as the page reads it."""
        return cls(".".join(map(str, fault.path)), fault.message)


class RefusedError(Img2PourError):
    """A request that cannot be done.

    Attributes
    ----------
    status : int
        Of the answer.
    faults : tuple of FieldFault
    """

    def __init__(self, status: int, message: str, faults: Sequence[FieldFault] = ()) -> None:
        super().__init__(message)
        self.status = status
        self.faults = tuple(faults)


def refused_settings(faults: Sequence[Fault]) -> RefusedError:
    """Return the answer to settings that are wrong: all of them at once."""
    words = "; ".join(dict.fromkeys(fault.message for fault in faults))
    return RefusedError(422, words, [FieldFault.of(fault) for fault in faults])
