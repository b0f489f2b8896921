"""Closed outlines of lines and circular arcs: area, chords, samples, turns. Own code for checks.

An outline is (vertices, bulges): the piece from vertex i to i + 1 (the last to the first) turns by
4 atan(bulge), positive from +x towards +y; 0 is a line.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Outline:
    """A closed ring: vertices (N, 2), bulges (N,)."""

    vertices: Floats
    bulges: Floats

    def area(self) -> float:
        """Return the signed area: shoelace of the vertices plus each arc's circular segment.

        Segment of radius r and turn t: r^2 (t - sin t) / 2, r = chord (1 + b^2) / (4 |b|).
        """
        start, end = self.vertices, np.roll(self.vertices, -1, axis=0)
        origin = start[0]
        a, b = start - origin, end - origin
        shoelace = float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])) / 2
        bent = np.abs(self.bulges) > 1e-12
        bulge, chord = self.bulges[bent], np.hypot(*(end - start)[bent].T)
        turn = 4 * np.arctan(bulge)
        radius = chord * (1 + bulge**2) / (4 * np.abs(bulge))
        return shoelace + float(np.sum(radius**2 * (turn - np.sin(turn)))) / 2

    def chords(self, sagitta: float) -> Floats:
        """Return points (M, 2) of the outline with arcs replaced by chords.

        A piece gives the very same points when it is walked the other way.
        """
        ends = np.roll(self.vertices, -1, axis=0)
        parts = [
            piece_points(start, end, bulge, sagitta)[:-1]
            for start, end, bulge in zip(self.vertices, ends, self.bulges, strict=True)
        ]
        return np.concatenate(parts)

    def turns_deg(self) -> Floats:
        """Return the change of direction at each vertex, degrees, 0 for a tangent joint."""
        chord = np.roll(self.vertices, -1, axis=0) - self.vertices
        heading = np.arctan2(chord[:, 1], chord[:, 0])
        half_turn = 2 * np.arctan(self.bulges)
        leaving, arriving = heading - half_turn, np.roll(heading + half_turn, 1)
        turn: Floats = np.degrees((leaving - arriving + np.pi) % (2 * np.pi) - np.pi)
        return turn


def piece_points(start: Floats, end: Floats, bulge: float, sagitta: float) -> Floats:
    """Return points on one line or arc, both ends included and unchanged."""
    if abs(bulge) < 1e-12:
        return np.array([start, end])
    if tuple(end) < tuple(start):
        return piece_points(end, start, -bulge, sagitta)[::-1]
    chord = end - start
    radius = np.hypot(*chord) * (1 + bulge**2) / (4 * abs(bulge))
    step = 2 * np.arccos(max(-1.0, 1 - sagitta / radius))
    turn = 4 * np.arctan(bulge)
    count = int(np.ceil(abs(turn) / step))
    normal = np.array([-chord[1], chord[0]])
    centre = (start + end) / 2 + normal * (1 - bulge**2) / (4 * bulge)
    angles = np.arctan2(*(start - centre)[::-1]) + turn * np.arange(1, count) / count
    middle = centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])
    return np.concatenate([[start], middle, [end]])


@dataclass(frozen=True, eq=False)
class TracedFace:
    """One traced region: its colour and its outlines, the outer one having the largest area."""

    colour: int
    outlines: tuple[Outline, ...]

    def area(self) -> float:
        areas = sorted((abs(outline.area()) for outline in self.outlines), reverse=True)
        return areas[0] - sum(areas[1:])

    def outer(self) -> Outline:
        return max(self.outlines, key=lambda outline: abs(outline.area()))

    def polygon(self, sagitta: float = 0.002) -> shapely.Polygon:
        outer = self.outer()
        holes = [o.chords(sagitta) for o in self.outlines if o is not outer]
        return shapely.Polygon(outer.chords(sagitta), holes)
