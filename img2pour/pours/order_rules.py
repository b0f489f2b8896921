"""What an order of two pours costs, rule by rule.

Each rule gives a whole number for every pair "this one before that one"; an order's cost under a
rule is the sum over its pairs. The rules are compared one after another, never added up, and whole
numbers make the comparison exact.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.pours.contacts import Contacts, find_contacts
from img2pour.pours.geometry import (
    Geometry,
    dilate,
    filled_holes,
    inside_points,
    points_within,
    polygons_of,
    thin_part,
)
from img2pour.pours.limits import check_limits
from img2pour.pours.pour import Pour
from img2pour.pours.underlap import UNDERLAP_QUAD_SEGS, UnderlapSettings
from img2pour.units import quoted

Rule = Literal["asked", "enclosing", "lines", "dark", "edges", "resin"]
ALL_RULES: tuple[Rule, ...] = ("asked", "enclosing", "lines", "dark", "edges", "resin")
STEP_MM = 5.0  # shorter edges do not decide an order; own judgement
_LIMITS = {
    "gap_mm": (0.0, 100.0),
    "cut_width_mm": (0.0, 100.0),
    "dark_step": (0.0, 100.0),
}
RULE_WORDS: dict[Rule, str] = {
    "asked": "pours asked to be early come early",
    "enclosing": "what encloses comes before what it encloses",
    "lines": "thin lines that can be left standing are poured early",
    "dark": "dark before light",
    "edges": "least length of edge freshly cut in bare wood under a later pour",
    "resin": "least resin under later pours",
}
RULE_UNITS: dict[Rule, tuple[float, str]] = {  # one unit of cost in the unit that is shown
    "asked": (1.0, "pairs"),
    "enclosing": (0.001, "mm"),
    "lines": (0.001, "mm"),
    "dark": (1.0, "pairs"),
    "edges": (0.001, "mm"),
    "resin": (0.001, "mm2"),
}


@dataclass(frozen=True)
class OrderSettings:
    """How the order is worked out.

    Attributes
    ----------
    rules : tuple of Rule
        The most important first; a rule left out does not count.
    gap_mm : float
        Pours at least this far apart may share a stage.
    cut_width_mm : float
        The narrowest stroke that the bits cut; below it a line can only be left standing.
    early : tuple of str
        Pours asked to be early, such as lines to be left standing.
    dark_step : float
        Two pours whose CIE L* differs by less count as equally dark.
    underlap : UnderlapSettings
    """

    rules: tuple[Rule, ...] = ALL_RULES
    gap_mm: float = 3.0
    cut_width_mm: float = 0.0
    early: tuple[str, ...] = ()
    dark_step: float = 10.0
    underlap: UnderlapSettings = field(default_factory=UnderlapSettings)

    def __post_init__(self) -> None:
        """Check rules and numbers.

        Raises
        ------
        SettingsError
            When a rule is unknown or there twice, or a number is outside its limits.
        """
        check_limits(self, _LIMITS)
        for rule in self.rules:
            if rule not in ALL_RULES or self.rules.count(rule) > 1:
                fault = "is there twice" if rule in ALL_RULES else "is not known"
                raise SettingsError(
                    f"order rule {quoted(rule)} {fault}; the rules are: {', '.join(ALL_RULES)}",
                    name="rules",
                    value=rule,
                )


@dataclass(frozen=True, eq=False)
class PairCosts:
    """What it costs to pour one before another.

    Attributes
    ----------
    rules : tuple of Rule
        R of them, the most important first.
    costs : (R, N, N) int64
        ``costs[r, i, j]``: pour i in an earlier stage than pour j.
    apart : (N, N) bool
        Whether two pours may share a stage.
    """

    rules: tuple[Rule, ...]
    costs: NDArray[np.int64]
    apart: NDArray[np.bool_]


def pair_costs(
    pours: Sequence[Pour],
    settings: OrderSettings,
    narrow: Sequence[Geometry] | None = None,
) -> PairCosts:
    """Measure every pair of pours under every rule.

    The underlap is measured without the cores and islands that are gone right through under.

    Parameters
    ----------
    pours : sequence of Pour
        N of them.
    settings : OrderSettings
    narrow : sequence of shapely geometry, optional
        The parts of each pour that the bits cannot cut, if they are known already.
    """
    if narrow is None:
        narrow = [thin_part(pour.shape, settings.cut_width_mm) for pour in pours]
    count = len(pours)
    costs = np.zeros((len(settings.rules), count, count), dtype=np.int64)
    apart = np.zeros((count, count), dtype=bool)
    contacts = find_contacts([pour.shape for pour in pours])
    inside = inside_points(contacts.parts)
    views = [_View(pour, i, contacts, inside, narrow[i]) for i, pour in enumerate(pours)]
    for i, j in itertools.permutations(range(count), 2):
        along = contacts.between(i, j)
        if along.any():
            found = _pair(views[i], views[j], contacts, settings)
            costs[:, i, j] = [found[rule] for rule in settings.rules]
        else:
            apart[i, j] = apart[j, i] if j < i else _far_apart(pours[i], pours[j], settings)
    return PairCosts(settings.rules, costs, apart)


def _far_apart(one: Pour, two: Pour, settings: OrderSettings) -> bool:
    return not shapely.dwithin(one.shape, two.shape, settings.gap_mm * (1.0 - 1e-9))


class _View:
    """A pour with what several pairs ask of it."""

    def __init__(
        self,
        pour: Pour,
        index: int,
        contacts: Contacts,
        inside: NDArray[np.object_],
        narrow: Geometry,
    ) -> None:
        self.pour = pour
        self.index = index
        self.holes = filled_holes(pour.shape)
        self.inside = inside
        thin = polygons_of(narrow)
        own = np.flatnonzero(contacts.shape == index)
        self.is_thin = np.zeros(len(contacts.shape), dtype=bool)  # of the contacts' segments
        if thin:
            middles = shapely.points(contacts.middle[own])
            self.is_thin[own] = points_within(middles, thin)


def _pair(
    first: _View, second: _View, contacts: Contacts, settings: OrderSettings
) -> dict[Rule, int]:
    """Return what each rule says about pouring `first` before `second`."""
    pour, later = first.pour, second.pour
    line = contacts.line(contacts.between(first.index, second.index))
    reached = dilate(line, settings.underlap.width_mm, UNDERLAP_QUAD_SEGS)
    asked = later.name in settings.early and pour.name not in settings.early
    length = contacts.length_mm
    facing = contacts.between(second.index, first.index)
    return {
        "asked": int(asked),
        "enclosing": _coarse(_enclosed_mm(first, second, contacts)),
        "lines": _coarse(float(length[facing & second.is_thin].sum())),
        "dark": int(pour.lightness >= later.lightness + settings.dark_step),
        "edges": _thousandths(reached.boundary.intersection(later.shape).length),
        "resin": _thousandths(reached.intersection(later.shape).area),
    }


def _enclosed_mm(inner: _View, outer: _View, contacts: Contacts) -> float:
    """Return the edge with `outer` of those parts of `inner` that `outer` encloses.

    Lines that can only be left standing do not count: they gain by being poured early.
    """
    if not outer.holes:
        return 0.0
    own = np.flatnonzero(contacts.owner == inner.index)
    enclosed = np.zeros(len(contacts.owner), dtype=bool)
    enclosed[own] = points_within(inner.inside[own], outer.holes)
    edge = contacts.between(inner.index, outer.index) & ~inner.is_thin
    return float(contacts.length_mm[edge & enclosed[contacts.part]].sum())


def _coarse(length_mm: float) -> int:
    """Return a length in thousandths, in whole steps, so that no sliver outweighs other rules."""
    return int(length_mm / STEP_MM + 1e-9) * int(STEP_MM * 1000.0)


def _thousandths(value: float) -> int:
    return round(value * 1000.0)
