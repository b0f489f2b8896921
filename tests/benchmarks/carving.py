"""What the carving questions cost on 200 polygons with 20,000 vertices, in CPU seconds."""

import math
import time
from collections.abc import Callable

import numpy as np
import shapely

from img2pour.carve.advice import ground_of, most_factor, whole_factor
from img2pour.carve.pockets import PocketSettings, pocket_volumes
from img2pour.carve.profile import Profile
from img2pour.carve.reach import colour_reach, needs_of
from img2pour.carve.walls import WallLimits, thin_walls
from img2pour.carve.widen import widen_strokes
from img2pour.job.bits import Bit
from tests.benchmarks.tables import table

COUNT, VERTICES, STEP_MM = 200, 100, 24.0
FLAT = Profile(1.5875, 0.0, 0.0, 1.5875)
VEE = Profile(0.0, 0.0, math.radians(15), 6.35)
TAPER = Profile(0.0, 0.5, math.radians(6.2), 3.0)
EIGHTH = Bit("flat 1/8 in", "flat", 3.175)


def blobs() -> np.ndarray:
    """Return wavy blobs with lobes and necks, 20 in a row, none touching another."""
    rng = np.random.default_rng(7)
    turns = np.arange(VERTICES) * 2 * math.pi / VERTICES
    found = []
    for index in range(COUNT):
        radius = np.full(VERTICES, 6.5)
        for waves in (2, 3, 5):
            radius += rng.uniform(0.2, 1.7) * np.sin(waves * turns + rng.uniform(0, 6.28))
        points = radius[:, None] * np.stack([np.cos(turns), np.sin(turns)], axis=1)
        found.append(shapely.Polygon(points + STEP_MM * np.array(divmod(index, 20))))
    return np.array(found, dtype=object)


def report() -> str:
    """Return the table."""
    shapes, settings = blobs(), PocketSettings(3.175, 0.0)
    frame = shapely.box(-12, -12, STEP_MM * 10 - 12, STEP_MM * 20 - 12)
    wood = shapely.get_parts(shapely.difference(frame, shapely.union_all(shapes)))
    # The axis is made once for all questions, so it counts for the necks.
    ground = ground_of(shapes, [EIGHTH], 1.5875)
    areas = {0: shapely.union_all(wood), 1: shapely.union_all(shapes)}
    asked: dict[str, tuple[float, Callable[[], object]]] = {
        "volume, flat": (0.5, lambda: pocket_volumes(shapes, [FLAT], settings)),
        "volume, vee": (0.5, lambda: pocket_volumes(shapes, [VEE], settings)),
        "volume, tapered ball": (7.0, lambda: pocket_volumes(shapes, [TAPER], settings)),
        "necks": (3.0, lambda: colour_reach(shapes, 0, needs_of([FLAT]))),
        "walls": (3.0, lambda: thin_walls(wood, WallLimits())),
        "smallest board": (0.5, lambda: (whole_factor([ground]), most_factor([ground]))),
        "widening": (7.0, lambda: widen_strokes(areas, {1: 3.175}, [])),
    }
    rows = []
    for name, (wanted, ask) in asked.items():
        began = time.process_time()
        ask()
        rows.append([name, f"{time.process_time() - began:.2f}", wanted])
    return "### Carving, 200 polygons with 20,000 vertices\n\n" + table(
        ["question", "CPU s", "wanted s"], rows
    )
