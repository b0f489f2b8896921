"""The log of what was mixed and left over, and how the next job follows it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from img2pour.errors import SettingsError
from img2pour.pours.mixes import Mix, MixSettings
from img2pour.units import quoted

LEAST_FACTOR = 0.5  # one lucky pour is no rule; own judgement
GREATEST_FACTOR = 2.0
LEAST_WASTE_SHARE = 0.05
SOME_ML = 1e-9


@dataclass(frozen=True)
class LogEntry:
    """One pour as it went.

    Attributes
    ----------
    pour : str
    mixed_ml : float
        Really mixed.
    left_ml : float
        That could still have been poured when the pockets were full.
    pocket_ml : float
        Planned for the pockets themselves, overfill included.
    allowed_ml : float
        Planned on top: soak and waste.
    """

    pour: str
    mixed_ml: float
    left_ml: float
    pocket_ml: float
    allowed_ml: float

    @property
    def taken_ml(self) -> float:
        """What really went beyond the pockets: into the wood, onto cup and stick."""
        return self.mixed_ml - self.left_ml - self.pocket_ml


def log_entry(mix: Mix, mixed_ml: float, left_ml: float) -> LogEntry:
    """Return the entry of one pour, beside what its mix had planned.

    Raises
    ------
    SettingsError
        When nothing was mixed, or more was left than mixed.
    """
    if not 0.0 < mixed_ml < math.inf:
        raise SettingsError(
            f"log of {quoted(mix.pour)}: mixed is {mixed_ml:g} ml; give more than 0",
            name="log",
            value=mixed_ml,
        )
    if not 0.0 <= left_ml <= mixed_ml:
        raise SettingsError(
            f"log of {quoted(mix.pour)}: {left_ml:g} ml are left of {mixed_ml:g} ml mixed; give 0 "
            f"to {mixed_ml:g}",
            name="log",
            value=left_ml,
        )
    pocket = math.fsum(batch.volume_ml + batch.overfill_ml for batch in mix.batches)
    allowed = math.fsum(batch.soak_ml + batch.waste_ml for batch in mix.batches)
    return LogEntry(mix.pour, mixed_ml, left_ml, pocket, allowed)


@dataclass(frozen=True)
class Learned:
    """Mix settings that follow the log, and what to say about it ("" when nothing changes)."""

    settings: MixSettings
    factor: float
    words: str


def learn(entries: Iterable[LogEntry], settings: MixSettings | None = None) -> Learned:
    """Let waste and soak follow what was really taken.

    What went beyond the pockets, over what was allowed for it, is the ratio; soak and waste cannot
    be told apart in a cup, so both follow it. With n pours the ratio counts n / (n + 1), and it
    never halves or doubles more than once.

    Parameters
    ----------
    entries : iterable of LogEntry
    settings : MixSettings, optional
        What the entries were planned with.
    """
    settings = settings or MixSettings()
    known: Sequence[LogEntry] = [entry for entry in entries if entry.allowed_ml > SOME_ML]
    if not known:
        return Learned(settings, 1.0, "")
    taken = math.fsum(entry.taken_ml for entry in known)
    allowed = math.fsum(entry.allowed_ml for entry in known)
    count = len(known)
    factor = 1.0 + (taken / allowed - 1.0) * count / (count + 1.0)
    factor = min(max(factor, LEAST_FACTOR), GREATEST_FACTOR)
    changed = replace(
        settings,
        soak_mm=settings.soak_mm * factor,
        waste_share=max(settings.waste_share * factor, LEAST_WASTE_SHARE),
        least_waste_ml=settings.least_waste_ml * factor,
    )
    return Learned(changed, factor, _words(count, taken, allowed, settings, changed))


def _words(
    count: int, taken: float, allowed: float, before: MixSettings, after: MixSettings
) -> str:
    pours = "1 pour" if count == 1 else f"{count} pours"
    return (
        f"after the log of {pours} ({taken:.0f} ml went beyond the pockets, {allowed:.0f} ml were "
        f"allowed): waste {before.waste_share:.1%} becomes {after.waste_share:.1%}, at least "
        f"{before.least_waste_ml:.1f} ml becomes {after.least_waste_ml:.1f} ml, soak "
        f"{before.soak_mm:.2f} mm becomes {after.soak_mm:.2f} mm"
    )
