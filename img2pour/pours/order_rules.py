"""What an order of two pours costs, rule by rule.

Each rule gives a whole number for every pair "this one before that one"; an order's cost under a
rule is the sum over its pairs. The rules are compared one after another, never added up, and whole
numbers make the comparison exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.geometry import (
    Geometry,
    dilate_thinly,
    filled_holes,
    polygons_of,
    shared_edge,
    thin_part,
)
from img2pour.pours.pour import Pour
from img2pour.pours.underlap import UnderlapSettings, under

Rule = Literal["asked", "enclosing", "lines", "dark", "edges", "resin"]
ALL_RULES: tuple[Rule, ...] = ("asked", "enclosing", "lines", "dark", "edges", "resin")
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
    pours: Sequence[Pour], settings: OrderSettings, solid: Geometry | None = None
) -> PairCosts:
    """Measure every pair of pours under every rule.

    Parameters
    ----------
    pours : sequence of Pour
        N of them.
    settings : OrderSettings
    solid : shapely geometry, optional
        The wood around them, which a thin core may lean on.
    """
    count = len(pours)
    costs = np.zeros((len(settings.rules), count, count), dtype=np.int64)
    apart = np.zeros((count, count), dtype=bool)
    views = [_View(pour, settings) for pour in pours]
    for i in range(count):
        for j in range(count):
            if i == j:
                continue
            shapes = pours[i].shape, pours[j].shape
            apart[i, j] = not shapely.dwithin(*shapes, settings.gap_mm * (1.0 - 1e-9))
            if apart[i, j] or not shapely.dwithin(*shapes, 1e-6):
                continue
            found = _pair(views[i], views[j], settings, solid)
            costs[:, i, j] = [found[rule] for rule in settings.rules]
    return PairCosts(settings.rules, costs, apart)


class _View:
    """A pour with what several pairs ask of it."""

    def __init__(self, pour: Pour, settings: OrderSettings) -> None:
        self.pour = pour
        self.holes = filled_holes(pour.shape)
        self.thin = thin_part(pour.shape, settings.cut_width_mm)
        self.edge_band = dilate_thinly(pour.shape.boundary)


def _pair(
    first: _View, second: _View, settings: OrderSettings, solid: Geometry | None
) -> dict[Rule, int]:
    """Return what each rule says about pouring `first` before `second`."""
    pour, later = first.pour, second.pour
    beneath = under(pour.shape, later.shape, settings.underlap, solid)
    fresh = beneath.boundary.difference(first.edge_band).difference(second.edge_band)
    asked = later.name in settings.early and pour.name not in settings.early
    return {
        "asked": int(asked),
        "enclosing": _thousandths(_enclosed_edge(first, second)),
        "lines": _thousandths(_edge_of(second.thin, pour.shape)),
        "dark": int(pour.lightness >= later.lightness + settings.dark_step),
        "edges": _thousandths(fresh.length),
        "resin": _thousandths(beneath.area),
    }


def _enclosed_edge(inner: _View, outer: _View) -> float:
    """Return the edge with `outer` of those parts of `inner` that `outer` encloses.

    Lines that can only be left standing do not count: they gain by being poured early.
    """
    if outer.holes.is_empty:
        return 0.0
    holes = shapely.buffer(outer.holes, 1e-6)
    parts = [part for part in polygons_of(inner.pour.shape) if holes.covers(part)]
    if not parts:
        return 0.0
    enclosed = shapely.MultiPolygon(parts).difference(inner.thin)
    return _edge_of(enclosed, outer.pour.shape)


def _edge_of(part: Geometry, neighbour: Geometry) -> float:
    return 0.0 if part.is_empty else float(shared_edge(part, neighbour).length)


def _thousandths(value: float) -> int:
    return round(value * 1000.0)
