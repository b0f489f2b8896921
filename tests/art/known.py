"""Art whose geometry is known: disjoint regions, corners, junctions, primitives, palette."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from tests.art.raster import paint, to_bytes

Floats = NDArray[np.float64]
Rgb = tuple[int, int, int]
Painted = list[tuple[int, BaseGeometry]]
CORNER_DEG = 20.0
SAME_PLACE_PX = 1e-5
SMALLEST_REGION_PX2 = 1e-3
# Turned shapes meet only to the last bit; on this grid they meet exactly.
GRID_PX = 1e-9


@dataclass(frozen=True)
class Primitive:
    """A shape that stands free: how many lines and arcs draw it."""

    kind: str
    colour: int
    shape: Polygon
    fewest_pieces: int


@dataclass(frozen=True, eq=False)
class KnownArt:
    """The truth about a picture, in pixels (x right, y down).

    `painted` are the shapes in painting order, `regions` what is seen of them: connected, disjoint.
    """

    name: str
    width: int
    height: int
    palette: tuple[Rgb, ...]
    painted: tuple[tuple[int, BaseGeometry], ...]
    regions: tuple[tuple[int, Polygon], ...]
    primitives: tuple[Primitive, ...]

    @cached_property
    def frame(self) -> Polygon:
        return shapely.box(0, 0, self.width, self.height)

    @cached_property
    def edges(self) -> BaseGeometry:
        """All boundaries between regions, without the frame."""
        lines = shapely.get_rings(np.array([shape for _, shape in self.regions], object))
        starts, ends = _ring_edges(lines)
        inner = ~self._on_frame((starts + ends) / 2)
        return shapely.multilinestrings(
            shapely.linestrings(np.stack([starts, ends], axis=1)[inner])
        )

    @cached_property
    def turns(self) -> tuple[Floats, Floats]:
        """Return (corners of an edge between two regions, places where more meet)."""
        points = self._turning_points()
        tree = shapely.STRtree([shape for _, shape in self.regions])
        which, _ = tree.query(shapely.points(points), predicate="dwithin", distance=SAME_PLACE_PX)
        meeting = np.bincount(which, minlength=len(points)) + 2 * self._on_frame(points)
        return points[meeting == 2], points[meeting > 2]

    def _on_frame(self, points: Floats) -> NDArray[np.bool_]:
        low = np.abs(points).min(axis=1)
        high = np.abs(points - (self.width, self.height)).min(axis=1)
        near: NDArray[np.bool_] = np.minimum(low, high) < SAME_PLACE_PX
        return near

    def _turning_points(self) -> Floats:
        points, turn, _ = self._ring_turns
        return np.unique(np.round(points[turn > CORNER_DEG], 6), axis=0)

    @cached_property
    def tight_bends(self) -> tuple[Floats, Floats]:
        """Return points where the outline is smooth but bends, and the radius there in px."""
        points, turn, length = self._ring_turns
        smooth = (turn > 1e-6) & (turn <= CORNER_DEG)
        return points[smooth], length[smooth] / np.radians(turn[smooth])

    @cached_property
    def _ring_turns(self) -> tuple[Floats, Floats, Floats]:
        """Return all vertices, the turn there in degrees, and the mean length of their edges."""
        points, turns, lengths = [], [], []
        for ring in shapely.get_rings(np.array([shape for _, shape in self.regions], object)):
            here = shapely.get_coordinates(ring)[:-1]
            before, after = here - np.roll(here, 1, axis=0), np.roll(here, -1, axis=0) - here
            cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
            points.append(here)
            turns.append(np.abs(np.degrees(np.arctan2(cross, (before * after).sum(axis=1)))))
            lengths.append((np.hypot(*before.T) + np.hypot(*after.T)) / 2)
        return np.concatenate(points), np.concatenate(turns), np.concatenate(lengths)

    def render(self, *, linear: bool = False) -> Floats:
        """Return the picture, (height, width, 3), 0..255, exactly antialiased."""
        layers = [
            ([shape for colour, shape in self.regions if colour == k], value)
            for k, value in enumerate(self.palette)
        ]
        return paint(layers[1:], self.palette[0], self.width, self.height, linear=linear)

    def picture(self, *, linear: bool = False) -> NDArray[np.uint8]:
        return to_bytes(self.render(linear=linear))


def _ring_edges(rings: NDArray[np.object_]) -> tuple[Floats, Floats]:
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return points[:-1][same], points[1:][same]


def resolve(painted: Painted) -> Painted:
    """Return the visible connected parts of shapes painted one over the other."""
    covered: BaseGeometry = Polygon()
    seen: dict[int, list[BaseGeometry]] = {}
    for colour, shape in reversed(painted):
        seen.setdefault(colour, []).append(_less(shape, covered))
        covered = shapely.union(covered, shape, grid_size=GRID_PX)
    return [(c, part) for c, shapes in seen.items() for part in _parts(_joined(shapes))]


def compose(
    name: str,
    size: tuple[int, int],
    palette: tuple[Rgb, ...],
    groups: list[Painted],
    primitives: list[Primitive],
) -> KnownArt:
    """Return art of groups of painted shapes that lie apart, on a ground of colour 0.

    No shape may reach beyond the picture.
    """
    regions = [region for group in groups for region in resolve(group) if region[0] != 0]
    ground = shapely.difference(
        shapely.box(0, 0, *size), shapely.union_all([shape for _, shape in regions])
    )
    everything = [(0, part) for part in _parts(ground)] + regions
    painted = tuple(shape for group in groups for shape in group)
    return KnownArt(name, *size, palette, painted, tuple(everything), tuple(primitives))


def _less(shape: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    return shapely.difference(shape, other, grid_size=GRID_PX)


def _joined(shapes: list[BaseGeometry]) -> BaseGeometry:
    return shapely.union_all(shapes, grid_size=GRID_PX)


def _parts(shape: BaseGeometry) -> list[Polygon]:
    parts = shapely.get_parts(shape)
    return [p for p in parts if p.geom_type == "Polygon" and p.area > SMALLEST_REGION_PX2]
