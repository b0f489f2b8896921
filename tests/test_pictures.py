"""Pictures of the board, compared pixel by pixel with areas known by arithmetic."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from img2pour.write.coverage import Edges, paint
from img2pour.write.losses import PlacedSign, losses_png, place_labels
from img2pour.write.marks import SIGNS, draw_sign, sign_reach
from img2pour.write.pictures import RIM_PX, WOOD_TONE, Canvas, finished_png
from img2pour.write.values import Board, Mark
from tests.maps import disc_map, patchwork, placed_labels

BLACK, WHITE = np.zeros(3), np.full(3, 255.0)
FILLS = ("#0000ff", "#ffcc00", "#ff0000", "#00ff00")


def opened(png: bytes) -> np.ndarray:
    return np.asarray(Image.open(BytesIO(png)).convert("RGB")).astype(int)


def rgb(code: str) -> list[int]:
    return [int(code[i : i + 2], 16) for i in (1, 3, 5)]


def polygon_edges(points: np.ndarray) -> Edges:
    """Return the edges of a white polygon on black, its corners clockwise as seen, y down."""
    steps = np.tile(-WHITE, (len(points), 1))
    return Edges(points, np.roll(points, -1, axis=0), steps)


def test_square_map_is_exact_to_the_pixel():
    """Eight pixels of the picture a pixel of the labels: every one has its own colour."""
    labels = patchwork(3)
    side = 24 * 8 + 2 * RIM_PX
    png = finished_png(placed_labels(labels), FILLS, Board(24, 24), longest_side_px=side)
    picture = opened(png)
    assert picture.shape == (side, side, 3)
    inner = picture[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX]
    palette = np.array([rgb(code) for code in FILLS])
    np.testing.assert_array_equal(inner, np.kron(palette[labels], np.ones((8, 8, 1))))


def test_half_pixels_are_half_covered():
    """A map laid half a pixel off: every border pixel is the mean of its neighbours."""
    labels = np.zeros((4, 4), np.uint8)
    labels[:, 2:] = 1
    board_map = placed_labels(labels, 1.0, 0.5, 0.5)
    side = 5 + 2 * RIM_PX
    png = finished_png(
        board_map, ("#000000", "#c8c8c8"), Board(5, 5), ground="#646464", longest_side_px=side
    )
    inner = opened(png)[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX, 0]
    # 100 around, 0 on the left, 200 on the right.
    np.testing.assert_array_equal(inner[2], [50, 0, 100, 200, 150])
    np.testing.assert_array_equal(inner[0], [75, 50, 100, 150, 125])


def test_disc_covers_its_area():
    png = finished_png(disc_map(80, 20), ("#000000", "#ffffff"), Board(80, 80))
    picture = opened(png)[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX, 0] / 255
    px_per_mm = (2000 - 2 * RIM_PX) / 80
    assert picture.sum() / px_per_mm**2 == pytest.approx(np.pi * 400, rel=3e-5)
    middle = (len(picture) - 1) / 2
    rows, columns = np.indices(picture.shape)
    assert (rows * picture).sum() / picture.sum() == pytest.approx(middle, abs=0.01)
    assert (columns * picture).sum() / picture.sum() == pytest.approx(middle, abs=0.01)


@given(st.lists(st.tuples(st.floats(0, 20), st.floats(0, 15)), min_size=3, max_size=3, unique=True))
@settings(derandomize=True, max_examples=150, deadline=None)
def test_triangles_cover_their_area(corners):
    points = np.array(corners)
    (x0, y0), (x1, y1), (x2, y2) = corners
    doubled = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
    # Positive with y down means clockwise as seen.
    picture = paint([polygon_edges(points if doubled > 0 else points[::-1])], BLACK, (15, 20))
    # Each pixel that an edge crosses is rounded to one of 256 levels.
    assert picture[..., 0].sum() / 255 == pytest.approx(abs(doubled) / 2, abs=0.15)


def test_slope_against_arithmetic():
    """A line across a grid of 4 x 2: it cuts a quarter or three quarters off each pixel."""
    triangle = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 2.0)])
    picture = paint([polygon_edges(triangle)], BLACK, (2, 4))[..., 0]
    np.testing.assert_array_equal(picture, [[64, 191, 255, 255], [0, 0, 64, 191]])


def test_neighbours_show_no_seam():
    """Pixels along the edge of two greens hold nothing of the ground below."""
    board_map = disc_map(80, 20)
    png = finished_png(board_map, ("#00ff00", "#00f000"), Board(80, 80), ground="#ff00ff")
    inner = opened(png)[RIM_PX + 1 : -RIM_PX - 1, RIM_PX + 1 : -RIM_PX - 1]
    assert inner[..., 0].max() == 0
    assert inner[..., 2].max() == 0
    assert inner[..., 1].min() == 240


def test_wood_paper_and_outside():
    labels = patchwork(5, outside=True)
    side = 40 * 5 + 2 * RIM_PX
    board_map = placed_labels(labels, 1.0, 10, 3)
    picture = opened(finished_png(board_map, FILLS, Board(40, 30), longest_side_px=side))
    assert picture.shape == (30 * 5 + 2 * RIM_PX, side, 3)
    inner = picture[RIM_PX:-RIM_PX, RIM_PX:-RIM_PX][2::5, 2::5]
    assert inner[10, 2].tolist() == rgb(WOOD_TONE)
    art = inner[3:27, 10:34]
    assert (art[labels == 255] == 255).all()
    palette = np.array([rgb(code) for code in FILLS])
    np.testing.assert_array_equal(art[labels != 255], palette[labels[labels != 255]])
    assert (picture[:10] == 255).all()


@pytest.mark.parametrize("size", [(533.4, 361.95), (20, 900), (0.5, 0.5), (3000, 1)])
def test_longest_side_is_2000_at_most(size):
    canvas = Canvas.of(Board(*size))
    assert max(canvas.width_px, canvas.height_px) == 2000
    assert min(canvas.width_px, canvas.height_px) > 2 * RIM_PX


def test_board_has_an_outline():
    picture = opened(finished_png(disc_map(80, 20), FILLS[:2], Board(80, 80), ground="#ffffff"))
    row = picture[1000, :, 0]
    assert row[: RIM_PX - 2].min() == 255
    assert row[RIM_PX - 2 : RIM_PX].tolist() == [64, 64]
    assert row[RIM_PX] == 0


def test_same_map_same_bytes():
    made = {finished_png(disc_map(80, 20), FILLS[:2], Board(90, 80)) for _ in range(2)}
    assert len(made) == 1


def marks(count: int, seed: int = 1) -> list[Mark]:
    random = np.random.default_rng(seed)
    kinds = list(SIGNS)
    places = random.uniform(2, 78, (count, 2)).tolist()
    return [
        Mark(i + 1, kinds[i % len(kinds)], (x, y), float(random.uniform(0.1, 9)))
        for i, (x, y) in enumerate(places)
    ]


def test_marks_stand_where_they_belong():
    def picture(marks: list[Mark]) -> np.ndarray:
        png = losses_png(disc_map(80, 20), FILLS[:2], Board(80, 80), marks, longest_side_px=640)
        return opened(png)[:640]

    # 20 mm from the left and 20 mm from the top.
    middle = RIM_PX + 20 * (640 - 2 * RIM_PX) / 80
    for kind in SIGNS:
        changed = np.argwhere((picture([Mark(1, kind, (20, 60), 4)]) != picture([])).any(axis=2))
        assert np.abs(changed.min(axis=0) - middle).max() < 140
        assert np.abs(changed.max(axis=0) - middle).max() < 140


def test_signs_differ_without_colour():
    """Drawn in grey, no two kinds look alike: at least a tenth of their pixels differ."""
    drawn = {}
    for kind in SIGNS:
        picture = np.full((120, 160, 3), 128, np.uint8)
        draw_sign(picture, kind, 80.0, 60.0, 30.0)
        drawn[kind] = (picture != 128).any(axis=2)
    kinds = list(drawn)
    for index, kind in enumerate(kinds):
        for other in kinds[index + 1 :]:
            differs = (drawn[kind] ^ drawn[other]).sum()
            assert differs > 0.1 * max(drawn[kind].sum(), drawn[other].sum())


def test_signs_stay_within_their_reach():
    for kind in SIGNS:
        picture = np.full((200, 300, 3), 128, np.uint8)
        draw_sign(picture, kind, 150.0, 100.0, 30.0)
        rows, columns = np.nonzero((picture != 128).any(axis=2))
        across, up = sign_reach(kind, 30.0)
        assert np.abs(columns + 0.5 - 150).max() <= across + 4
        assert np.abs(rows + 0.5 - 100).max() <= up + 4


@given(st.integers(0, 1000), st.integers(1, 60))
@settings(derandomize=True, max_examples=30, deadline=None)
def test_labels_overlap_neither_each_other_nor_signs(seed, count):
    random = np.random.default_rng(seed)
    signs = [
        PlacedSign(Mark(i + 1, "lost", (0, 0), 1), *random.uniform(40, 560, 2), 18.0)
        for i in range(count)
    ]
    labels = place_labels(signs, (600, 600))
    boxes = [label.box for label in labels]
    rings = [(s.x - 18, s.y - 18, s.x + 18, s.y + 18) for s in signs]
    for index, box in enumerate(boxes):
        assert min(box) >= 0
        assert max(box) <= 600
        for other in boxes[index + 1 :] + rings:
            apart_x = box[2] <= other[0] or other[2] <= box[0]
            apart_y = box[3] <= other[1] or other[3] <= box[1]
            assert apart_x or apart_y
    assert len({label.sign.mark.number for label in labels}) == len(labels)


def test_twenty_places_all_get_their_number():
    canvas = Canvas.of(Board(80, 80))
    placed = [PlacedSign(m, *canvas.point(*m.at_mm), 18.0) for m in marks(20)]
    assert len(place_labels(placed, (canvas.width_px, canvas.height_px))) == 20


def test_key_counts_every_kind():
    none = opened(losses_png(disc_map(80, 20), FILLS[:2], Board(80, 80), []))
    some = opened(losses_png(disc_map(80, 20), FILLS[:2], Board(80, 80), marks(12)))
    assert some.shape[1] == none.shape[1] == 2000
    assert some.shape[0] > none.shape[0] > 2000
    assert (none[2000:] < 100).any()


def test_losses_same_bytes():
    made = {losses_png(disc_map(80, 20), FILLS[:2], Board(80, 80), marks(9)) for _ in range(2)}
    assert len(made) == 1
