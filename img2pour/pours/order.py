"""The order of the pours: as few stages as possible, then the rules, one after another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from img2pour.errors import SettingsError
from img2pour.pours.order_rules import RULE_UNITS, RULE_WORDS, PairCosts, Rule
from img2pour.units import quoted

Stages = tuple[tuple[int, ...], ...]
"""Indices of pours, stage by stage."""

EXACT_UP_TO = 12  # pours; beyond it only the most promising beginnings are followed
BEAM = 400


@dataclass(frozen=True)
class RuleCost:
    """What an order costs under one rule: the figure, its unit, the rule in words."""

    rule: Rule
    value: float
    unit: str
    words: str


@dataclass(frozen=True)
class Order:
    """An order of pours.

    Attributes
    ----------
    stages : tuple of tuple of int
        Indices of pours, stage by stage.
    costs : tuple of RuleCost
        Under each rule.
    """

    stages: Stages
    costs: tuple[RuleCost, ...]


@dataclass(frozen=True)
class Choice:
    """The order that was chosen, and the next best.

    Attributes
    ----------
    order : Order
    runner_up : Order or None
        The best order of as few stages that is worse by some rule; None when there is none.
    given : bool
        Whether the user gave the order.
    why : str
        In plain words: what decides.
    """

    order: Order
    runner_up: Order | None
    given: bool
    why: str


def find_order(
    pairs: PairCosts, names: Sequence[str], *, done: Sequence[Sequence[int]] = ()
) -> Choice:
    """Find the order with the fewest stages, then the least cost by the rules.

    Subset dynamic programming over ordered stages; the same result as trying every order, up to
    12 pours. Beyond that the most promising beginnings are followed.

    Parameters
    ----------
    pairs : PairCosts
    names : sequence of str
        Of the pours, for the words.
    done : sequence of sequence of int
        Stages that are poured already: they stay as they are.
    """
    search = _Search(pairs)
    fixed: Stages = tuple(tuple(stage) for stage in done)
    found = search.best_two(fixed)
    orders = [Order(stages, rule_costs(pairs, stages)) for _, stages in found]
    runner_up = orders[1] if len(orders) > 1 else None
    return Choice(orders[0], runner_up, False, _why(orders[0], runner_up, names))


def follow_order(
    pairs: PairCosts,
    names: Sequence[str],
    wanted: Sequence[str],
    *,
    done: Sequence[Sequence[int]] = (),
) -> Choice:
    """Take the order that the user gives; neighbours in it that are far apart share a stage.

    Raises
    ------
    SettingsError
        When a name is unknown, missing or given twice.
    """
    _check_names(names, wanted)
    fixed: list[tuple[int, ...]] = [tuple(stage) for stage in done]
    poured = {index for stage in fixed for index in stage}
    stages = list(fixed)
    for index in (names.index(name) for name in wanted):
        if index in poured:
            continue
        is_open = len(stages) > len(fixed)
        if is_open and all(pairs.apart[index, other] for other in stages[-1]):
            stages[-1] = (*stages[-1], index)
        else:
            stages.append((index,))
    order = Order(tuple(stages), rule_costs(pairs, tuple(stages)))
    best = find_order(pairs, names, done=done).order
    return Choice(order, best, True, _why_given(order, best, names))


def rule_costs(pairs: PairCosts, stages: Stages) -> tuple[RuleCost, ...]:
    """Return what an order costs under each rule."""
    found = []
    for number, rule in enumerate(pairs.rules):
        total = sum(
            int(pairs.costs[number, i, j])
            for at, stage in enumerate(stages)
            for later in stages[at + 1 :]
            for i in stage
            for j in later
        )
        factor, unit = RULE_UNITS[rule]
        found.append(RuleCost(rule, total * factor, unit, RULE_WORDS[rule]))
    return tuple(found)


Entry = tuple[int, Stages]


class _Search:
    """The dynamic programme; costs of all rules are digits of one whole number.

    The base of the digits is above any sum of one rule, so comparing two numbers compares the
    stages first and then rule after rule, exactly.
    """

    def __init__(self, pairs: PairCosts) -> None:
        self.count = pairs.apart.shape[0]
        base = 1 + max((int(matrix.sum()) for matrix in pairs.costs), default=0)
        self.stage_cost = base ** len(pairs.rules)
        self.cost = [
            [
                sum(
                    int(matrix[i, j]) * base ** (len(pairs.rules) - 1 - r)
                    for r, matrix in enumerate(pairs.costs)
                )
                for j in range(self.count)
            ]
            for i in range(self.count)
        ]
        self.spelt: dict[int, tuple[int, ...]] = {}
        self.clash = [
            sum(1 << j for j in range(self.count) if j != i and not pairs.apart[i, j])
            for i in range(self.count)
        ]

    def best_two(self, fixed: Stages) -> list[Entry]:
        """Return the best order and the best worse one of as few stages, beginning with `fixed`."""
        start = sum(1 << i for stage in fixed for i in stage)
        everything = (1 << self.count) - 1
        most = self._enough_stages(start)
        levels: dict[int, dict[int, list[Entry]]] = {start.bit_count(): {start: [(0, fixed)]}}
        for level in range(start.bit_count(), self.count):
            states = self._kept(levels.pop(level, {}))
            for mask, entries in states:
                is_last = entries[0][0] // self.stage_cost >= most - 1
                for stage, added, size in self._stages(mask):
                    if is_last and mask | stage != everything:
                        continue
                    following = levels.setdefault(level + size, {})
                    self._reach(following, mask, stage, added, entries)
        found = levels[self.count][everything]
        fewest = found[0][0] // self.stage_cost
        return [entry for entry in found if entry[0] // self.stage_cost == fewest]

    def _enough_stages(self, poured: int) -> int:
        """Return a number of stages that surely suffices for the rest: first fit."""
        stages: list[int] = []
        for i in (i for i in range(self.count) if not poured >> i & 1):
            fits = next((k for k, bits in enumerate(stages) if not self.clash[i] & bits), None)
            if fits is None:
                stages.append(1 << i)
            else:
                stages[fits] |= 1 << i
        return len(stages)

    def _kept(self, states: dict[int, list[Entry]]) -> list[tuple[int, list[Entry]]]:
        if self.count <= EXACT_UP_TO or len(states) <= BEAM:
            return list(states.items())
        return sorted(states.items(), key=lambda state: state[1][0])[:BEAM]

    def _stages(self, poured: int) -> Iterator[tuple[int, int, int]]:
        """Yield every next stage as bits, its cost after what is poured, and its size."""
        before = [i for i in range(self.count) if poured >> i & 1]
        left = [j for j in range(self.count) if not poured >> j & 1]
        extra = [sum(self.cost[i][j] for i in before) for j in left]
        stack = [(0, 0, 0, 0, 0)]
        while stack:
            first, bits, clash, added, size = stack.pop()
            for at in range(first, len(left)):
                bit = 1 << left[at]
                if clash & bit:
                    continue
                grown = (
                    at + 1,
                    bits | bit,
                    clash | self.clash[left[at]],
                    added + extra[at],
                    size + 1,
                )
                yield grown[1], grown[3] + self.stage_cost, grown[4]
                stack.append(grown)

    def _indices(self, stage: int) -> tuple[int, ...]:
        if stage not in self.spelt:
            self.spelt[stage] = tuple(i for i in range(self.count) if stage >> i & 1)
        return self.spelt[stage]

    def _reach(
        self,
        following: dict[int, list[Entry]],
        poured: int,
        stage: int,
        added: int,
        entries: list[Entry],
    ) -> None:
        """Keep the two best distinct costs of a set of pours; of equal ones the first in order."""
        known = following.setdefault(poured | stage, [])
        for cost, stages in entries:
            total = cost + added
            if len(known) == 2 and total > known[1][0]:
                return
            here = (*stages, self._indices(stage))
            same = next((k for k, entry in enumerate(known) if entry[0] == total), None)
            if same is None:
                known.append((total, here))
                known.sort()
                del known[2:]
            elif here < known[same][1]:
                known[same] = (total, here)


def _check_names(names: Sequence[str], wanted: Sequence[str]) -> None:
    for name in wanted:
        if name not in names:
            raise SettingsError(
                f"order: there is no pour {quoted(name)}; there are: {', '.join(names)}",
                name="order",
                value=name,
            )
        if list(wanted).count(name) > 1:
            raise SettingsError(f"order: {quoted(name)} is there twice", name="order", value=name)
    missing = [name for name in names if name not in wanted]
    if missing:
        raise SettingsError(f"order: {', '.join(missing)} missing; name every pour", name="order")


def order_words(stages: Stages, names: Sequence[str]) -> str:
    """Return an order in words: ``black, then red and green, then white``."""
    return ", then ".join(" and ".join(names[i] for i in stage) for stage in stages)


def _why(best: Order, other: Order | None, names: Sequence[str]) -> str:
    if other is None:
        return "no rule tells it from any other order of as few stages"
    words = order_words(other.stages, names)
    return f"the next best order ({words}) is worse by the rule '{_decides(best, other)}"


def _decides(better: Order, worse: Order) -> str:
    """Return the first rule in which two orders differ, with both figures."""
    for one, two in zip(better.costs, worse.costs, strict=True):
        if one.value != two.value:
            return f"{one.words}': {_figure(two)} against {_figure(one)}"
    return "none': they are equal"


def _figure(cost: RuleCost) -> str:
    unit = cost.unit.removesuffix("s") if cost.value == 1 else cost.unit
    return f"{cost.value:.6g} {unit}"


def _why_given(given: Order, best: Order, names: Sequence[str]) -> str:
    if given.stages == best.stages:
        return "given, and the rules would choose the same"
    words = order_words(best.stages, names)
    if len(given.stages) > len(best.stages):
        return (
            f"given; the rules would choose {words}: {len(best.stages)} stages "
            f"instead of {len(given.stages)}"
        )
    return f"given; the rules would choose {words} by the rule '{_decides(best, given)}"
