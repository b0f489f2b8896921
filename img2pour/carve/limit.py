"""The limit: islands that the bit cannot enter go to the neighbours they touch most.

The tiling is not touched here. The result says which face of the map goes to which neighbour and
why; merging the faces is the map's own affair.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons, can_enter, inscribed_circles
from img2pour.plane.regionmap import OUTSIDE_COLOUR, RegionMap
from img2pour.plane.shapes import face_polygons

SAGITTA_MM = 0.01

WIDTH_SHARE = 0.005
"""Widths of removed islands are right to this share of the entry."""


@dataclass(frozen=True)
class RemovedIsland:
    """An island that the bit cannot enter.

    Attributes
    ----------
    face : int
        Its face in the map that was judged.
    colour, into_colour : int
        Its colour and the colour that took its place (-1 for `outside`).
    reason : str
        In plain words.
    area_mm2 : float
    width_mm : float
        Diameter of the largest circle inside it.
    at_mm : tuple of float
        A place inside it.
    bounds_mm : tuple of float
        Its box: x0, y0, x1, y1.
    """

    face: int
    colour: int
    into_colour: int
    reason: str
    area_mm2: float
    width_mm: float
    at_mm: tuple[float, float]
    bounds_mm: tuple[float, float, float, float]


@dataclass(frozen=True)
class Limit:
    """What the limit decided.

    Attributes
    ----------
    pairs : tuple of (face, into)
        Faces that lose their own colour, and the face that they end up in. That face is never
        itself in the first place of a pair. Faces of one colour that come to touch are among them.
    removed : tuple of RemovedIsland
        In the order of their removal, smallest first.
    """

    pairs: tuple[tuple[int, int], ...]
    removed: tuple[RemovedIsland, ...]

    def targets(self, face_count: int) -> NDArray[np.int64]:
        """Return the face that each face becomes part of, itself where it stays, (F,) int64."""
        into = np.arange(face_count, dtype=np.int64)
        for face, target in self.pairs:
            into[face] = target
        return into


def limit(
    region_map: RegionMap,
    entry_mm: float | Mapping[int, float],
    droppable: Collection[int],
    polygons: Sequence[shapely.Polygon] | None = None,
    spared: Collection[int] = (),
    cut: Polygons | None = None,
) -> Limit:
    """Find the islands that cannot be cut, smallest first, until nothing changes.

    Parameters
    ----------
    region_map : RegionMap
        In millimetres.
    entry_mm : float or mapping of colour to float
        Width that an island must have: the bit's diameter and an allowance. Colours that are
        missing in a mapping are not limited.
    droppable : collection of int
        The colours whose islands may be dropped: pours, never wood.
    polygons : sequence of shapely polygons, optional
        The map's faces, if they are at hand.
    spared : collection of int
        Faces that are not limited.
    cut : (F,) object, optional
        The faces as they are cut, where some are carried past the board's edge.

    Returns
    -------
    Limit
        Judging the merged map again finds nothing more to drop, but for islands that have no
        neighbour at all.
    """
    if polygons is None:
        polygons = face_polygons(region_map, SAGITTA_MM)
    colours = region_map.face_colours.tolist()
    entries = entry_widths(colours, entry_mm, droppable)
    entries[list(spared)] = 0.0
    shared = shared_lengths(region_map)
    return limit_polygons(np.array(polygons, dtype=object), colours, shared, entries, cut)


def limit_polygons(
    polygons: Polygons,
    colours: list[int],
    shared: list[dict[int, float]],
    entries: FloatArray,
    cut: Polygons | None = None,
) -> Limit:
    """Find the islands that cannot be cut among polygons with known neighbours.

    Parameters
    ----------
    polygons : (N,) object
    colours : list of int
        Colour of each polygon, -1 for `outside`.
    shared : list of dict
        For every polygon the length of boundary that it shares with each neighbour; changed here.
    entries : (N,) float64
        Width that each polygon must have, 0 where it is not limited.
    cut : (N,) object, optional
        The polygons as they are cut, where some are carried past the board's edge.
    """
    return _Faces(polygons, colours, shared, entries, polygons if cut is None else cut).settle()


def entry_widths(
    colours: list[int], entry_mm: float | Mapping[int, float], droppable: Collection[int]
) -> FloatArray:
    """Return the width that each face must have, 0 where it is not limited."""
    wanted = entry_mm if isinstance(entry_mm, Mapping) else dict.fromkeys(droppable, entry_mm)
    by_colour = {colour: wanted.get(colour, 0.0) for colour in droppable}
    return np.array([by_colour.get(colour, 0.0) for colour in colours])


def shared_lengths(region_map: RegionMap) -> list[dict[int, float]]:
    """Return, for every face, the length of boundary that it shares with each neighbour.

    Length of an arc of bulge b over a chord c: c (1 + b^2) atan(b) / b (plane geometry).
    """
    chords = np.hypot(*(np.roll(region_map.vertices, -1, axis=0) - region_map.vertices).T)
    bulge = np.abs(region_map.bulges)
    bent = np.maximum(bulge, 1e-9)
    lengths = np.where(bulge > 1e-9, (1 + bent**2) * np.arctan(bent) / bent, 1.0) * chords
    lengths[region_map.arc_offsets[1:] - 1] = 0.0
    by_arc = np.add.reduceat(lengths, region_map.arc_offsets[:-1])
    shared: list[dict[int, float]] = [{} for _ in range(region_map.face_count)]
    sides = region_map.arc_faces.tolist()
    for (left, right), length in zip(sides, by_arc.tolist(), strict=True):
        if left >= 0 and right >= 0 and left != right:
            shared[left][right] = shared[left].get(right, 0.0) + length
            shared[right][left] = shared[right].get(left, 0.0) + length
    return shared


class _Faces:
    """The faces while they are being merged; `settle` runs once."""

    def __init__(
        self,
        polygons: Polygons,
        colours: list[int],
        shared: list[dict[int, float]],
        entries: FloatArray,
        cut: Polygons,
    ) -> None:
        self.original = polygons
        self.polygons = cut.copy()
        self.colours = colours
        self.shared = shared
        self.own_areas: list[float] = shapely.area(polygons).tolist()
        self.entries = entries
        limited = np.flatnonzero(entries > 0.0)
        fits = can_enter(cut[limited], entries[limited] / 2.0)
        self.failing: set[int] = set(limited[~fits].tolist())
        self.into: dict[int, int] = {}
        self.dropped: list[tuple[int, int, float]] = []

    def settle(self) -> Limit:
        """Drop the smallest failing face again and again."""
        queue = [(self.polygons[face].area, face) for face in self.failing]
        heapq.heapify(queue)
        while queue:
            area, face = heapq.heappop(queue)
            if face not in self.failing or area != self.polygons[face].area:
                continue
            target = self._target(face)
            if target is None:
                self.failing.discard(face)
                continue
            self.dropped.append((face, self.colours[target], self.own_areas[face]))
            self._merge(face, target)
            self._join_equals(target)
            if target in self.failing:
                heapq.heappush(queue, (self.polygons[target].area, target))
        return self._result()

    def _target(self, face: int) -> int | None:
        """Return the neighbour that the face touches most; `outside` only if there is no other."""
        neighbours = self.shared[face]
        if not neighbours:
            return None
        return max(
            neighbours,
            key=lambda n: (self.colours[n] != OUTSIDE_COLOUR, neighbours[n], -n),
        )

    def _merge(self, face: int, target: int) -> None:
        """Give the face to its neighbour: lengths, and the polygon if it is still judged."""
        for neighbour, length in self.shared[face].items():
            del self.shared[neighbour][face]
            if neighbour != target:
                total = self.shared[target].get(neighbour, 0.0) + length
                self.shared[target][neighbour] = self.shared[neighbour][target] = total
        self.shared[face] = {}
        self.into[face] = target
        self.failing.discard(face)
        if target in self.failing:
            self._grow(target, face)

    def _grow(self, target: int, face: int) -> None:
        """Take in a face's polygon, and ask again whether the bit enters."""
        grown = shapely.union(self.polygons[target], self.polygons[face])
        if grown.geom_type != "Polygon":
            # Rounding can leave a sliver beside the polygon proper.
            grown = max(shapely.get_parts(grown), key=shapely.area)
        self.polygons[target] = grown
        if can_enter(self.polygons[[target]], self.entries[target] / 2.0)[0]:
            self.failing.discard(target)

    def _join_equals(self, target: int) -> None:
        """Join the faces of one colour that have come to touch the grown one."""
        colour = self.colours[target]
        for neighbour in sorted(self.shared[target]):
            if self.colours[neighbour] != colour:
                continue
            fits = neighbour not in self.failing
            self.own_areas[target] += self.own_areas[neighbour]
            self._merge(neighbour, target)
            if fits:
                self.failing.discard(target)

    def _result(self) -> Limit:
        """List the pairs and the removed islands."""
        pairs = [(face, self._root(face)) for face in sorted(self.into)]
        return Limit(tuple(pairs), tuple(self._removed()))

    def _root(self, face: int) -> int:
        while face in self.into:
            face = self.into[face]
        return face

    def _removed(self) -> list[RemovedIsland]:
        faces = [face for face, _, _ in self.dropped]
        shapes = self.original[faces]
        needed_mm = self.entries[faces].min(initial=np.inf)
        centres, radii = inscribed_circles(shapes, WIDTH_SHARE * float(needed_mm))
        boxes = shapely.bounds(shapes)
        return [
            RemovedIsland(
                face=face,
                colour=self.colours[face],
                into_colour=into_colour,
                reason=f"{2 * radius:.2f} mm wide at most, the bit needs {self.entries[face]:.2f}",
                area_mm2=area,
                width_mm=2 * float(radius),
                at_mm=(float(centre[0]), float(centre[1])),
                bounds_mm=(float(box[0]), float(box[1]), float(box[2]), float(box[3])),
            )
            for (face, into_colour, area), centre, radius, box in zip(
                self.dropped, centres, radii, boxes, strict=True
            )
        ]
