"""What lies at a point: there and back, faces, pockets; by closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from img2pour.artwork import Geometry
from img2pour.job.build import make_job
from img2pour.picture import picture_from_array
from img2pour.pipeline import convert
from img2pour.plane.placement import picture_placement
from img2pour.pointing import board_mm, face_at, pocket_at, upright_px
from img2pour.sizing import Sizing
from img2pour.straighten import Lens

SIZING = Sizing(200.0, 100.0, picture_placement(400.0, 0.25))


def turned(angle_deg: float) -> Geometry:
    """Return the geometry of a picture that is turned about its corner."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return Geometry(np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]]), None, None, ())


def test_a_quarter_turn_is_undone_by_hand() -> None:
    # Artwork x = -y, y = x of the upright input; 0.25 mm a pixel, y up from the lower edge.
    assert board_mm((120.0, -80.0), SIZING, turned(90)) == pytest.approx((20.0, 70.0))
    assert upright_px((20.0, 70.0), SIZING, turned(90)) == pytest.approx((120.0, -80.0))


@pytest.mark.parametrize("lens", [None, Lens((400.0, 200.0), 450.0, 0.08)])
@pytest.mark.parametrize("angle", [0.0, 17.0, 180.0])
def test_there_and_back(angle: float, lens: Lens | None) -> None:
    matrix = turned(angle).matrix
    geometry = Geometry(matrix, lens, None, ())
    for at_px in ((10.0, 20.0), (333.3, 111.1), (799.0, 399.0)):
        there = board_mm(at_px, SIZING, geometry)
        assert upright_px(there, SIZING, geometry) == pytest.approx(at_px, abs=1e-3)


def test_the_face_at_a_point_minds_holes() -> None:
    ring = shapely.Polygon(shapely.box(0, 0, 10, 10).exterior, [shapely.box(4, 4, 6, 6).exterior])
    polygons = np.array([ring, shapely.box(4, 4, 6, 6)], dtype=object)
    assert face_at(polygons, (1.0, 1.0)) == 0
    assert face_at(polygons, (5.0, 5.0)) == 1
    assert face_at(polygons, (11.0, 5.0)) is None
    assert face_at(polygons, (4.0, 5.0)) == 0


def test_the_pocket_that_shows_is_that_of_the_last_stage() -> None:
    rgb = np.full((200, 300, 3), (233, 216, 166), np.uint8)
    rgb[40:160, 60:240] = (11, 31, 58)
    rgb[80:120, 120:180] = (174, 32, 18)
    job = make_job(size={"width": "300 mm"}, seal={"kind": "none"})
    result = convert(picture_from_array(rgb), job, extent="planned")
    assert result.planned is not None
    outer = pocket_at(result.planned, (80.0, 100.0))
    inner = pocket_at(result.planned, (150.0, 100.0))
    assert outer is not None
    assert inner is not None
    assert outer.stage.number == 1
    assert inner.stage.number == 2
    assert outer.floor_mm == pytest.approx(19.05 - 3.175)
    assert outer.fill is not None
    # The inner pour is cut 0.4 mm shallower (the job's own default).
    assert inner.floor_mm - outer.floor_mm == pytest.approx(0.4)
    below = pocket_at(result.planned, (150.0, 100.0), stage=1)
    assert below is None  # the ring is not carried that far under what it encloses
    under = pocket_at(result.planned, (121.0, 100.0), stage=1)
    assert under is not None  # but 2 mm far it is
    assert under.stage.number == 1
    assert pocket_at(result.planned, (10.0, 10.0)) is None
