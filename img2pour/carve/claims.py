"""Claims: areas that colours take from their neighbours, served so that the tiling holds.

Each colour's new area is its old one less what others claim, and its own claim. Claims come in
order of priority, and none takes what an earlier one has claimed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from img2pour.carve.inscribed import Polygons

Shapes = Mapping[int, shapely.Geometry]
ChangeKind = Literal["widened", "thickened", "merged", "given up", "rim"]

CRACK_MM = 1e-7
TOUCH_MM = 1e-6


@dataclass(frozen=True)
class Change:
    """One change to the design.

    Attributes
    ----------
    kind : {"widened", "thickened", "merged", "given up", "rim"}
        A stroke made wider; a wall made thicker; a wall given to a pocket; a rest that could not
        be widened, given to a neighbour; what wood took along the board's edge.
    colour : int
        Whose stroke or wall it was.
    into_colour : int
        Who has it now.
    was_mm, is_mm : float
        Width before and after; 0 where nothing is left.
    area_mm2 : float
        That changed its colour.
    at_mm : tuple of float
    """

    kind: ChangeKind
    colour: int
    into_colour: int
    was_mm: float
    is_mm: float
    area_mm2: float
    at_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Changed:
    """The tiling after some changes.

    Attributes
    ----------
    shapes : mapping of colour to geometry
        The same keys as before; they cover the same area, without overlaps.
    changes : tuple of Change
    """

    shapes: Shapes
    changes: tuple[Change, ...]


@dataclass(frozen=True, eq=False)
class Claim:
    """An area that a colour wants, and the change that it would be."""

    colour: int
    area: shapely.Geometry
    kind: ChangeKind
    was_mm: float
    is_mm: float
    at_mm: tuple[float, float]


def polygons_of(shape: shapely.Geometry) -> Polygons:
    """Return the polygons of a shape."""
    parts = np.asarray(shapely.get_parts(shape), dtype=object)
    polygons: Polygons = parts[(shapely.get_dimensions(parts) == 2) & ~shapely.is_empty(parts)]
    return polygons


def serve(shapes: Shapes, claims: Iterable[Claim], fixed: Collection[int]) -> Changed:
    """Serve the claims, colour by colour: who claims least comes first."""
    giving = sealed([shape for colour, shape in shapes.items() if colour not in fixed])
    by_colour: dict[int, list[Claim]] = {}
    claims = list(claims)
    if not claims:
        return Changed(shapes, ())
    for claim in claims:
        by_colour.setdefault(claim.colour, []).append(claim)
    wanted = {
        colour: shapely.intersection(shapely.union_all([c.area for c in own]), giving)
        for colour, own in by_colour.items()
    }
    granted: dict[int, shapely.Geometry] = {}
    taken: shapely.Geometry = shapely.Polygon()
    for colour in sorted(wanted, key=lambda c: (wanted[c].area, c)):
        granted[colour] = shapely.difference(wanted[colour], taken)
        taken = shapely.union(taken, wanted[colour])
    new = {}
    for colour, shape in shapes.items():
        others = shapely.union_all([area for other, area in granted.items() if other != colour])
        own = shapely.difference(shape, others)
        new[colour] = sealed([own, granted[colour]] if colour in granted else [own])
    changes = [
        _change(claim, shapes[claim.colour], granted[claim.colour])
        for own_claims in by_colour.values()
        for claim in own_claims
    ]
    return Changed(new, tuple(change for change in changes if change.area_mm2 > 0.0))


def sealed(parts: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """Join parts that touch, without the hair cracks and hair lines that rounding leaves."""
    joined = shapely.buffer(shapely.union_all(parts), CRACK_MM, join_style="mitre")
    closed = shapely.buffer(joined, -CRACK_MM, join_style="mitre")
    return shapely.multipolygons(polygons_of(closed))


def _change(claim: Claim, shape: shapely.Geometry, granted: shapely.Geometry) -> Change:
    served = shapely.intersection(claim.area, granted)
    # The claim is small and the shape is not: cut the shape down before it is taken away.
    gained = shapely.difference(served, shapely.intersection(shape, claim.area.envelope))
    return Change(
        claim.kind,
        claim.colour,
        claim.colour,
        claim.was_mm,
        claim.is_mm,
        float(gained.area),
        claim.at_mm,
    )


def common_length(small: shapely.Geometry, other: shapely.Geometry) -> float:
    """Return how much of a small polygon's outline runs along another polygon."""
    low_x, low_y, high_x, high_y = small.bounds
    around = shapely.box(low_x - 1.0, low_y - 1.0, high_x + 1.0, high_y + 1.0)
    near = shapely.intersection(shapely.boundary(other), around)
    return float(shapely.intersection(small.boundary, shapely.buffer(near, TOUCH_MM)).length)


def touched_most(piece: shapely.Geometry, shapes: Shapes, excluded: Collection[int]) -> int | None:
    """Return the colour along which most of a piece's outline runs."""
    if piece.is_empty:
        return None
    lengths = {
        colour: common_length(piece, shape)
        for colour, shape in shapes.items()
        if colour not in excluded
    }
    best = max(sorted(lengths), key=lambda colour: lengths[colour], default=None)
    return best if best is not None and lengths[best] > 0.0 else None
