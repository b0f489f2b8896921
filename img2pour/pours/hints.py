"""What another stage would win: small places that are lost only because they come late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.contacts import Contacts, find_contacts
from img2pour.pours.look import Look
from img2pour.pours.pour import Pour
from img2pour.pours.stages import Stage

LOST_SHARE = 0.5  # of a region, from which on it counts as lost
EDGE_SHARE = 0.9  # of a region's outline that earlier pours must bound


@dataclass(frozen=True)
class StageHint:
    """Lost regions of one pour that would stand if they were poured before their surroundings.

    Attributes
    ----------
    pour : str
        Whose regions are lost.
    before : tuple of str
        The pours they would have to come before.
    regions : int
    area_mm2 : float
        What would be kept.
    largest_mm2 : float
        Of the lost regions: a rule for all below this size catches them.
    words : str
    """

    pour: str
    before: tuple[str, ...]
    regions: int
    area_mm2: float
    largest_mm2: float
    words: str


def stage_hints(
    pours: Sequence[Pour], stages: Sequence[Stage], look: Look
) -> tuple[StageHint, ...]:
    """Return which pours would keep more if their small regions had an early stage of their own.

    A small region that is poured early, underlap and all, is wide enough for the bit; what is
    carved around it later leaves it standing.

    Parameters
    ----------
    pours : sequence of Pour
    stages : sequence of Stage
    look : Look
        After the last stage.
    """
    when = {pocket.pour: at for at, stage in enumerate(stages) for pocket in stage.pockets}
    moment = np.array([when[pour.name] for pour in pours], dtype=np.int64)
    contacts = find_contacts([pour.shape for pour in pours])
    hints = []
    for index, pour in enumerate(pours):
        lost = _lost_regions(pour, index, contacts, look)
        hint = _hint(pour.name, lost, index, contacts, moment, [p.name for p in pours])
        if hint is not None:
            hints.append(hint)
    return tuple(hints)


def _lost_regions(pour: Pour, index: int, contacts: Contacts, look: Look) -> NDArray[np.bool_]:
    """Return which of all polygons belong to this pour and are lost, (P,)."""
    own = np.flatnonzero(contacts.owner == index)
    regions = np.array([contacts.parts[i] for i in own], dtype=object)
    shown = look.shape(pour.name)
    kept = shapely.area(shapely.intersection(regions, shown))
    lost = np.zeros(len(contacts.owner), dtype=bool)
    lost[own] = kept < LOST_SHARE * shapely.area(regions)
    return lost


def _hint(
    name: str,
    lost: NDArray[np.bool_],
    index: int,
    contacts: Contacts,
    moment: NDArray[np.int64],
    names: Sequence[str],
) -> StageHint | None:
    of_lost = (contacts.shape == index) & lost[contacts.part]
    early = of_lost & (moment[contacts.other] < moment[index])
    length = contacts.length_mm
    beside = np.bincount(contacts.part[early], length[early], minlength=len(lost))
    around = np.array([part.length for part in contacts.parts])
    standing = lost & (beside > EDGE_SHARE * around)
    if not standing.any():
        return None
    segments = early & standing[contacts.part]
    before = tuple(names[i] for i in np.unique(contacts.other[segments]))
    areas = np.array([part.area for part in contacts.parts])[standing]
    words = (
        f"{len(areas)} small regions of {name} ({areas.sum():.0f} mm2, none above "
        f"{areas.max():.1f} mm2) are lost because they come after {' and '.join(before)}: as a "
        "pour of their own before that they would be left standing; it takes one more stage"
    )
    return StageHint(name, before, len(areas), float(areas.sum()), float(areas.max()), words)
