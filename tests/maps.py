"""Small region maps of known geometry, for the tests of what is written."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from img2pour.plane.placement import picture_placement, place
from img2pour.plane.regionmap import RegionMap
from img2pour.plane.walk import walk

HOSTILE_NAMES = (
    '=cmd|"/c calc"!A1',
    'navy"\n<script>alert(1)</script>&',
    "+1\r\n0\nEOF\n",
    "@SUM(A1:A9)",
    "-2+3",
    "\x00\x07\ud800 bell",
    "красный " * 20,
    "",
    "0",
    "BOARD",
    "Émail",
    "emAIL",
)


def placed_labels(
    labels: np.ndarray, mm_per_px: float = 1.0, left_mm: float = 0.0, bottom_mm: float = 0.0
) -> RegionMap:
    """Return the raw map of a label image on a board, y up."""
    placement = picture_placement(labels.shape[0], mm_per_px, left_mm=left_mm, bottom_mm=bottom_mm)
    return place(walk(labels.astype(np.uint8)).region_map, placement)


def disc_map(size_mm: float, radius_mm: float, mm_per_px: float = 1.0) -> RegionMap:
    """Return a square field of colour 0 with a disc of colour 1 in its middle, two arcs long."""
    labels = np.zeros((8, 8), np.uint8)
    labels[3:5, 3:5] = 1
    field = placed_labels(labels, size_mm / 8)
    (arc,) = [a for a in range(field.arc_count) if -1 not in field.arc_faces[a]]
    anticlockwise = field.face_colours[field.arc_faces[arc, 0]] == 1
    middle = size_mm / 2
    ends = np.array([(middle - radius_mm, middle), (middle + radius_mm, middle)])
    return with_arc(field, arc, ends[[0, 1, 0]], (1.0 if anticlockwise else -1.0) * np.ones(2))


def with_arc(
    region_map: RegionMap, arc: int, vertices: np.ndarray, bulges: np.ndarray
) -> RegionMap:
    """Return the map with one arc's pieces replaced."""
    parts = [region_map.arc(index) for index in range(region_map.arc_count)]
    parts[arc] = (vertices, np.append(bulges, 0.0))
    counts = [len(points) for points, _ in parts]
    return replace(
        region_map,
        vertices=np.concatenate([points for points, _ in parts]),
        bulges=np.concatenate([bulges for _, bulges in parts]),
        arc_offsets=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
    )


def patchwork(seed: int, size: int = 24, colours: int = 4, outside: bool = False) -> np.ndarray:
    """Return a label image of random rectangles without saddles."""
    random = np.random.default_rng(seed)
    labels = np.zeros((size, size), np.uint8)
    for _ in range(14):
        row, column = random.integers(0, size - 3, 2)
        height, width = random.integers(2, 9, 2)
        values = [*range(colours), 255] if outside else range(colours)
        labels[row : row + height, column : column + width] = random.choice(values)
    return _without_saddles(labels)


def _without_saddles(labels: np.ndarray) -> np.ndarray:
    """Repaint the lower right pixel of saddles until none is left."""
    while True:
        a, b, c, d = labels[:-1, :-1], labels[:-1, 1:], labels[1:, :-1], labels[1:, 1:]
        saddle = ((a == d) | (b == c)) & (a != b) & (a != c) & (d != b) & (d != c)
        if not saddle.any():
            return labels
        row, column = np.argwhere(saddle)[0]
        labels[row : row + 2, column : column + 2] = labels[row, column]
