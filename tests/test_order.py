"""The order against exhaustive search, and against small boards whose right order is known."""

import itertools
from collections.abc import Iterator

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from img2pour.errors import SettingsError
from img2pour.pours.order import Stages, find_order, follow_order, order_words, rule_costs
from img2pour.pours.order_rules import OrderSettings, PairCosts, pair_costs
from img2pour.pours.pour import Pour
from img2pour.pours.underlap import UnderlapSettings


def ordered_partitions(items: tuple[int, ...]) -> Iterator[Stages]:
    """Yield every way to split items into a sequence of stages."""
    if not items:
        yield ()
        return
    for size in range(1, len(items) + 1):
        for stage in itertools.combinations(items, size):
            rest = tuple(item for item in items if item not in stage)
            for others in ordered_partitions(rest):
                yield (stage, *others)


def is_allowed(pairs: PairCosts, stages: Stages) -> bool:
    return all(pairs.apart[i, j] for stage in stages for i, j in itertools.combinations(stage, 2))


def key(pairs: PairCosts, stages: Stages) -> tuple[float, ...]:
    """Return what is compared, summed pair by pair without the search's own code."""
    sums = [0] * len(pairs.rules)
    when = {i: at for at, stage in enumerate(stages) for i in stage}
    for i, j in itertools.permutations(when, 2):
        if when[i] < when[j]:
            for rule in range(len(sums)):
                sums[rule] += int(pairs.costs[rule, i, j])
    return (len(stages), *sums)


def random_pairs(seed: int, count: int, largest: int) -> PairCosts:
    random = np.random.default_rng(seed)
    apart = np.triu(random.random((count, count)) < random.random(), 1)
    apart = apart | apart.T
    costs = random.integers(0, largest, (3, count, count), endpoint=True)
    costs[:, apart] = 0
    costs[:, np.arange(count), np.arange(count)] = 0
    return PairCosts(("enclosing", "dark", "resin"), costs, apart)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("seed", range(6))
def test_equal_to_trying_every_order_and_every_sharing(count: int, seed: int) -> None:
    pairs = random_pairs(seed, count, largest=3)
    keys = {s: key(pairs, s) for s in ordered_partitions(tuple(range(count)))}
    keys = {s: k for s, k in keys.items() if is_allowed(pairs, s)}
    fewest = min(k[0] for k in keys.values())
    ranked = sorted({k for k in keys.values() if k[0] == fewest})
    choice = find_order(pairs, [str(i) for i in range(count)])
    assert keys[choice.order.stages] == ranked[0]
    if len(ranked) > 1:
        assert choice.runner_up is not None
        assert keys[choice.runner_up.stages] == ranked[1]
    else:
        assert choice.runner_up is None


@pytest.mark.parametrize("seed", range(3))
def test_equal_to_trying_every_order_of_eight(seed: int) -> None:
    random = np.random.default_rng(seed)
    costs = random.integers(0, 9, (2, 8, 8))
    pairs = PairCosts(("dark", "resin"), costs, np.zeros((8, 8), dtype=bool))
    perms = np.array(list(itertools.permutations(range(8))))
    sums = np.zeros((2, len(perms)), dtype=np.int64)
    for a, b in itertools.combinations(range(8), 2):
        sums += costs[:, perms[:, a], perms[:, b]]
    best = min(zip(sums[0].tolist(), sums[1].tolist(), strict=True))
    choice = find_order(pairs, list("abcdefgh"))
    assert tuple(cost.value for cost in choice.order.costs) == (
        best[0],
        pytest.approx(best[1] / 1e3),
    )


def test_stages_come_before_every_rule() -> None:
    # Without sharing, 0 then 1 then 2 costs nothing; 0 and 2 may share, which costs 5 but saves
    # a stage.
    apart = np.zeros((3, 3), dtype=bool)
    apart[0, 2] = apart[2, 0] = True
    costs = np.zeros((1, 3, 3), dtype=np.int64)
    costs[0, 1, 0] = costs[0, 2, 1] = 5
    choice = find_order(PairCosts(("enclosing",), costs, apart), ["a", "b", "c"])
    assert len(choice.order.stages) == 2
    assert order_words(choice.order.stages, ["a", "b", "c"]) in {
        "b, then a and c",
        "a and c, then b",
    }


