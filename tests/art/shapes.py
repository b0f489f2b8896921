"""Shapes for test art and samples, as finely chorded polygons (x right, y down, pixels)."""

from math import acos, ceil, cos, pi, radians, sin, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

SAGITTA_PX = 0.0005
Point = tuple[float, float]
Floats = NDArray[np.float64]


def arc_points(centre: Point, radius: float, start_deg: float, end_deg: float) -> list[Point]:
    """Return points on a circular arc, chorded to SAGITTA_PX, both ends included."""
    step = 2 * acos(max(-1.0, 1 - SAGITTA_PX / radius))
    count = max(2, ceil(abs(radians(end_deg - start_deg)) / step))
    angles = np.radians(np.linspace(start_deg, end_deg, count + 1))
    return [(centre[0] + radius * cos(a), centre[1] + radius * sin(a)) for a in angles]


def disc(centre: Point, radius: float) -> Polygon:
    return Polygon(arc_points(centre, radius, 0, 360)[:-1])


def ring(centre: Point, outer: float, inner: float) -> Polygon:
    return Polygon(disc(centre, outer).exterior, [disc(centre, inner).exterior])


def sector(centre: Point, radius: float, start_deg: float, end_deg: float) -> Polygon:
    return Polygon([centre, *arc_points(centre, radius, start_deg, end_deg)])


def ellipse(centre: Point, a: float, b: float, turn_deg: float = 0) -> Polygon:
    """Return an ellipse of semi-axes a >= b with its long axis turned by `turn_deg`."""
    # The sagitta of a chord over dt is at most a dt^2 / 8.
    count = ceil(2 * pi / sqrt(8 * SAGITTA_PX / max(a, b)))
    t = np.linspace(0, 2 * pi, count, endpoint=False)
    return Polygon(_turned(np.column_stack([a * np.cos(t), b * np.sin(t)]), centre, turn_deg))


def blob(centre: Point, radius: float, harmonics: list[tuple[int, float, float]]) -> Polygon:
    """Return r = radius (1 + sum of share cos(n t + phase)) for (n, share, phase_deg)."""
    bend = radius * (1 + sum(abs(share) * (1 + n * n) for n, share, _ in harmonics))
    count = ceil(2 * pi / sqrt(8 * SAGITTA_PX / bend))
    t = np.linspace(0, 2 * pi, count, endpoint=False)
    waves = [share * np.cos(n * t + radians(phase)) for n, share, phase in harmonics]
    r = radius * (1 + np.sum(waves, axis=0))
    return Polygon(np.column_stack([r * np.cos(t), r * np.sin(t)]) + centre)


def rectangle(centre: Point, width: float, height: float, turn_deg: float = 0) -> Polygon:
    half = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * (width / 2, height / 2)
    return Polygon(_turned(half, centre, turn_deg))


def regular(centre: Point, radius: float, sides: int, turn_deg: float = 0) -> Polygon:
    return Polygon(_spokes(centre, [radius], sides, turn_deg))


def star(centre: Point, radius: float, turn_deg: float = 0, rays: int = 5) -> Polygon:
    """Return a star; with five rays the pentagram, inner radius R / phi^2."""
    inner = radius * cos(2 * pi / rays) / cos(pi / rays)
    return Polygon(_spokes(centre, [radius, inner], 2 * rays, turn_deg - 90))


def _spokes(centre: Point, radii: list[float], count: int, turn_deg: float) -> Floats:
    angles = np.radians(turn_deg) + np.arange(count) * 2 * pi / count
    lengths = np.resize(radii, count)
    return np.column_stack([lengths * np.cos(angles), lengths * np.sin(angles)]) + centre


def _turned(points: Floats, centre: Point, turn_deg: float) -> Floats:
    c, s = cos(radians(turn_deg)), sin(radians(turn_deg))
    turned: Floats = points @ np.array([[c, s], [-s, c]]) + np.array(centre)
    return turned


def stroke(points: list[Point], width: float, cap: str = "flat") -> BaseGeometry:
    """Return a line of even width through `points`; round joins chorded to SAGITTA_PX."""
    quarter = ceil(pi / 4 / acos(max(0.0, 1 - SAGITTA_PX / (width / 2))))
    return shapely.buffer(LineString(points), width / 2, quad_segs=quarter, cap_style=cap)


def spline(points: list[Point], *, closed: bool = False, step: float = 1.0) -> list[Point]:
    """Return points about `step` px apart on a smooth curve through `points`."""
    knots = np.array([*points, points[0]] if closed else points, float)
    along = np.concatenate([[0], np.cumsum(np.sqrt(np.hypot(*np.diff(knots, axis=0).T)))])
    curve = CubicSpline(along, knots, bc_type="periodic" if closed else "natural")
    length = np.sum(np.hypot(*np.diff(knots, axis=0).T))
    dense = curve(np.linspace(0, along[-1], max(8, ceil(1.2 * length / step))))
    return [(float(x), float(y)) for x, y in (dense[:-1] if closed else dense)]


def smooth(points: list[Point]) -> Polygon:
    """Return a closed smooth shape through `points`."""
    return Polygon(spline(points, closed=True))


def pieced(*pieces: list[Point]) -> Polygon:
    """Return a shape of smooth pieces that meet in corners."""
    return Polygon([point for piece in pieces for point in spline(piece)])


def tapered(points: list[Point], widths: list[float]) -> BaseGeometry:
    """Return a smooth brush stroke whose width runs through `widths`, spread evenly."""
    middle = np.array(spline(points))
    share = np.linspace(0, 1, len(middle))
    half = np.interp(share, np.linspace(0, 1, len(widths)), widths) / 2
    tangent = np.gradient(middle, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.hypot(*normal.T)[:, None]
    side = normal * half[:, None]
    body = Polygon(np.concatenate([middle + side, (middle - side)[::-1]]))
    ends = [disc(tuple(middle[i]), half[i]) for i in (0, -1) if half[i] > 0.5]
    return shapely.union_all([shapely.make_valid(body), *ends])
