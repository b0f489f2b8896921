"""What one made photo gives, measured against its truth by code that is not the tracer's.

The truth is the drawing itself, in millimetres. "As seen" it is carried into the straightened
picture by the matrix that was found, so that only light, colours and tracing can err; "as laid" by
the sheet alone (its width over the picture's), so that errors of the corners count too.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from img2pour.colour import srgb_difference
from img2pour.job import make_job
from img2pour.light import PAPER_LIGHT
from img2pour.steps import Workbench
from img2pour.straighten import Straightened, find_sheet
from img2pour.table import STEPS
from tests import checks
from tests.art.known import KnownArt
from tests.outlines import TracedFace
from tests.photos.drawings import Drawing
from tests.photos.linework import LineArt
from tests.photos.maker import Photo
from tests.photos.scenes import (
    as_picture,
    corner_error_px,
    flat_photo,
    line_photo,
    output_points,
    paper_white_colours,
)
from tests.tracing import traced_faces

Record = dict[str, Any]
BARE_MM = (6.0, 6.0)
# Lens and perspective bend long sides: they are carried over in pieces of this length.
PIECE_MM = 2.0
GRID_MM = 1e-6
SLIVER_PX2 = 0.01
COUNTED_AREA_PX2 = checks.COUNTED_AREA_PX2
# A true region counts as an island to be found when a disc of this width fits into it.
LEAST_WIDTH_PX = 4.0
FRAME_PX = 4.0


def measure_flat(number: int, size_px: tuple[int, int]) -> Record:
    """Return the figures of one flat drawing on paper."""
    photo = flat_photo.__wrapped__(number, size_px)
    bench, seconds = worked(photo, make_job(size={"width": "300 mm"}))
    palette, done = bench.get("colours"), bench.get("straighten")
    used = sorted({0, *(colour for colour, shape in photo.drawing.shapes if shape.area > 3)})
    true = paper_white_colours(photo.drawing, PAPER_LIGHT)
    gaps = srgb_difference(true[used][:, None], palette.rgb[None])
    record = _sheet_figures(number, photo) | {
        "way": bench.get("way"),
        "colours": [len(palette.colours), len(used)],
        "paper_dE": float(gaps[0].min()),
        "dE": float(np.median(gaps.min(axis=1))),
        "seconds": seconds,
    }
    if done.picture.rgb.shape[:2] == photo.rgb.shape[:2]:
        return record
    nearest = srgb_difference(palette.rgb[:, None], true[None]).argmin(axis=1)
    faces = [
        TracedFace(int(nearest[face.colour]), face.outlines)
        for face in traced_faces(bench.get("trace").region_map)
    ]
    seen = known_art(photo.drawing, done, lambda mm: output_points(photo, done, mm))
    laid = known_art(photo.drawing, done, laid_points(photo, done))
    missed, invented, count = islands(faces, seen)
    return record | {
        "seen_px": boundary(faces, seen),
        "laid_px": boundary(faces, laid),
        "islands": [missed, invented, count],
    }


def measure_lines(number: int, size_px: tuple[int, int]) -> Record:
    """Return the figures of one line drawing on A4 paper with gaps of 2 mm."""
    art, photo = line_photo.__wrapped__(number, size_px)
    bench, seconds = worked(photo, make_job(photo={"sheet": "a4"}))
    record = _sheet_figures(number, photo) | {
        "way": bench.get("way"),
        "cells": [0, len(art.cells) + 1],
        "right": False,
        "seconds": seconds,
    }
    found, done = bench.get("drawing"), bench.get("straighten")
    if found is None or done.mm_per_px is None:
        return record
    inside = [cell.buffer(-2.0).representative_point().coords[0] for cell in art.cells]
    spots = output_points(photo, done, np.array([*inside, BARE_MM])).astype(int)
    apart = len({int(found.cell_of[y, x]) for x, y in spots})
    record |= {
        "cells": [len(found.cells), len(art.cells) + 1],
        "right": apart == len(art.cells) + 1 == len(found.cells),
    }
    faces = traced_faces(bench.get("trace").region_map)
    return record | {
        "seen_px": middles(faces, art, done, lambda mm: output_points(photo, done, mm)),
        "laid_px": middles(faces, art, done, laid_points(photo, done)),
    }


def worked(photo: Photo, job: object) -> tuple[Workbench, dict[str, float]]:
    """Return a workbench on which the photo went as far as the trace, and CPU seconds a step."""
    bench = Workbench(STEPS, as_picture(photo.rgb), "photo", job, Path())
    seconds = {}
    for name in ("straighten", "light", "way", "drawing", "colours", "labels", "trace"):
        start = time.process_time()
        bench.get(name)
        seconds[name] = round(time.process_time() - start, 3)
    return bench, seconds


def _sheet_figures(number: int, photo: Photo) -> Record:
    found = find_sheet(photo.rgb)
    error = np.inf if found.corners_px is None else corner_error_px(found.corners_px, photo)
    scene = photo.scene
    return {
        "number": number,
        "scene": f"{scene.table}, {scene.shadow} shadow",
        "corner_px": float(error),
        "confidence": found.confidence,
        "sure": found.is_sure,
    }


def laid_points(photo: Photo, done: Straightened) -> Callable[[np.ndarray], np.ndarray]:
    """Return the map from the sheet to the picture when the corners are exactly in its corners."""
    width, height = photo.drawing.size_mm
    rows, columns = done.picture.rgb.shape[:2]
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    frame = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float64)
    seen = output_points(photo, done, corners)
    turn = min(range(4), key=lambda k: np.abs(seen - np.roll(frame, k, axis=0)).max())
    goal = np.roll(frame, turn, axis=0)
    # A rectangle to a rectangle is affine: three corners tell all.
    matrix = np.linalg.solve(np.column_stack([corners[:3], np.ones(3)]), goal[:3])
    return lambda mm: np.column_stack([mm, np.ones(len(mm))]) @ matrix


def known_art(
    drawing: Drawing, done: Straightened, move: Callable[[np.ndarray], np.ndarray]
) -> KnownArt:
    """Return the drawing as art in pixels of the straightened picture."""
    rows, columns = done.picture.rgb.shape[:2]
    inks = [
        (colour, part)
        for colour, shape in joined_faces(drawing)
        for part in shapely.get_parts(shapely.transform(shape, move))
        if part.area > SLIVER_PX2
    ]
    covered = shapely.coverage_union_all([shape for _, shape in inks])
    ground = shapely.difference(shapely.box(0, 0, columns, rows), covered)
    paper = [(0, part) for part in shapely.get_parts(ground) if part.area > SLIVER_PX2]
    return KnownArt("photo", columns, rows, drawing.colours, (), (*paper, *inks), ())


def joined_faces(drawing: Drawing) -> list[tuple[int, BaseGeometry]]:
    """Return what each ink covers, in mm, with the very same points along shared edges."""
    outlines = [shapely.boundary(shape) for _, shape in drawing.shapes]
    lines = shapely.segmentize(shapely.union_all(outlines, grid_size=GRID_MM), PIECE_MM)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    inside = shapely.point_on_surface(faces)
    return [
        (colour, shapely.coverage_union_all(faces[shapely.contains(shape, inside)]))
        for colour, shape in drawing.shapes
    ]


def boundary(faces: list[TracedFace], art: KnownArt) -> list[float]:
    """Return median, mean, p95, p99 and largest distance, traced to true and back together."""
    return _figures(checks.traced_edges(faces, art, FRAME_PX), art.edges)


def middles(
    faces: list[TracedFace],
    art: LineArt,
    done: Straightened,
    move: Callable[[np.ndarray], np.ndarray],
) -> list[float]:
    """Return the same figures for borders against the middles of drawn lines."""
    rows, columns = done.picture.rgb.shape[:2]
    frame = KnownArt("photo", columns, rows, (), (), (), ())
    true = shapely.transform(shapely.segmentize(art.middles, PIECE_MM), move)
    return _figures(checks.traced_edges(faces, frame, FRAME_PX), _chords(true))


def _chords(lines: BaseGeometry) -> BaseGeometry:
    points, line = shapely.get_coordinates(shapely.get_parts(lines), return_index=True)
    same = line[1:] == line[:-1]
    ends = np.stack([points[:-1], points[1:]], axis=1)[same]
    return shapely.multilinestrings(shapely.linestrings(ends))


def _figures(traced: BaseGeometry, true: BaseGeometry) -> list[float]:
    if traced.is_empty or true.is_empty:
        return [float("inf")] * 5
    there, back = checks.distances(traced, true)[1], checks.distances(true, traced)[1]
    pooled = np.concatenate([there, back])
    parts = [*np.percentile(pooled, [50, 95, 99]), pooled.max()]
    return [round(float(v), 3) for v in (parts[0], pooled.mean(), *parts[1:])]


@dataclass(frozen=True, eq=False)
class _Region:
    colour: int
    shape: BaseGeometry


def islands(faces: list[TracedFace], art: KnownArt) -> tuple[int, int, int]:
    """Return true regions missed, regions invented, and how many true regions there are.

    A region is found when a traced one of its colour covers half of both; regions too small to
    count may be found, but need not.
    """
    traced = [
        _Region(face.colour, shapely.make_valid(face.polygon(0.05)))
        for face in faces
        if face.area() > COUNTED_AREA_PX2
    ]
    tree = shapely.STRtree([region.shape for region in traced])
    free = set(range(len(traced)))
    missed = counted = 0
    for colour, shape in art.regions:
        match = _match(colour, shape, traced, tree, free)
        must = not shape.buffer(-LEAST_WIDTH_PX / 2).is_empty
        counted += must
        missed += must and match is None
        free.discard(-1 if match is None else match)
    return int(missed), len(free), int(counted)


def _match(
    colour: int,
    shape: BaseGeometry,
    traced: list[_Region],
    tree: shapely.STRtree,
    free: set[int],
) -> int | None:
    for k in tree.query(shape):
        other = traced[k]
        if k in free and other.colour == colour:
            common = shapely.intersection(shape, other.shape).area
            if common > 0.5 * max(shape.area, other.shape.area):
                return int(k)
    return None


def view_size(megapixels: float) -> tuple[int, int]:
    """Return (width, height) of 4 : 3."""
    width = round((megapixels * 1e6 * 4 / 3) ** 0.5)
    return width, round(width * 3 / 4)
