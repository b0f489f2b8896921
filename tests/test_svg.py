"""SVG of the design, rendered by an independent renderer and read as XML."""

from __future__ import annotations

import re
from io import BytesIO
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py
from PIL import Image

from img2pour.plane.regionmap import colour_areas
from img2pour.write.dxf import regions_dxf
from img2pour.write.layers import colour_layers
from img2pour.write.svg import regions_svg
from img2pour.write.values import Board
from tests.drawing_readers import even_odd_area, rings_by_layer
from tests.maps import HOSTILE_NAMES, disc_map, patchwork, placed_labels

SVG = "{http://www.w3.org/2000/svg}"
HEXES = ("#0000ff", "#ffcc00", "#ff0000", "#00ff00")
LAYERS = colour_layers(("blue", "gold", "red", "green"), HEXES)


def rendered(svg: bytes, px_per_mm: int = 10) -> np.ndarray:
    """Return the SVG as resvg paints it on white, (H, W, 3) int."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg.decode(), dpi=25.4 * px_per_mm, background="white", skip_system_fonts=True
    )
    return np.asarray(Image.open(BytesIO(bytes(png))).convert("RGB")).astype(int)


def gold_share(picture: np.ndarray) -> np.ndarray:
    """Return how much of each pixel is gold: neither blue nor the white paper lack blue light."""
    return 1 - picture[..., 2] / 255


def test_size_in_mm_and_one_unit_a_millimetre():
    root = ElementTree.fromstring(regions_svg(disc_map(80, 20), LAYERS[:2], Board(80.5, 60.25)))
    assert root.get("width") == "80.5mm"
    assert root.get("height") == "60.25mm"
    assert root.get("viewBox") == "0 0 80.5 60.25"


def test_renderer_sees_the_disc_where_it_is():
    picture = rendered(regions_svg(disc_map(80, 20), LAYERS[:2], Board(80, 80)))
    assert picture.shape == (800, 800, 3)
    gold = gold_share(picture)[5:-5, 5:-5]
    rows, columns = np.indices(gold.shape) + 5.5
    assert gold.sum() / 100 == pytest.approx(np.pi * 400, rel=3e-4)
    assert (rows * gold).sum() / gold.sum() == pytest.approx(400, abs=0.02)
    assert (columns * gold).sum() / gold.sum() == pytest.approx(400, abs=0.02)


def test_renderer_sees_every_pixel_of_a_patchwork():
    labels = patchwork(3)
    board = Board(24, 24)
    picture = rendered(regions_svg(placed_labels(labels), LAYERS, board))
    middles = picture[5::10, 5::10]
    palette = np.array([[int(code[i : i + 2], 16) for i in (1, 3, 5)] for code in HEXES])
    np.testing.assert_array_equal(middles, palette[labels])


def test_margin_and_outside_are_left_bare():
    labels = patchwork(5, outside=True)
    assert (labels == 255).any()
    board = Board(34, 30)
    svg = regions_svg(placed_labels(labels, 1.0, 6, 2), LAYERS, board)
    picture = rendered(svg)
    middles = picture[(30 - 2 - 24) * 10 + 5 : 280 : 10, 65:300:10]
    assert (middles[labels == 255] == 255).all()
    assert (picture[100, 15:50] == 255).all()


def test_areas_of_svg_dxf_and_map_agree(tmp_path):
    """Coverage by resvg and areas by GDAL, both against the map's closed form."""
    board_map, board = disc_map(100, 31), Board(100, 100)
    (tmp_path / "a.dxf").write_bytes(regions_dxf(board_map, LAYERS[:2], board))
    drawn = rings_by_layer(tmp_path / "a.dxf")
    blue, gold = colour_areas(board_map, 2)
    assert even_odd_area(drawn["BLUE"]) == pytest.approx(blue, rel=1e-5)
    assert even_odd_area(drawn["GOLD"]) == pytest.approx(gold, rel=1e-5)
    share = gold_share(rendered(regions_svg(board_map, LAYERS[:2], board)))[5:-5, 5:-5]
    assert share.sum() / 100 == pytest.approx(gold, rel=3e-4)


def test_one_group_a_colour_with_id_and_title_and_one_path_a_face():
    board_map = placed_labels(patchwork(1))
    root = ElementTree.fromstring(regions_svg(board_map, LAYERS, Board(24, 24)))
    groups = root.findall(f"{SVG}g")
    assert [group.get("id") for group in groups] == ["BLUE", "GOLD", "RED", "GREEN", "BOARD"]
    for index, group in enumerate(groups[:4]):
        assert group.get("fill-rule") == "evenodd"
        faces = int((board_map.face_colours == index).sum())
        assert len(group.findall(f"{SVG}path")) == faces


def test_hostile_names_stay_names():
    count = len(HOSTILE_NAMES)
    labels = np.repeat(np.repeat([np.arange(count)], 3, axis=0), 3, axis=1)
    layers = colour_layers(HOSTILE_NAMES, ["#aa2211"] * count)
    svg = regions_svg(placed_labels(labels), layers, Board(40, 40), title='"><script>&\x00\n')
    root = ElementTree.fromstring(svg)
    assert {element.tag for element in root.iter()} == {
        f"{SVG}{tag}" for tag in ("svg", "title", "g", "path", "rect")
    }
    ids = [group.get("id") for group in root.findall(f"{SVG}g")]
    assert len(set(ids)) == count + 1
    assert all(re.fullmatch(r"[A-Z_][A-Z0-9_-]*", name) for name in ids)
    titles = [group.findtext(f"{SVG}title") for group in root.findall(f"{SVG}g")]
    assert titles[1] == 'navy" <script>alert(1)</script>&'
    assert rendered(svg).shape == (400, 400, 3)


def test_no_numbers_but_numbers():
    svg = regions_svg(placed_labels(patchwork(2), 1e-3), LAYERS, Board(0.03, 0.03)).decode()
    for data in re.findall(r' d="([^"]*)"', svg):
        assert re.fullmatch(r"(?:[MLAZ]|-?\d+(?:\.\d+)?(?:e-\d+)?| )*", data)


def test_same_map_same_bytes():
    made = {regions_svg(placed_labels(patchwork(4)), LAYERS, Board(24, 24)) for _ in range(2)}
    assert len(made) == 1
