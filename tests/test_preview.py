"""The half-size preview: the same colours and, within two pixels, the same regions."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from img2pour.job.build import make_job
from img2pour.picture import picture_from_array
from img2pour.plane.shapes import face_polygons
from img2pour.preview import PREVIEW_STEPS, Preview, is_half_worth_it, preview_of
from img2pour.steps import Workbench

SAND, NAVY = (233, 216, 166), (11, 31, 58)


def bench(pixels: tuple[int, int] = (401, 301), **job: object) -> Workbench:
    """Return a workbench over a navy box on sand; odd sides lose their last row and column."""
    width, height = pixels
    rgb = np.full((height, width, 3), SAND, np.uint8)
    rgb[60:200, 100:300] = NAVY
    return Workbench(PREVIEW_STEPS, picture_from_array(rgb), "box", make_job(**job), Path())


def box_of(preview: Preview) -> shapely.Geometry:
    """Return the navy region."""
    index = next(i for i, one in enumerate(preview.colours) if one.role == "pour")
    polygons = face_polygons(preview.region_map, 0.01)
    colours = preview.region_map.face_colours
    (found,) = (polygons[face] for face in np.flatnonzero(colours == index))
    return found


@pytest.mark.parametrize("half", [True, False])
def test_without_a_size_it_is_in_pixels(half: bool) -> None:
    preview = preview_of(bench(), half)
    assert (preview.width, preview.height, preview.mm_per_px) == (401, 301, None)
    # y up: rows 60 to 200 of 301 lie at 101 to 241.
    assert box_of(preview).bounds == pytest.approx((100, 101, 300, 241), abs=1.0 if half else 0.1)


@pytest.mark.parametrize("half", [True, False])
def test_with_a_size_it_lies_on_the_board(half: bool) -> None:
    preview = preview_of(bench(size={"width": "802 mm"}), half)
    assert preview.mm_per_px == pytest.approx(2.0)
    assert box_of(preview).bounds == pytest.approx((200, 202, 600, 482), abs=2.0 if half else 0.2)


def test_the_half_has_the_palette_of_the_whole() -> None:
    half, whole = preview_of(bench(), True), preview_of(bench(), False)
    assert half.colours == whole.colours


def test_touch_ups_by_size_wait_until_a_size_is_known() -> None:
    touches = [
        {"action": "recolour", "below": "1000 mm", "to": "#e9d8a6"},
        {"action": "recolour", "at": ["200,100"], "to": "#e9d8a6"},
    ]
    assert box_of(preview_of(bench(touch=touches[:1]), False)).area > 0
    cleared = preview_of(bench(touch=touches), False)
    assert cleared.region_map.face_count == 1


def test_where_a_person_has_to_name_the_wood_the_colours_are_shown_all_the_same() -> None:
    rgb = np.full((100, 200, 3), SAND, np.uint8)
    rgb[:, :100] = NAVY
    split = Workbench(PREVIEW_STEPS, picture_from_array(rgb), "split", make_job(), Path())
    preview = preview_of(split, True)
    assert {one.role for one in preview.colours} == {"pour"}
    assert any("which colour is the wood" in note for note in preview.notes)


def test_the_half_is_made_where_it_saves_time() -> None:
    small = bench()
    assert not is_half_worth_it(small)
    large = bench((2000, 1001))
    assert is_half_worth_it(large)
    large.get("trace")
    assert not is_half_worth_it(large)