def test_rules_are_never_summed() -> None:
    # One unit of the first rule outweighs a million of the second.
    costs = np.zeros((2, 2, 2), dtype=np.int64)
    costs[0, 0, 1] = 1
    costs[1, 1, 0] = 1_000_000
    pairs = PairCosts(("enclosing", "resin"), costs, np.zeros((2, 2), dtype=bool))
    choice = find_order(pairs, ["a", "b"])
    assert choice.order.stages == ((1,), (0,))
    assert choice.runner_up is not None
    assert choice.runner_up.stages == ((0,), (1,))
    assert "worse by the rule 'what encloses comes before what it encloses'" in choice.why
    assert "0.001 mm against 0 mm" in choice.why


def test_stages_that_are_done_stay() -> None:
    pairs = random_pairs(5, 6, largest=4)
    choice = find_order(pairs, list("abcdef"), done=((3,), (1,)))
    assert choice.order.stages[:2] == ((3,), (1,))
    keys = [
        key(pairs, ((3,), (1,), *rest))
        for rest in ordered_partitions((0, 2, 4, 5))
        if is_allowed(pairs, rest)
    ]
    assert key(pairs, choice.order.stages) == min(keys)


def test_a_given_order_is_followed_and_compared() -> None:
    apart = np.zeros((3, 3), dtype=bool)
    apart[0, 1] = apart[1, 0] = True
    costs = np.zeros((1, 3, 3), dtype=np.int64)
    costs[0, 2, 0] = 7
    pairs = PairCosts(("dark",), costs, apart)
    choice = follow_order(pairs, ["a", "b", "c"], ["c", "a", "b"])
    assert choice.given
    assert choice.order.stages == ((2,), (0, 1))
    assert choice.why == (
        "given; the rules would choose a and b, then c by the rule 'dark before light': "
        "7 pairs against 0 pairs"
    )
    split = follow_order(pairs, ["a", "b", "c"], ["a", "c", "b"])
    assert split.order.stages == ((0,), (2,), (1,))
    assert "2 stages instead of 3" in split.why
    same = follow_order(pairs, ["a", "b", "c"], ["a", "b", "c"])
    assert same.why == "given, and the rules would choose the same"


@pytest.mark.parametrize(
    ("wanted", "message"),
    [
        (["a", "x"], "order: there is no pour 'x'; there are: a, b"),
        (["a", "a", "b"], "order: 'a' is there twice"),
        (["b"], "order: a missing; name every pour"),
    ],
)
def test_a_wrong_order_is_told(wanted: list[str], message: str) -> None:
    pairs = random_pairs(0, 2, 1)
    with pytest.raises(SettingsError, match=message):
        follow_order(pairs, ["a", "b"], wanted)


@settings(derandomize=True, max_examples=4, deadline=None)
@given(st.integers(0, 1000), st.integers(13, 15))
def test_many_pours_still_give_an_allowed_order(seed: int, count: int) -> None:
    pairs = random_pairs(seed, count, largest=5)
    pairs = PairCosts(pairs.rules, pairs.costs, np.zeros_like(pairs.apart))
    choice = find_order(pairs, [str(i) for i in range(count)])
    assert sorted(itertools.chain(*choice.order.stages)) == list(range(count))
    plain = tuple((i,) for i in range(count))
    assert key(pairs, choice.order.stages) <= key(pairs, plain)


# Boards whose right order a person would know.

U2 = OrderSettings(underlap=UnderlapSettings(2.0, 1.0))


def pour(name: str, shape: shapely.Geometry, lightness: float = 50.0) -> Pour:
    return Pour(name, name, (name,), shape, lightness)


def chosen(pours: list[Pour], order_settings: OrderSettings = U2) -> str:
    names = [p.name for p in pours]
    choice = find_order(pair_costs(pours, order_settings), names)
    return order_words(choice.order.stages, names)


def test_what_encloses_is_poured_first_though_it_is_lighter() -> None:
    island = Point(0, 0).buffer(15)
    field = box(-50, -50, 50, 50).difference(island)
    assert chosen([pour("island", island, 10.0), pour("field", field, 90.0)]) == (
        "field, then island"
    )


def test_a_ring_nested_in_a_field_around_a_disc() -> None:
    disc, outer = Point(0, 0).buffer(10), Point(0, 0).buffer(20)
    pours = [
        pour("disc", disc),
        pour("ring", outer.difference(disc)),
        pour("field", box(-40, -40, 40, 40).difference(outer)),
    ]
    # Disc and field lie 10 mm apart and could share a stage: two stages, not three.
    assert chosen(pours) in {"ring, then disc and field", "disc and field, then ring"}
    apart = OrderSettings(gap_mm=50.0, underlap=U2.underlap)
    assert chosen(pours, apart) == "field, then ring, then disc"


