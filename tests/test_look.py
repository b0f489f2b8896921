"""The look is the fold over the stages; with bits fine enough it is the wish."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from img2pour.job.bits import Bit
from img2pour.pours.geometry import thin_part
from img2pour.pours.look import find_losses, find_uncut, fold_looks, reach_of_bits, standing_lines
from img2pour.pours.pour import Pour
from img2pour.pours.seals import SealSettings, band
from img2pour.pours.stages import BitChoice, StageSettings, plan_stages
from img2pour.pours.underlap import UnderlapSettings

FLAT = Bit("flat 1/8 in", "flat", 3.175)
VEE = Bit("vee 60 deg", "vee", 12.0, angle_deg=60.0)
SETTINGS = StageSettings(underlap=UnderlapSettings(2.0, 1.0))
BOARD = box(0, 0, 120, 100)


def pour(name: str, shape: shapely.Geometry, resin: str = "") -> Pour:
    return Pour(name, resin or name, (name,), shape, 50.0)


def narrow(pours: list[Pour], cut_width_mm: float) -> list[shapely.Geometry]:
    return [thin_part(p.shape, cut_width_mm) for p in pours]


def wood_around(pours: list[Pour], board: shapely.Geometry = BOARD) -> shapely.Geometry:
    return board.difference(shapely.union_all([p.shape for p in pours]))


def random_tiling(seed: int) -> list[Pour]:
    """Return five pours that tile part of the board: cells of random points, some joined."""
    random = np.random.default_rng(seed)
    points = shapely.MultiPoint(random.uniform((5, 5), (115, 95), (24, 2)))
    cells = shapely.get_parts(shapely.voronoi_polygons(points, extend_to=BOARD))
    cells = shapely.intersection(cells, BOARD)
    colours = random.integers(0, 6, len(cells))
    shapes = [shapely.union_all(cells[colours == k]) for k in range(5)]
    return [pour(f"p{k}", shape) for k, shape in enumerate(shapes) if not shape.is_empty]


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_with_bits_fine_enough_the_look_is_the_wish(seed: int, sealed: bool) -> None:
    pours = random_tiling(seed)
    wood = wood_around(pours)
    joined = shapely.union_all([p.shape for p in pours])
    seal = band(joined, wood, SealSettings()) if sealed and not wood.is_empty else None
    order = tuple((i,) for i in np.random.default_rng(seed).permutation(len(pours)).tolist())
    stages = plan_stages(pours, order, wood, BitChoice(), SETTINGS, seal)
    look = fold_looks(stages, BOARD)[-1]
    allowed = 1e-9 * BOARD.area
    for one in pours:
        assert look.shape(one.name).symmetric_difference(one.shape).area < allowed
    assert look.wood_and_clear.symmetric_difference(wood).area < allowed
    assert sum(loss.lost_mm2 for loss in find_losses(pours, look, narrow(pours, 0.0))) < allowed


def test_looks_after_each_stage_tile_the_board() -> None:
    pours = random_tiling(3)
    stages = plan_stages(
        pours, tuple((i,) for i in range(len(pours))), wood_around(pours), BitChoice(), SETTINGS
    )
    looks = fold_looks(stages, BOARD)
    assert len(looks) == len(stages)
    for number, look in enumerate(looks, 1):
        assert len(look.names) == number
        total = look.wood.area + sum(shape.area for shape in look.shapes)
        assert total == pytest.approx(BOARD.area, rel=1e-12)


def test_later_corners_are_rounded_and_earlier_ones_sharp() -> None:
    square = box(40, 30, 80, 70)
    field = BOARD.difference(square)
    pours = [pour("field", field), pour("square", square)]
    stages = plan_stages(pours, ((0,), (1,)), wood_around(pours), BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    # Four right corners of a disc of radius r: (4 - pi) r^2 = 0.8584 x 1.5875^2 = 2.1633 mm2.
    lost = (4 - math.pi) * 1.5875**2
    assert look.shape("square").area == pytest.approx(1600 - lost, rel=1e-4)
    field_loss, square_loss = find_losses(pours, look, narrow(pours, 3.275))
    assert square_loss.lost_mm2 == pytest.approx(lost, rel=0.02)
    assert square_loss.lost_of_kind_mm2("corner") == pytest.approx(square_loss.lost_mm2)
    assert len(square_loss.places) == 4
    # What the square loses the field keeps; the field itself loses its corners on the board.
    assert field_loss.lost_mm2 == pytest.approx(lost, rel=0.02)
    # The other way round the square has sharp corners: the field's are not corners to a bit.
    stages = plan_stages(pours, ((1,), (0,)), wood_around(pours), BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    square_loss = find_losses(pours, look, narrow(pours, 3.275))[1]
    assert square_loss.lost_mm2 == pytest.approx(0.0, abs=1e-6)


def test_a_line_between_two_later_pockets_is_left_standing() -> None:
    left, line, right = box(20, 20, 59, 80), box(59, 20, 60.2, 80), box(60.2, 20, 100, 80)
    pours = [pour("left", left), pour("line", line), pour("right", right)]
    wood, bits = wood_around(pours), BitChoice((FLAT,))
    early = plan_stages(pours, ((1,), (0,), (2,)), wood, bits, SETTINGS)
    look = fold_looks(early, BOARD, reach_of_bits(0.5))[-1]
    (loss,) = [
        found for found in find_losses(pours, look, narrow(pours, 3.275)) if found.pour == "line"
    ]
    assert loss.lost_mm2 < 0.5  # 1.2 mm wide, cut with a bit of 3.175 mm: only its ends suffer
    (standing,) = standing_lines(pours, early, look, narrow(pours, 3.275))
    assert (standing.pour, standing.stands) == ("line", True)
    assert standing.width_mm == pytest.approx(1.2, abs=0.02)
    # Poured last it must be cut to shape, and no bit fits.
    late = plan_stages(pours, ((0,), (2,), (1,)), wood, bits, SETTINGS)
    look = fold_looks(late, BOARD, reach_of_bits(0.5))[-1]
    (loss,) = [
        found for found in find_losses(pours, look, narrow(pours, 3.275)) if found.pour == "line"
    ]
    assert loss.lost_mm2 == pytest.approx(line.area)
    assert [place.kind for place in loss.places] == ["island"]
    assert standing_lines(pours, late, look, narrow(pours, 3.275)) == ()


def test_a_line_thinner_than_the_least_wall_is_told() -> None:
    left, line, right = box(20, 20, 59, 80), box(59, 20, 59.5, 80), box(59.5, 20, 100, 80)
    pours = [pour("left", left), pour("line", line), pour("right", right)]
    stages = plan_stages(
        pours, ((1,), (0,), (2,)), wood_around(pours), BitChoice((FLAT,)), SETTINGS
    )
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    (standing,) = standing_lines(pours, stages, look, narrow(pours, 3.275))
    assert not standing.stands
    assert standing.width_mm == pytest.approx(0.5, abs=0.02)


def test_islands_strokes_and_corners_are_told_apart() -> None:
    dot = Point(20, 20).buffer(1.0)
    spoon = shapely.union(Point(70, 50).buffer(12, quad_segs=64), box(30, 49, 70, 51))
    pours = [pour("spoon", shapely.MultiPolygon([dot, spoon]))]
    stages = plan_stages(pours, ((0,),), wood_around(pours), BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    (loss,) = find_losses(pours, look, narrow(pours, 3.275))
    assert loss.lost_of_kind_mm2("island") == pytest.approx(dot.area)
    # The handle is 2 mm wide and sticks out 70 - sqrt(12^2 - 1) - 30 = 28.04 mm.
    assert loss.lost_of_kind_mm2("narrow") == pytest.approx(56.1, abs=0.8)


def test_a_vee_cuts_corners_sharp_and_sloped_walls_are_right_at_the_finished_face() -> None:
    pours = [pour("square", box(40, 30, 80, 70))]
    stages = plan_stages(pours, ((0,),), wood_around(pours), BitChoice((VEE,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    (loss,) = find_losses(pours, look, narrow(pours, 0.0))
    assert loss.lost_mm2 < 0.01 * 1600 * 1e-2


def test_the_same_resin_elsewhere_is_no_loss() -> None:
    dot, ground = box(50, 40, 52, 42), box(30, 20, 90, 80).difference(box(50, 40, 52, 42))
    pours = [pour("ground", ground, "black"), pour("dot", dot, "black")]
    stages = plan_stages(pours, ((0,), (1,)), wood_around(pours), BitChoice((FLAT,)), SETTINGS)
    look = fold_looks(stages, BOARD, reach_of_bits(0.5))[-1]
    losses = find_losses(pours, look, narrow(pours, 3.275))
    # No bit enters the dot of 2 mm, but the ground's underlap goes through under it: black there.
    assert losses[1].lost_mm2 == pytest.approx(0.0, abs=1e-9)


def test_what_the_bits_leave_of_a_pocket_is_told() -> None:
    dot, square = Point(20, 20).buffer(1.0), box(40, 30, 80, 70)
    pours = [pour("both", shapely.MultiPolygon([dot, square]))]
    stages = plan_stages(pours, ((0,),), wood_around(pours), BitChoice((FLAT,)), SETTINGS)
    (uncut,) = find_uncut(stages, reach_of_bits(0.5))
    assert uncut.area_mm2 == pytest.approx(dot.area + (4 - math.pi) * 1.5875**2, rel=1e-2)
    assert uncut.shut == 1
    assert find_uncut(stages, lambda pocket: pocket.outline) == ()
    (nothing,) = find_uncut(stages, lambda pocket: shapely.MultiPolygon())
    assert nothing.shut == 2
