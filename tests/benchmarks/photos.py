"""Measures straightening, light and line drawings on made photos with truth.

    python -m tests.benchmarks.photos --count 200 --megapixels 12

Each photo shows a flat drawing or a line drawing on paper, on wood, cloth or a dark table, under
soft, hard or no shadow. Printed are the figures that matter: corner errors, wrong and confident
answers, colours, cells, time.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass

import numpy as np

from img2pour.colour import srgb_difference
from img2pour.light import PAPER_LIGHT, even_light
from img2pour.palette import find_palette
from img2pour.sketch import read_drawing
from img2pour.straighten import find_sheet, straighten
from tests.photos.scenes import (
    as_picture,
    corner_error_px,
    flat_photo,
    line_photo,
    output_points,
    paper_white_colours,
)

# Over this an answer that is called sure counts as confidently wrong.
_WRONG_PX = 40.0
_BARE_MM = (6.0, 6.0)


@dataclass(frozen=True)
class Figures:
    """What one photo gave."""

    corner_px: float
    sure: bool
    right_colours: bool
    colour_difference: float
    seconds: float


def measure_flat(number: int, size_px: tuple[int, int]) -> Figures:
    photo = flat_photo.__wrapped__(number, size_px)
    found = find_sheet(photo.rgb)
    error = np.inf if found.corners_px is None else corner_error_px(found.corners_px, photo)
    start = time.perf_counter()
    even, _ = even_light(straighten(as_picture(photo.rgb)).picture)
    seconds = time.perf_counter() - start
    palette = find_palette(even, "auto")
    used = sorted({0, *(colour for colour, shape in photo.drawing.shapes if shape.area > 3)})
    colours = paper_white_colours(photo.drawing, PAPER_LIGHT)[used]
    gaps = [
        min(float(srgb_difference(colour, entry.rgb)) for entry in palette.colours)
        for colour in colours
    ]
    right = len(palette.colours) == len(used)
    return Figures(error, found.is_sure, right, float(np.median(gaps)), seconds)


def cells_are_right(number: int, size_px: tuple[int, int]) -> bool:
    art, photo = line_photo.__wrapped__(number, size_px)
    done = straighten(as_picture(photo.rgb), sheet="a4")
    if done.mm_per_px is None:
        return False
    even, _ = even_light(done.picture)
    found = read_drawing(even, close_px=2.0 / done.mm_per_px)
    if found is None or len(found.cells) != len(art.cells) + 1:
        return False
    inside = [cell.buffer(-2.0).representative_point().coords[0] for cell in art.cells]
    spots = output_points(photo, done, np.array([*inside, _BARE_MM])).astype(int)
    return len({int(found.cell_of[y, x]) for x, y in spots}) == len(art.cells) + 1


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--drawings", type=int, default=60)
    parser.add_argument("--megapixels", type=float, default=12.0)
    wishes = parser.parse_args()
    width = round((wishes.megapixels * 1e6 * 4 / 3) ** 0.5)
    size_px = (width, round(width * 3 / 4))
    flat = [measure_flat(number, size_px) for number in range(wishes.count)]
    lines = [cells_are_right(number, size_px) for number in range(wishes.drawings)]
    report(flat, lines)


def report(flat: list[Figures], lines: list[bool]) -> None:
    if flat:
        corners = np.array([f.corner_px for f in flat])
        sure = np.array([f.sure for f in flat])
        wrong = int(np.sum(sure & (corners > _WRONG_PX)))
        seconds = [f.seconds for f in flat]
        print(f"corners within 4 px      {100 * np.mean(corners <= 4):6.1f} %")
        print(f"corner error, median     {np.median(corners):6.2f} px")
        print(f"sure                     {100 * sure.mean():6.1f} %")
        print(f"confident and wrong      {wrong:6d} of {len(flat)}")
        print(f"number of colours right  {100 * np.mean([f.right_colours for f in flat]):6.1f} %")
        print(f"CIEDE2000, median        {np.median([f.colour_difference for f in flat]):6.2f}")
        print(f"straighten and light     {np.median(seconds):6.2f} s, most {max(seconds):.2f} s")
    if lines:
        print(f"drawings with all cells  {100 * np.mean(lines):6.1f} % of {len(lines)}")


if __name__ == "__main__":
    main()