def test_a_thin_line_between_two_fields_is_poured_early() -> None:
    left, line, right = box(0, 0, 40, 40), box(40, 0, 41, 40), box(41, 0, 80, 40)
    pours = [pour("left", left, 10.0), pour("line", line, 90.0), pour("right", right, 10.0)]
    cut = OrderSettings(cut_width_mm=3.275, gap_mm=3.0, underlap=U2.underlap)
    # Left and right lie 1 mm apart: no sharing. The light line goes first all the same.
    assert chosen(pours, cut).startswith("line")
    costs = pair_costs(pours, cut)
    lines = costs.costs[costs.rules.index("lines")]
    assert lines[0, 1] == pytest.approx(40_000, abs=1)  # 40 mm of the line's edge, in thousandths
    assert lines[1, 0] == 0


def test_a_thin_outline_inside_a_field_is_poured_before_it() -> None:
    disc, outer = Point(0, 0).buffer(15), Point(0, 0).buffer(15.8)
    pours = [
        pour("field", box(-40, -40, 40, 40).difference(outer)),
        pour("line", outer.difference(disc)),
        pour("disc", disc),
    ]
    cut = OrderSettings(cut_width_mm=3.275, underlap=U2.underlap)
    assert chosen(pours, cut) == "line, then field, then disc"


def test_a_sliver_does_not_outweigh_dark_before_light() -> None:
    # A notch 1 mm wide and 2 mm deep in the dark pour is thin, but only 5 mm of edge.
    notch = box(30, 10, 32, 11)
    dark = shapely.union(box(0, 0, 30, 30), notch)
    pale = box(30, 0, 60, 30).difference(notch)
    cut = OrderSettings(cut_width_mm=3.275, underlap=U2.underlap)
    pair = [pour("pale", pale, 85.0), pour("dark", dark, 20.0)]
    assert chosen(pair, cut) == "dark, then pale"
    thin = pair_costs(pair, cut)
    assert thin.costs[thin.rules.index("lines")].max() <= 5000
    turned = [pour("pale", pale, 20.0), pour("dark", dark, 85.0)]
    assert chosen(turned, cut) == "pale, then dark"


def test_dark_comes_before_light_when_nothing_else_speaks() -> None:
    pair = [pour("pale", box(0, 0, 30, 30), 85.0), pour("dark", box(30, 0, 60, 30), 20.0)]
    assert chosen(pair) == "dark, then pale"
    alike = [pour("one", box(0, 0, 30, 30), 55.0), pour("two", box(30, 0, 60, 30), 50.0)]
    assert chosen(alike) == "one, then two"


def test_least_edge_is_cut_in_bare_wood() -> None:
    # A small square let into the side of a large one: carried under the small square the large
    # one ends in a U of edges; under the large one the small square's rim is longer.
    small = box(0, 10, 10, 20)
    large = box(0, 0, 60, 30).difference(small)
    pairs = pair_costs([pour("small", small), pour("large", large)], U2)
    edges = pairs.costs[pairs.rules.index("edges")]
    # Small first: a rim 2 mm outside, 10 + 10 + 10 mm and two quarter circles of 2 mm radius.
    assert edges[0, 1] / 1000 == pytest.approx(30 + np.pi * 2, abs=0.02)
    # Large first: a rim 2 mm inside, 8 + 6 + 8 mm.
    assert edges[1, 0] / 1000 == pytest.approx(22, abs=0.01)
    assert chosen([pour("small", small), pour("large", large)]) == "large, then small"


def test_pours_asked_to_be_early_come_early() -> None:
    pair = [pour("pale", box(0, 0, 30, 30), 85.0), pour("dark", box(30, 0, 60, 30), 20.0)]
    assert chosen(pair, OrderSettings(early=("pale",))) == "pale, then dark"


def test_pours_far_apart_share_a_stage() -> None:
    pair = [pour("a", box(0, 0, 10, 10)), pour("b", box(13, 0, 20, 10))]
    assert chosen(pair) == "a and b"
    near = [pour("a", box(0, 0, 10, 10)), pour("b", box(12.9, 0, 20, 10))]
    assert chosen(near) == "a, then b"


def test_costs_are_told_in_units() -> None:
    pours = [pour("a", box(0, 0, 50, 50)), pour("b", box(50, 0, 100, 50))]
    costs = rule_costs(pair_costs(pours, U2), ((0,), (1,)))
    by_rule = {cost.rule: (cost.value, cost.unit) for cost in costs}
    assert by_rule["resin"] == (pytest.approx(100.0), "mm2")
    assert by_rule["edges"] == (pytest.approx(50.0, abs=0.01), "mm")
