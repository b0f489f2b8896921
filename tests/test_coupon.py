"""The coupon holds every size of the job, smaller and larger, and nothing overlaps."""

import numpy as np
import pytest
import shapely

from img2pour.carve.coupon import CouponSizes, make_coupon
from img2pour.errors import SettingsError
from tests.thin import thin_places

SIZES = CouponSizes(stroke_mm=1.0, wall_mm=1.6, border_mm=2.0, depth_mm=4.0, widest_bit_mm=6.35)


def trials(kind, sizes=SIZES):
    return [trial for trial in make_coupon(sizes).trials if trial.kind == kind]


@pytest.mark.parametrize(("kind", "size"), [("stroke", 1.0), ("wall", 1.6), ("border", 2.0)])
def test_each_size_is_tried_smaller_as_it_is_and_larger(kind, size):
    assert [t.size_mm for t in trials(kind)] == pytest.approx([0.8 * size, size, 1.25 * size])
    assert all(trial.depth_mm == 4.0 for trial in trials(kind))


def test_depths_rise_to_that_of_the_job():
    assert [trial.depth_mm for trial in trials("depth")] == [1.0, 2.0, 3.0, 4.0]


def test_strokes_and_walls_measure_what_they_say():
    for trial in trials("stroke"):
        found = thin_places(np.array(trial.pockets, dtype=object), 3.0)
        assert found[0].width_mm == pytest.approx(trial.size_mm, rel=0.01)
    for trial in trials("wall"):
        assert trial.pockets[0].distance(trial.pockets[1]) == pytest.approx(trial.size_mm)
    for trial in trials("border"):
        outer, inner = trial.pockets
        assert outer.exterior.distance(inner) == pytest.approx(trial.size_mm)


def test_trials_lie_apart_on_the_offcut():
    coupon = make_coupon(SIZES)
    shapes = [shapely.union_all(trial.pockets) for trial in coupon.trials]
    assert coupon.frame.bounds[:2] == (0.0, 0.0)
    for index, shape in enumerate(shapes):
        assert coupon.frame.buffer(-7.99).contains(shape)
        assert all(shape.distance(other) >= 5.99 for other in shapes[:index])


def test_what_the_job_has_not_is_left_out():
    coupon = make_coupon(CouponSizes(None, None, None, 3.0, 6.35))
    assert {trial.kind for trial in coupon.trials} == {"depth"}


def test_sizes_have_to_be_positive():
    with pytest.raises(SettingsError, match="coupon size 0 mm"):
        CouponSizes(0.0, None, None, 3.0, 6.35)
