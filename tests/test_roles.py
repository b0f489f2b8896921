"""Roles on a flag-like board whose regions are counted by hand."""

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, box

from img2pour.errors import SettingsError
from img2pour.pours.roles import (
    Assignment,
    Cast,
    Faces,
    Layout,
    RoleRule,
    assign_roles,
    face_neighbours,
    lay_out,
)

BOARD = box(-10, -10, 110, 70)
STARS = [box(5 + 8 * i, 35 + 8 * j, 8 + 8 * i, 38 + 8 * j) for i in range(5) for j in range(3)]
CANTON = box(0, 30, 50, 60).difference(shapely.union_all(STARS))
SUN = Point(75, 30).buffer(10)
FIELD = shapely.union(box(50, 0, 100, 60), box(0, 0, 50, 30)).difference(SUN)
CORNER = box(100, 50, 110, 60)  # transparent in the picture


def flag() -> Faces:
    """Return a canton with 15 stars, a field with a sun, and a transparent corner."""
    polygons = [CANTON, FIELD, SUN, *STARS, CORNER]
    colours = ["navy", "red", "white", *["white"] * 15, ""]
    pairs = [(0, 1), (1, 2), *((0, 3 + i) for i in range(15)), (1, 18)]
    arcs = np.array([*pairs, (0, -1), (-1, 1), (1, 1)], dtype=np.int32)
    return Faces(tuple(polygons), tuple(colours), face_neighbours(arcs, len(polygons)))


CASTS = {
    "navy": Cast("navy", "table-top 1:1", 15.0),
    "red": Cast("red", "table-top 1:1", 45.0),
    "white": Cast("white", "casting 2:1", 95.0, pigmented=False),
}


def laid(*rules: RoleRule, **roles: str) -> Layout:
    assignment = assign_roles(flag(), roles, rules)  # type: ignore[arg-type]
    return lay_out(flag(), assignment, CASTS, BOARD)


def areas(layout: Layout) -> dict[str, float]:
    return {pour.name: round(pour.shape.area, 6) for pour in layout.pours}


def test_neighbours_come_from_shared_arcs() -> None:
    faces = flag()
    assert faces.neighbours[2] == {1}
    assert faces.neighbours[0] == {1, *range(3, 18)}


def test_each_colour_is_a_pour_unless_told() -> None:
    layout = laid(red="wood")
    assert areas(layout) == {
        "navy": 1500 - 15 * 9,
        "white": round(SUN.area, 6) + 15 * 9,
    }
    # The board's 9600 mm2 less canton with stars, sun, and the transparent corner.
    assert layout.wood.area == pytest.approx(9600 - 1500 - SUN.area - 100)
    assert layout.outside.area == 100


def test_fifty_small_stars_take_one_line() -> None:
    stars = RoleRule("wood", colour="white", below_mm2=20.0)
    assert areas(laid(stars))["white"] == pytest.approx(SUN.area)


@pytest.mark.parametrize(
    "rule",
    [
        RoleRule("wood", colour="white", touching="navy"),
        RoleRule("wood", colour="white", inside=((-1, 29), (51, 29), (51, 61), (-1, 61))),
        RoleRule("wood", colour="white", below_mm2=20.0, touching="navy"),
    ],
)
def test_stars_by_neighbour_and_by_place(rule: RoleRule) -> None:
    assert areas(laid(rule))["white"] == pytest.approx(SUN.area)


def test_regions_at_points() -> None:
    layout = laid(RoleRule("wood", at=((75.0, 30.0), (6.0, 36.0))))
    assert areas(layout)["white"] == pytest.approx(14 * 9)


def test_every_condition_must_hold_and_the_last_rule_wins() -> None:
    rules = (
        RoleRule("wood", colour="white"),
        RoleRule("pour", colour="white", below_mm2=20.0, touching="navy"),
        RoleRule("outside", at=((6.5, 36.5),)),
    )
    layout = laid(*rules)
    assert areas(layout)["white"] == pytest.approx(14 * 9)
    assert layout.outside.area == pytest.approx(109)


def test_half_inside_is_outside() -> None:
    half = RoleRule("wood", colour="white", inside=((0, 0), (75, 0), (75, 60), (0, 60)))
    # The sun lies with exactly half of its area inside, all stars whole.
    assert areas(laid(half))["white"] == pytest.approx(SUN.area)


