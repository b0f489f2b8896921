"""The carved board in 3D, measured by an independent mesh library."""

import io
import json
import math
import struct

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.carve.board3d import CutPockets, board_mesh
from img2pour.carve.pockets import PocketSettings, pocket_volumes
from img2pour.carve.profile import Profile
from img2pour.errors import GeometryError, OutputError
from img2pour.write import glb
from img2pour.write.glb import glb_bytes

FRAME = shapely.box(0, 0, 120, 80)
THICKNESS = 18.0
FLAT = Profile(1.5875, 0.0, 0.0, 1.5875)
VEE = Profile(0.0, 0.0, math.radians(30), 30.0)
TAPER = Profile(0.0, 0.5, math.radians(6.2), 3.0)
PLAIN = PocketSettings(3.175, 0.0)


def several(*polygons):
    return np.array(polygons, dtype=object)


def solid(*pockets, frame=FRAME):
    made = board_mesh(frame, THICKNESS, pockets)
    return trimesh.Trimesh(made.vertices, made.triangles, process=False)


def assert_closed(mesh):
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0


def test_a_plain_board_is_a_box():
    mesh = solid()
    assert_closed(mesh)
    assert mesh.volume == pytest.approx(120 * 80 * 18)
    assert mesh.bounds.tolist() == [[0, 0, 0], [120, 80, 18]]


SHAPES = several(
    shapely.box(10, 10, 40, 30),
    shapely.Point(70, 25).buffer(12, quad_segs=16) - shapely.Point(70, 25).buffer(6, quad_segs=16),
    shapely.LineString([(15, 50), (60, 60), (100, 45)]).buffer(1.2, quad_segs=8),
    shapely.Polygon([(90, 10), (112, 14), (100, 34)]),
)


@pytest.mark.parametrize(
    "bits", [(FLAT,), (VEE,), (TAPER,), (FLAT, VEE)], ids=["flat", "vee", "taper", "both"]
)
def test_the_wood_left_is_the_board_less_the_pockets(bits):
    mesh = solid(CutPockets(SHAPES, bits, PLAIN))
    assert_closed(mesh)
    expected = 120 * 80 * 18 - pocket_volumes(SHAPES, bits, PLAIN).sum()
    assert mesh.volume == pytest.approx(expected, rel=1e-3)
    assert mesh.bounds.tolist() == [[0, 0, 0], [120, 80, 18]]


def test_a_frustum_by_hand():
    """A square of 30 mm cut 3 mm deep with 60 degrees."""
    mesh = solid(CutPockets(several(shapely.box(10, 10, 40, 40)), (VEE,), PocketSettings(3.0, 0)))
    floor = 30 - 6 * math.tan(math.radians(30))
    removed = 120 * 80 * 18 - mesh.volume
    assert removed == pytest.approx(3 / 3 * (900 + 30 * floor + floor**2), rel=1e-3)


def test_the_board_is_shown_after_surfacing():
    mesh = solid(
        CutPockets(several(shapely.box(10, 10, 40, 40)), (FLAT,), PocketSettings(3.5, 0.5))
    )
    floor = mesh.vertices[:, 2][np.abs(mesh.vertices[:, 2] - 15.0) < 1e-9]
    assert len(floor) > 0
    corners = (4 - math.pi) * 1.5875**2
    assert 120 * 80 * 18 - mesh.volume == pytest.approx(3 * (900 - corners), rel=1e-3)


def test_pockets_of_several_depths_and_at_the_edge():
    deep = CutPockets(several(shapely.box(-5, 20, 50, 60)), (FLAT,), PocketSettings(6.0, 0.0))
    shallow = CutPockets(several(shapely.box(40, 10, 90, 50)), (FLAT,), PocketSettings(2.0, 0.0))
    mesh = solid(deep, shallow)
    assert_closed(mesh)
    assert mesh.bounds.tolist() == [[0, 0, 0], [120, 80, 18]]
    removed = 120 * 80 * 18 - mesh.volume
    assert removed == pytest.approx(6 * 50 * 40 + 2 * (50 * 40 - 10 * 30), rel=5e-3)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.floats(0, 110), st.floats(0, 70), st.floats(1, 30), st.integers(3, 12)),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from([(FLAT,), (VEE,), (FLAT, VEE)]),
)
def test_the_mesh_closes_whatever_is_cut(places, bits):
    polygons = several(*(shapely.Point(x, y).buffer(r, quad_segs=n) for x, y, r, n in places))
    assert_closed(solid(CutPockets(polygons, bits, PLAIN)))


def test_pockets_that_touch_in_a_point_leave_level_floors():
    squares = several(shapely.box(10, 10, 40, 40), shapely.box(40, 40, 70, 70))
    made = board_mesh(FRAME, THICKNESS, [CutPockets(squares, (VEE,), PLAIN)])
    mesh = trimesh.Trimesh(made.vertices, made.triangles, process=False)
    assert_closed(mesh)
    on_floor = np.abs(mesh.triangles[:, :, 2] - (THICKNESS - 3.175)).max(axis=1) < 1e-9
    side = 30 - 2 * 3.175 * math.tan(math.radians(30))
    assert mesh.area_faces[on_floor].sum() == pytest.approx(2 * side**2, rel=1e-3)


def test_a_pocket_through_the_board_is_refused():
    through = CutPockets(SHAPES, (FLAT,), PocketSettings(20.0, 0.0))
    with pytest.raises(GeometryError, match="20 mm deep"):
        board_mesh(FRAME, THICKNESS, [through])


def test_the_file_is_read_back_in_metres_with_y_up():
    made = board_mesh(FRAME, THICKNESS, [CutPockets(SHAPES, (FLAT, VEE), PLAIN)])
    data = glb_bytes(made.vertices, made.triangles, version="1")
    assert len(data) <= 15_000_000
    read = trimesh.load(io.BytesIO(data), file_type="glb", force="mesh", process=False)
    # Not a corner is joined by the reader: the file itself shares them.
    assert len(read.vertices) == len(made.vertices)
    assert_closed(read)
    size = read.bounds[1] - read.bounds[0]
    assert size.tolist() == pytest.approx([0.120, 0.018, 0.080], abs=1e-7)
    assert read.volume == pytest.approx(
        trimesh.Trimesh(*vars(made).values()).volume * 1e-9, rel=1e-5
    )


def test_the_file_keeps_to_the_layout_of_the_standard():
    """Section 4.4 of glTF 2.0: header, JSON padded with spaces, binary part, lengths of 4."""
    made = board_mesh(FRAME, THICKNESS, [])
    data = glb_bytes(made.vertices, made.triangles)
    magic, version, total = struct.unpack_from("<4sII", data)
    assert (magic, version, total) == (b"glTF", 2, len(data))
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert (kind, length % 4) == (b"JSON", 0)
    document = json.loads(data[20 : 20 + length])
    assert document["nodes"][0]["scale"] == [0.001, 0.001, 0.001]
    binary, kind = struct.unpack_from("<I4s", data, 20 + length)
    assert (kind, binary % 4, 28 + length + binary) == (b"BIN\0", 0, len(data))
    assert document["accessors"][0]["max"] == [120.0, 18.0, 0.0]


def test_a_file_that_would_be_too_large_is_refused(monkeypatch):
    monkeypatch.setattr(glb, "MOST_BYTES", 500)
    made = board_mesh(FRAME, THICKNESS, [])
    with pytest.raises(OutputError, match="limit"):
        glb_bytes(made.vertices, made.triangles)
