"""Walls between pockets, by grain and by what stands beside them; wood that stands alone."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from img2pour.carve.walls import WallLimits, standing_alone, thin_walls
from img2pour.errors import SettingsError

BOARD = shapely.box(0, 0, 80, 60)


def several(*polygons):
    return np.array(polygons, dtype=object)


def between(width, turn=0.0):
    """Leave a wall of a width between two pockets, along x before it is turned."""
    below = shapely.box(20, 30 - width / 2 - 10, 60, 30 - width / 2)
    above = shapely.box(20, 30 + width / 2, 60, 30 + width / 2 + 10)
    pockets = affinity.rotate(shapely.union(below, above), turn, origin=(40, 30))
    return BOARD - pockets


@pytest.mark.parametrize("width", [0.15, 0.4, 0.8, 1.2, 1.46])
def test_a_wall_along_the_grain(width):
    found = thin_walls(several(between(width)), WallLimits())
    assert [(w.kind, w.least_mm, w.across_grain) for w in found] == [("wall", 1.5, False)]
    assert found[0].width_mm == pytest.approx(width, abs=0.02)
    assert found[0].length_mm == pytest.approx(40, abs=3)


@pytest.mark.parametrize("width", [1.6, 2.0, 2.4])
def test_a_wall_across_the_grain_has_to_be_wider(width):
    assert thin_walls(several(between(width)), WallLimits()) == ()
    found = thin_walls(several(between(width, 90)), WallLimits())
    assert [(w.kind, w.least_mm, w.across_grain) for w in found] == [("wall", 2.5, True)]
    assert found[0].width_mm == pytest.approx(width, abs=0.02)
    turned = WallLimits(grain_deg=90)
    assert thin_walls(several(between(width, 90)), turned) == ()
    assert len(thin_walls(several(between(width)), turned)) == 1


def test_walls_beside_filled_pockets_and_in_resin_may_be_thinner():
    wall = several(between(0.9, 90))
    assert len(thin_walls(wall, WallLimits(), "filled")) == 1
    assert thin_walls(wall, WallLimits(), "resin") == ()


def test_a_wide_wall_is_no_finding():
    assert thin_walls(several(between(2.6)), WallLimits()) == ()
    assert thin_walls(several(between(2.6, 90)), WallLimits()) == ()
    assert thin_walls(several(), WallLimits()) == ()


def test_a_spur_is_found_and_a_corner_is_not():
    pocket = shapely.box(20, 20, 60, 40) - shapely.box(20, 29.6, 45, 30.4)
    found = thin_walls(several(BOARD - pocket), WallLimits())
    assert [wall.kind for wall in found] == ["spur"]
    assert found[0].width_mm == pytest.approx(0.8, abs=0.02)


def test_wood_that_stands_alone():
    post, block = shapely.Point(30, 30).buffer(1.0), shapely.box(45, 25, 55, 35)
    ground = BOARD - shapely.box(20, 20, 60, 40)
    found = standing_alone(several(ground, post, block), BOARD, 3.175, WallLimits())
    assert [(wall.kind, wall.region) for wall in found] == [("alone", 1)]
    assert found[0].width_mm == pytest.approx(2.0, abs=0.03)
    deep = standing_alone(several(ground, post, block), BOARD, 25.0, WallLimits())
    assert [wall.region for wall in deep] == [1, 2]


def test_limits_have_to_be_sizes():
    with pytest.raises(SettingsError, match="least wall -1 mm"):
        WallLimits(along_mm=-1)
