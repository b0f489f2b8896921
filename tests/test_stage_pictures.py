"""Pictures of stages: what is marked on them, pixel by pixel."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import box

from img2pour.write.pictures import RIM_PX
from img2pour.write.stage_pictures import BARE_RGB, LONGEST_PX, Shown, StageMarks, stage_picture
from img2pour.write.values import Board

BOARD = Board(100.0, 80.0)
PX_PER_MM = (LONGEST_PX - 2 * RIM_PX) / 100.0
NAVY = Shown("navy", box(20, 20, 60, 60), "#102040")


def drawn(marks: StageMarks) -> NDArray[np.uint8]:
    picture = stage_picture([NAVY], {"navy"}, BOARD, "#c8a06a", marks, "a stage")
    return np.asarray(Image.open(BytesIO(picture.data)).convert("RGB"))


def at(picture: NDArray[np.uint8], x_mm: float, y_mm: float) -> tuple[int, ...]:
    row = RIM_PX + (80.0 - y_mm) * PX_PER_MM
    return tuple(picture[int(row), int(RIM_PX + x_mm * PX_PER_MM)].tolist())


def test_edge_that_stays_bare_is_drawn_where_it_is() -> None:
    bare = shapely.LineString([(20, 30), (20, 50)])
    plain, marked = drawn(StageMarks()), drawn(StageMarks(bare=[bare]))
    assert at(marked, 20.0, 40.0) == BARE_RGB
    assert at(plain, 20.0, 40.0) != BARE_RGB
    changed = np.argwhere((plain != marked).any(axis=2))
    low, high = changed.min(axis=0), changed.max(axis=0)
    # 20 mm long, 3 px wide with its soft edge.
    assert abs((high[0] - low[0]) - 20 * PX_PER_MM) < 6
    assert high[1] - low[1] < 8


def test_a_number_stands_in_its_pocket() -> None:
    plain, marked = drawn(StageMarks()), drawn(StageMarks([("7", (40.0, 40.0))]))
    changed = np.argwhere((plain != marked).any(axis=2)).mean(axis=0)
    middle = (RIM_PX + 40 * PX_PER_MM, RIM_PX + 40 * PX_PER_MM)
    assert np.abs(changed - middle).max() < 3
