"""Random polygons for properties: stars around the origin, convex or not."""

import math

import shapely
from hypothesis import strategies as st
from shapely import affinity


def _star(radii: list[float], turn_deg: float) -> shapely.Polygon:
    turns = [2 * math.pi * k / len(radii) for k in range(len(radii))]
    points = [(r * math.cos(t), r * math.sin(t)) for r, t in zip(radii, turns, strict=True)]
    return affinity.rotate(shapely.Polygon(points), turn_deg)


def stars(least: float, most: float) -> st.SearchStrategy[shapely.Polygon]:
    """Return stars of 6 to 12 corners between two distances from the middle."""
    radii = st.lists(st.floats(least, most), min_size=6, max_size=12)
    return st.builds(_star, radii, st.floats(0, 90))
