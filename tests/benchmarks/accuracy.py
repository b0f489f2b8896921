"""Accuracy and economy on the benchmark pieces with known geometry."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests import checks
from tests.art.bench import assorted, dense
from tests.art.degrade import STATES, png
from tests.art.known import KnownArt
from tests.art.others import RENDERERS
from tests.benchmarks.subject import Traced, trace_picture, trace_plainly
from tests.benchmarks.tables import table
from tests.colours import palette_errors

SIZES = {1: (1224, 816), 3: (2120, 1414), 12: (4242, 2828)}
WORST_PLACES = 4
TIGHT_PX = 6.0
# The plain script's outermost contour runs through the centres of the outermost pixels.
PLAIN_FRAME_PX = 0.6
WANTED_MEAN_P95 = {
    (1, "clean"): (0.03, 0.08), (1, "scan"): (0.08, 0.25), (1, "noisy"): (0.06, 0.20),
    (12, "clean"): (0.015, 0.04), (12, "scan"): (0.06, 0.20), (12, "noisy"): (0.05, 0.15),
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Measured:
    """Everything the checkers say about one traced picture."""

    boundary: checks.BoundaryErrors
    islands: checks.Islands
    tiling: checks.Tiling
    colours: tuple[int, int]
    difference: float
    corners: np.ndarray
    joints: np.ndarray
    wide_joints: np.ndarray
    pieces: dict[str, list[int]]
    segments: int
    worst: list[tuple[float, ...]]


def measure(traced: Traced, art: KnownArt, on_frame_px: float = checks.ON_FRAME_PX) -> Measured:
    """Measure what was traced from a picture of known art."""
    return Measured(
        checks.boundary_errors(traced.faces, art, on_frame_px),
        checks.islands(traced.faces, art),
        checks.tiling(traced.faces, art.frame),
        (len(traced.palette), len(art.palette)),
        float(palette_errors(traced.palette, np.array(art.palette, float)).max()),
        checks.corner_errors(traced.faces, art),
        checks.joint_turns(traced.faces, art),
        checks.joint_turns(traced.faces, art, TIGHT_PX),
        checks.primitive_pieces(traced.faces, art),
        sum(len(o.vertices) for face in traced.faces for o in face.outlines),
        checks.worst_places(traced.faces, art, WORST_PLACES),
    )


def _cases(sizes: list[int], seeds: list[int]) -> Iterator[tuple[int, str, KnownArt, bytes]]:
    for size in sizes:
        for seed in seeds if size < 12 else seeds[:1]:
            art = assorted(*SIZES[size], seed)
            picture = art.render()
            for state, degrade in STATES.items():
                yield size, state, art, degrade(picture, seed)
            yield size, "clean, by light", art, png(art.picture(linear=True))


def _others(size: int) -> Iterator[tuple[int, str, KnownArt, bytes]]:
    art = assorted(*SIZES[size], 1)
    for name, render in RENDERERS.items():
        yield size, name, art, png(render(art))


def report(sizes: list[int], seeds: list[int]) -> str:
    """Return the tables of accuracy and economy."""
    boundary, economy, worst = [], [], []
    cases = [_cases(sizes, seeds), _others(min(sizes))]
    if 12 in sizes:
        cases.append(iter([(12, "clean, dense", (art := dense(*SIZES[12])), png(art.picture()))]))
    for size, state, art, data in (case for group in cases for case in group):
        if state in STATES and art.name.endswith("-1"):
            by_script = measure(trace_plainly(data, art), art, PLAIN_FRAME_PX)
            boundary.append(_boundary_row(size, f"plain script, {state}", art, by_script))
            economy.append(_economy_row(size, f"plain script, {state}", art, by_script))
        found = measure(trace_picture(data, art), art)
        boundary.append(_boundary_row(size, state, art, found))
        economy.append(_economy_row(size, state, art, found))
        places = "; ".join(f"{d:.1f} at {x:.0f}, {y:.0f}" for x, y, d in found.worst)
        worst.append([f"{state} ({art.name})", size, places])
    return (
        "### Boundaries, islands, tiling, colours\n\n"
        + table(BOUNDARY_HEAD, boundary)
        + "\n\n### Economy\n\n"
        + table(ECONOMY_HEAD, economy)
        + "\n\n### Worst places, px\n\n"
        + table(["picture", "MP", "distance at x, y"], worst)
    )


BOUNDARY_HEAD = [
    "picture", "MP", "mean px", "p95 px", "wanted", "max px there / back",
    "islands missed / invented", "gap", "overlap", "unshared", "invalid", "colours", "CIEDE2000",
]  # fmt: skip


def _boundary_row(size: int, state: str, art: KnownArt, found: Measured) -> list[object]:
    wanted = WANTED_MEAN_P95.get((size, state))
    edges = found.boundary
    return [
        f"{state} ({art.name})",
        size,
        f"{edges.mean:.3f}",
        f"{edges.p95:.3f}",
        "{} / {}".format(*wanted) if wanted else "",
        f"{edges.largest:.1f} / {edges.largest_back:.1f}",
        f"{found.islands.missed} / {found.islands.invented}",
        f"{max(found.tiling.gap, found.tiling.area_off):.0e}",
        f"{found.tiling.overlap:.0e}",
        found.tiling.unshared_edges,
        found.tiling.invalid_faces,
        "{} of {}".format(*found.colours),
        f"{found.difference:.2f}",
    ]


ECONOMY_HEAD = [
    "picture", "MP", "disc", "square", "star", "corners within 0.3 px", "joints within 1 deg",
    "within 3 deg", "bends of 6 px or more: within 1 deg", "within 3 deg", "pieces in all",
    "regions",
]  # fmt: skip


def _economy_row(size: int, state: str, art: KnownArt, found: Measured) -> list[object]:
    return [
        f"{state} ({art.name})",
        size,
        *(_pieces(found.pieces.get(kind, [])) for kind in ("disc", "square", "star")),
        _share(found.corners, 0.3),
        _share(found.joints, 1.0),
        _share(found.joints, 3.0),
        _share(found.wide_joints, 1.0),
        _share(found.wide_joints, 3.0),
        found.segments,
        len(art.regions),
    ]


def _pieces(counts: list[int]) -> str:
    return f"{np.median(counts):g}, at most {max(counts)}" if counts else "none"


def _share(values: np.ndarray, limit: float) -> str:
    return f"{100 * np.mean(values <= limit):.0f} % of {len(values)}" if len(values) else "none"
