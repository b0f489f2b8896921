"""Truth: the photos' own cameras. Sizes: ISO 216, ANSI/ASME Y14.1 sheets, ISO/IEC 7810 card."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from shapely import affinity, box

from img2pour.errors import SettingsError
from img2pour.straighten import (
    Lens,
    find_sheet,
    mm_per_px_between,
    sheet_by_proportion,
    sheet_size,
    straighten,
)
from tests.photos.drawings import Drawing
from tests.photos.maker import Scene, take_photo
from tests.photos.scenes import (
    SUITE_PX,
    as_picture,
    corner_error_px,
    flat_photo,
    flat_straight,
    output_points,
)

TWELVE = range(12)


@pytest.mark.parametrize("number", TWELVE)
def test_corners_lie_within_two_pixels_and_are_sure(number: int) -> None:
    photo = flat_photo(number)
    found = find_sheet(photo.rgb)
    assert found.is_sure, found.why
    assert corner_error_px(found.corners_px, photo) < 2.0


@pytest.mark.parametrize("number", TWELVE)
def test_matrix_takes_the_sheet_to_the_whole_picture(number: int) -> None:
    photo, done = flat_photo(number), flat_straight(number)
    width, height = photo.drawing.size_mm
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    placed = output_points(photo, done, corners)
    rows, columns = done.picture.rgb.shape[:2]
    frame = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]])
    turns = [np.abs(placed - np.roll(frame, turn, axis=0)).max() for turn in range(4)]
    assert min(turns) < 2.5


@pytest.mark.parametrize("number", TWELVE)
def test_bulge_is_found_when_there_is_one_and_only_then(number: int) -> None:
    photo = flat_photo(number)
    lens = flat_straight(number).lens
    if photo.scene.bulge == 0:
        assert lens is None or abs(lens.k) < 0.001
    else:
        assert lens is not None
        assert abs(lens.k - photo.scene.bulge) < 0.002


@pytest.mark.parametrize("number", TWELVE)
def test_a_sheets_and_letter_are_told_apart(number: int) -> None:
    photo = flat_photo(number)
    done = straighten(as_picture(photo.rgb), sheet="auto")
    name = "letter" if photo.drawing.sheet == "letter" else "a4"
    sides = sorted(done.size_mm)
    assert sides == pytest.approx(sorted(sheet_size(name, landscape=False)))


def test_published_sheet_sizes() -> None:
    assert sheet_size("a4", landscape=False) == (210.0, 297.0)  # ISO 216
    assert sheet_size("a3", landscape=True) == (420.0, 297.0)  # ISO 216
    assert sheet_size("letter", landscape=False) == pytest.approx((215.9, 279.4))  # 8.5 x 11 in
    assert sheet_size("legal", landscape=False) == pytest.approx((215.9, 355.6))  # 8.5 x 14 in
    assert sheet_size("tabloid", landscape=False) == pytest.approx((279.4, 431.8))  # 11 x 17 in
    assert sheet_by_proportion(1.4142) == "a4"
    assert sheet_by_proportion(1 / 1.2941) == "letter"
    assert sheet_by_proportion(2.1) is None


def test_lens_there_and_back_is_the_same_point() -> None:
    points = np.random.default_rng(1).uniform(0, 4000, (200, 2))
    for k in (-0.05, 0.0, 0.02, 0.1):
        lens = Lens.of_frame((4000, 3000), k)
        assert np.abs(lens.seen(lens.straight(points)) - points).max() < 1e-6


def _poster() -> np.ndarray:
    """Draw a digital poster with a tilted frame, as tempting as can be."""
    rgb = np.full((700, 900, 3), (40, 60, 110), np.uint8)
    corners = np.array([[150, 90], [760, 160], [700, 600], [110, 520]], np.int32)
    cv2.fillPoly(rgb, [corners], (245, 240, 230), cv2.LINE_AA)
    cv2.circle(rgb, (420, 340), 120, (200, 40, 40), -1, cv2.LINE_AA)
    return rgb


@pytest.mark.parametrize("quality", [None, 92, 75])
def test_digital_artwork_is_the_very_same_object(quality: int | None) -> None:
    rgb = _poster()
    if quality is not None:
        data = cv2.imencode(".jpg", rgb, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
        rgb = cv2.imdecode(data, cv2.IMREAD_COLOR)
    picture = as_picture(rgb)
    done = straighten(picture)
    assert done.picture is picture
    assert np.array_equal(done.matrix, np.eye(3))
    assert done.lens is None


def test_off_leaves_even_a_photo_alone() -> None:
    picture = as_picture(flat_photo(0).rgb)
    assert straighten(picture, "off").picture is picture


@pytest.mark.parametrize("kind", ["black", "noise", "table", "ramp"])
def test_without_a_sheet_nothing_is_done(kind: str) -> None:
    rng = np.random.default_rng(3)
    rgb = np.zeros((600, 800, 3), np.uint8)
    if kind == "noise":
        rgb = rng.integers(0, 255, rgb.shape, np.uint8)
    if kind == "table":
        rgb = flat_photo(0).rgb[:160, :].copy()
    if kind == "ramp":
        rgb += np.linspace(0, 250, 800).astype(np.uint8)[None, :, None]
        rgb = np.clip(rgb + rng.normal(0, 3, rgb.shape), 0, 255).astype(np.uint8)
    picture = as_picture(rgb)
    done = straighten(picture)
    assert done.picture is picture
    assert done.notes


def test_a_sheet_cut_by_the_frame_is_left_alone() -> None:
    photo = flat_photo(0)
    cut = photo.rgb[:, int(photo.corners_px[:, 0].min()) + 60 :]
    picture = as_picture(cut)
    assert straighten(picture).picture is picture


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ((slice(None), slice(170, None)), "on the left"),
        ((slice(120, None), slice(None)), "at the top"),
    ],
)
def test_a_sheet_that_the_frame_cuts_is_told_so(part: tuple[slice, slice], words: str) -> None:
    photo = flat_photo(1)
    picture = as_picture(photo.rgb[part])
    done = straighten(picture)
    assert done.picture is picture
    assert "step back" in done.notes[0]
    assert words in done.notes[0]


def test_given_corners_are_used_either_way_round() -> None:
    photo = flat_photo(1)
    corners = find_sheet(photo.rgb).corners_px
    one = straighten(as_picture(photo.rgb), corners)
    two = straighten(as_picture(photo.rgb), corners[[0, 3, 2, 1]])
    assert np.allclose(one.matrix, two.matrix)


@pytest.mark.parametrize(
    ("corners", "word"),
    [
        ([(10, 10), (500, 400), (500, 10), (10, 400)], "cross"),
        ([(10, 10), (200, 10), (500, 10), (10, 400)], "one line"),
        ([(10, 10), (10, 10), (500, 400), (10, 400)], "same spot"),
        ([(10, 10), (9000, 10), (500, 400), (10, 400)], "outside"),
        ([(10, 10), (500, 10), (500, 400)], "four corners"),
        ([(10, 10), (500, 10), (500, float("nan")), (10, 400)], "four corners"),
    ],
)
def test_bad_corners_are_refused_in_clear_words(corners: list, word: str) -> None:
    with pytest.raises(SettingsError, match=word):
        straighten(as_picture(flat_photo(0).rgb), corners)


def test_unknown_wishes_and_sheets_are_refused() -> None:
    picture = as_picture(flat_photo(0).rgb)
    with pytest.raises(SettingsError, match="auto, off or four corners"):
        straighten(picture, "maybe")
    with pytest.raises(SettingsError, match="unknown sheet 'b9'"):
        straighten(picture, sheet="b9")


def _photo_with_card() -> tuple[np.ndarray, np.ndarray, float]:
    """Photograph a white A4 sheet and a card (ISO/IEC 7810: 85.60 x 53.98 mm) on a board."""
    sheet = box(20, 20, 230, 317)
    card = affinity.rotate(box(260, 120, 260 + 53.98, 120 + 85.60), 12)
    board = Drawing(
        "board",
        (350.0, 340.0),
        ((72, 62, 54), (250, 250, 246), (212, 120, 60), (30, 60, 120)),
        ((1, sheet.difference(box(80, 80, 160, 160))), (2, card), (3, box(80, 80, 160, 160))),
    )
    photo = take_photo(board, Scene(table="dark", shadow="none", tilt_deg=14), 5, SUITE_PX)
    corners = np.array([[20.0, 20], [230, 20], [230, 317], [20, 317]])
    return photo.rgb, photo.photo_points(corners), 210 / 297


def test_a_card_beside_the_sheet_gives_its_size() -> None:
    rgb, corners, _ = _photo_with_card()
    done = straighten(as_picture(rgb), corners, sheet="card")
    assert done.size_mm is not None, done.notes
    assert sorted(done.size_mm) == pytest.approx([210.0, 297.0], rel=0.006)


def test_without_a_card_the_size_stays_unknown() -> None:
    done = straighten(as_picture(flat_photo(2).rgb), sheet="card")
    assert done.size_mm is None
    assert any("card" in note for note in done.notes)


def test_two_points_and_a_length_give_the_scale() -> None:
    photo = flat_photo(3)
    done = straighten(as_picture(photo.rgb), sheet=photo.drawing.sheet)
    ends_mm = np.array([[30.0, 40.0], [120.0, 110.0]])
    one, two = photo.photo_points(ends_mm)
    length = float(np.hypot(*(ends_mm[1] - ends_mm[0])))
    scale = mm_per_px_between(tuple(one), tuple(two), length, done.matrix, done.lens)
    assert scale == pytest.approx(done.mm_per_px, rel=0.004)


def test_bad_measures_are_refused() -> None:
    with pytest.raises(SettingsError, match="above zero"):
        mm_per_px_between((0, 0), (100, 0), 0.0, np.eye(3))
    with pytest.raises(SettingsError, match="farther apart"):
        mm_per_px_between((10, 10), (12, 10), 50.0, np.eye(3))


@pytest.mark.parametrize("turn_deg", [-2.4, 0.8, 3.1])
def test_a_small_turn_of_a_scan_is_taken_out(turn_deg: float) -> None:
    page = np.full((900, 1200, 3), 244, np.uint8)
    cv2.rectangle(page, (200, 180), (1000, 700), (40, 60, 120), 14)
    cv2.rectangle(page, (320, 300), (700, 560), (190, 60, 50), -1)
    matrix = cv2.getRotationMatrix2D((600, 450), -turn_deg, 1.0)
    turned = cv2.warpAffine(page, matrix, (1200, 900), borderMode=cv2.BORDER_REPLICATE)
    noise = np.random.default_rng(2).normal(0, 2.5, turned.shape)
    scan = as_picture(np.clip(turned + noise, 0, 255).astype(np.uint8))
    done = straighten(scan)
    across, down = done.matrix[0, 0], done.matrix[1, 0]
    assert np.degrees(np.arctan2(-down, across)) == pytest.approx(turn_deg, abs=0.1)


def test_transparent_parts_go_along() -> None:
    photo = flat_photo(0)
    outside = np.zeros(photo.rgb.shape[:2], bool)
    middle = photo.corners_px.mean(axis=0).astype(int)
    outside[middle[1] - 30 : middle[1] + 30, middle[0] - 30 : middle[0] + 30] = True
    picture = as_picture(photo.rgb)
    done = straighten(type(picture)(picture.rgb, outside, None, picture.sha256))
    share = done.picture.outside.mean() * done.picture.outside.size
    assert share == pytest.approx(3600, rel=0.4)