def test_colours_that_share_a_cast_are_one_pour_without_a_seam() -> None:
    casts = CASTS | {"navy": CASTS["red"]}
    layout = lay_out(flag(), assign_roles(flag(), {}), casts, BOARD)
    both = next(pour for pour in layout.pours if pour.name == "red")
    assert both.colours == ("navy", "red")
    assert both.shape.area == pytest.approx(6000 - 15 * 9 - SUN.area)
    assert len(both.shape.geoms) == 1
    assert layout.products == {"red": "table-top 1:1", "white": "casting 2:1"}
    assert layout.pigmented == {"red": True, "white": False}


def test_detail_of_a_colour_can_be_a_pour_of_its_own() -> None:
    layout = laid(RoleRule("pour", colour="white", below_mm2=20.0, pour="stars"))
    found = {pour.name: (pour.resin, pour.shape.area) for pour in layout.pours}
    assert found["stars"] == ("white", pytest.approx(135.0))
    assert found["white"] == ("white", pytest.approx(SUN.area))


def test_a_rule_can_cast_in_something_else() -> None:
    layout = laid(RoleRule("pour", colour="white", below_mm2=20.0, cast="red"))
    assert areas(layout)["red"] == pytest.approx(FIELD.area + 135)


def test_one_name_for_two_casts_is_told_apart() -> None:
    rule = RoleRule("pour", inside=((0, 0), (100, 0), (100, 60), (0, 60)), pour="all")
    assert [pour.name for pour in laid(rule).pours] == ["all (navy)", "all (red)", "all (white)"]


def test_no_pour_takes_the_name_of_the_seal() -> None:
    rule = RoleRule("pour", colour="white", below_mm2=20.0, pour="clear")
    assert [pour.name for pour in laid(rule).pours] == ["navy", "red", "white", "clear (white)"]


def test_rules_that_do_nothing_are_told() -> None:
    rules = (
        RoleRule("wood", colour="red", below_mm2=1.0),
        RoleRule("wood", colour="white", at=((75, 30), (60, 5), (500, 500))),
    )
    assert assign_roles(flag(), {}, rules).warnings == (
        "role rule 1 (red below 1 mm2) meets no region",
        "role rule 2: the point 60, 5 mm is on red; the rule does not reach it",
        "role rule 2: the point 500, 500 mm is on nothing; the rule does not reach it",
    )


def test_all_faults_of_rules_are_told_at_once() -> None:
    rules = (
        RoleRule("wood", colour="green"),
        RoleRule("wood", touching="gold", inside=((0, 0), (1, 1))),
        RoleRule("wood", below_mm2=-1.0),
    )
    with pytest.raises(SettingsError) as caught:
        assign_roles(flag(), {}, rules)
    assert str(caught.value).splitlines() == [
        "role rule 1: colour is 'green'; the colours are: navy, red, white",
        "role rule 2: touching is 'gold'; the colours are: navy, red, white",
        "role rule 2: inside needs 3 corners or more",
        "role rule 3: below is -1 mm2; give more than 0",
    ]


def test_a_pour_needs_a_cast() -> None:
    with pytest.raises(SettingsError, match="the colour 'red' is poured, but no resin is named"):
        lay_out(flag(), assign_roles(flag(), {}), {"navy": CASTS["navy"]}, BOARD)
    rule = RoleRule("pour", colour="red", cast="gold")
    with pytest.raises(SettingsError, match="there is no cast 'gold'; there are: navy, red, white"):
        laid(rule)


def test_everything_tiles_the_board() -> None:
    layout = laid(RoleRule("wood", colour="white", below_mm2=20.0))
    total = layout.wood.area + layout.outside.area + sum(p.shape.area for p in layout.pours)
    assert total == pytest.approx(9600.0, rel=1e-12)
    assert isinstance(assign_roles(flag(), {}), Assignment)


def test_outlines_whose_chords_cross_are_mended() -> None:
    bow = shapely.Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])  # two triangles, crossed
    faces = Faces((bow,), ("red",), (frozenset(),))
    layout = lay_out(faces, assign_roles(faces, {}), CASTS, BOARD)
    assert layout.pours[0].shape.is_valid
    assert layout.pours[0].shape.area == pytest.approx(50.0)
