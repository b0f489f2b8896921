"""Pockets of one stage lie apart, whatever encloses what."""

from __future__ import annotations

from itertools import combinations

import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from img2pour.pours.plan import plan_pours
from img2pour.pours.plan_values import PlanSettings, Tools
from img2pour.pours.pour import Pour
from img2pour.pours.roles import Layout
from img2pour.pours.stages import BitChoice

BOARD = box(0, 0, 300, 100)
NAMES = ("black", "blue", "red", "white")
TOOLS = Tools(BitChoice(), lambda stage: 1.0)


def rings(
    middle: float, colours: list[int], steps: list[float]
) -> list[tuple[int, shapely.Polygon]]:
    """Return square rings one inside the other, each with its colour; -1 is wood."""
    found, half = [], 45.0
    for colour, step in zip(colours, steps, strict=True):
        inner = half - step
        outer = box(middle - half, 50 - half, middle + half, 50 + half)
        if inner <= 0.5:
            found.append((colour, outer))
            break
        found.append((colour, outer - box(middle - inner, 50 - inner, middle + inner, 50 + inner)))
        half = inner
    return found


def laid(parts: list[tuple[int, shapely.Polygon]]) -> Layout:
    """Return the layout in which each colour is a pour; the rest is wood."""
    pours = []
    for index, name in enumerate(NAMES):
        shape = shapely.union_all([part for colour, part in parts if colour == index])
        if not shape.is_empty:
            pours.append(Pour(name, name, (name,), shape, 10.0 + 25.0 * index))
    wood = BOARD - shapely.union_all([pour.shape for pour in pours])
    products = {pour.name: "table-top 1:1" for pour in pours}
    return Layout(
        tuple(pours), products, dict.fromkeys(products, True), wood, shapely.MultiPolygon()
    )


sets = st.lists(
    st.tuples(
        st.lists(st.integers(-1, 3), min_size=5, max_size=5),
        st.lists(st.floats(0.6, 25.0), min_size=5, max_size=5),
    ),
    min_size=3,
    max_size=3,
)


# A small square in a pour that lies in a hole of another one of the same stage.
NESTED = ([0, 3, 1, 2, -1], [10.0, 10.0, 21.0, 25.0, 1.0])
BARE = ([-1] * 5, [20.0] * 5)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(sets)
@example([NESTED, BARE, BARE])
def test_no_two_pockets_of_a_stage_touch(drawn: list[tuple[list[int], list[float]]]) -> None:
    parts = [ring for at, one in enumerate(drawn) for ring in rings(50.0 + 100 * at, *one)]
    layout = laid(parts)
    plan = plan_pours(layout, BOARD, TOOLS, PlanSettings(seal_kind="none"))
    for stage in plan.stages:
        for one, two in combinations(stage.pockets, 2):
            if one.resin != two.resin:
                assert one.outline.distance(two.outline) >= 1.0 - 0.01, (one.pour, two.pour)
    # The underlap changes nothing that shows: each pour keeps its wish (bits that cut anything).
    for loss in plan.losses:
        assert loss.wished_mm2 - loss.kept_mm2 <= 1e-6 * loss.wished_mm2 + 1e-6
