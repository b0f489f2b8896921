"""Widening, merging and thickening on the map: the tiling holds, what was too thin no longer is."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from img2pour.job import make_job
from img2pour.pipeline import convert
from img2pour.plane.regionmap import face_areas
from img2pour.results import Result
from tests.art.degrade import png
from tests.art.raster import coverage, to_bytes

SIZE = 200
SAND, NAVY, RED = (236, 214, 169), (21, 60, 120), (190, 40, 50)
STROKE = shapely.LineString([(30, 60), (170, 70)]).buffer(1.0, cap_style="flat")
LEFT, RIGHT = shapely.box(40, 110, 99.2, 170), shapely.box(101.2, 110, 160, 170)


def picture() -> bytes:
    """Draw a navy stroke 2 px wide, and two red fields with a wall of 2 px of sand between them."""
    pixels = np.broadcast_to(np.array(SAND, float), (SIZE, SIZE, 3)).copy()
    for shapes, colour in (([STROKE], NAVY), ([LEFT, RIGHT], RED)):
        covered = coverage(shapes, SIZE, SIZE)[..., None]
        pixels += covered * (np.array(colour) - pixels)
    return png(to_bytes(pixels))


def converted(**carving: str) -> Result:
    """One mm a pixel; a flat bit of 3 mm."""
    palette = "#ecd6a9=sand,#153c78=navy,#be2832=red"
    return convert(
        picture(),
        make_job(
            size={"width": "200 mm"},
            colours={"palette": palette, "wood": "sand"},
            bits={"use": ("flat 3 mm",)},
            carving=carving,
        ),
    )


def tiles(result: Result) -> bool:
    """Faces add up to the artwork within 1e-9 of it, and no two overlap."""
    polygons = result.design.polygons()
    overlap = shapely.area(polygons).sum() - shapely.union_all(polygons).area
    exact = face_areas(result.design.region_map).sum()
    return abs(exact - SIZE**2) < 1e-9 * SIZE**2 and overlap < 1e-3


def test_widened_stroke_takes_the_bit_and_the_tiling_holds() -> None:
    """3 mm and 0.1 mm of margin: a disc of that width runs along the whole stroke."""
    result = converted(small="widen")
    assert tiles(result)
    assert result.report["removed"] == []
    assert {change["kind"] for change in result.report["changes"]} >= {"widened"}
    navy = result.regions["navy"]
    swept = shapely.buffer(shapely.buffer(navy, -1.54, quad_segs=32), 1.54, quad_segs=32)
    assert shapely.intersection(swept, navy).area > 0.99 * navy.area
    along = shapely.LineString([(33, 200 - 60.2), (167, 200 - 69.8)])
    assert swept.buffer(0.01).covers(along)


def test_dropped_and_kept_strokes_are_what_they_were() -> None:
    assert converted(small="drop").regions["navy"].area == 0
    kept = converted(small="keep").regions["navy"].area
    # A stroke of 2 px: each edge within a hundredth of a pixel.
    assert kept == pytest.approx(STROKE.area, rel=1e-2)


def test_thin_wall_is_marked_merged_or_thickened() -> None:
    """The wall is 2 mm: it runs upright across a horizontal grain, where 2.5 mm are wanted."""
    marked = converted(thin_walls="mark", small="keep")
    assert marked.report["changes"] == []
    assert shapely.get_num_geometries(marked.regions["red"]) == 2
    merged = converted(thin_walls="merge", small="keep")
    assert tiles(merged)
    assert shapely.get_num_geometries(merged.regions["red"]) == 1
    thick = converted(thin_walls="thicken", small="keep")
    assert tiles(thick)
    left, right = sorted(shapely.get_parts(thick.regions["red"]), key=lambda part: part.bounds)
    assert shapely.distance(left, right) == pytest.approx(2.5, abs=0.05)


def test_what_is_not_touched_keeps_its_lines() -> None:
    """Only the stroke is too thin; the fields keep their four lines each."""
    result = converted(small="widen")
    boxes = shapely.get_parts(result.regions["red"])
    assert sorted(shapely.get_num_coordinates(shapely.simplify(boxes, 0.02))) == [5, 5]
