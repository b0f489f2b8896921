"""Underlap: how far an earlier pour is carried under its later neighbours.

The seam between two pours is then cut in cured resin, and no sliver of wood stays between them.
Nothing that shows is changed by it: what is carried under a neighbour lies inside that
neighbour's own pocket, which is carved later.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from img2pour.pours.geometry import (
    TOUCH_MM,
    Geometry,
    areal,
    dilate,
    empty,
    filled_holes,
    polygons_of,
    thick_part,
    union,
)


@dataclass(frozen=True)
class UnderlapSettings:
    """How far earlier pours go under later ones.

    Attributes
    ----------
    width_mm : float
        The underlap; see :func:`underlap_width_mm`.
    least_core_mm : float
        Wood that stays under a later pour, inside the ring of an earlier one, stands until it is
        carved away if it is this wide.
    through : bool
        Go right through under every later pour that an earlier one encloses.
    """

    width_mm: float = 2.0
    least_core_mm: float = 1.5
    through: bool = False


LEAST_UNDERLAP_MM = 2.0  # common practice, no source


def underlap_width_mm(finishing_flat_diameter_mm: float | None) -> float:
    """Return the usual underlap: 2 mm or the radius of the finishing flat bit, if that is more."""
    return max(LEAST_UNDERLAP_MM, (finishing_flat_diameter_mm or 0.0) / 2.0)


def is_cheaper_through(island: Geometry, width_mm: float) -> bool:
    """Return whether an enclosed island is too small to be worth carving round its core.

    It is when the island's area is below u P + pi u^2, which is what the island would need as its
    own underlap if it were poured first (Steiner's formula for a convex outline).
    """
    ring = width_mm * island.length + math.pi * width_mm**2
    return bool(island.area < ring)


def under(
    earlier: Geometry,
    later: Geometry,
    settings: UnderlapSettings,
    solid: Geometry | None = None,
) -> Geometry:
    """Return what an earlier pour takes of the later ones around it.

    Parameters
    ----------
    earlier, later : shapely geometry
        A pour, and the union of the later pours it may go under.
    settings : UnderlapSettings
    solid : shapely geometry, optional
        Wood and cured resin around, which a core may lean on.

    Returns
    -------
    shapely MultiPolygon
        Inside `later`, touching `earlier`.
    """
    within = areal(dilate(earlier, settings.width_mm).intersection(later))
    near = areal(shapely.MultiPolygon(_beside(within, earlier)))  # not across a wall of wood
    if near.is_empty:
        return empty()
    core = areal(later.difference(near))
    standing = core if solid is None else union([core, solid.difference(near)])
    thin = areal(core.difference(thick_part(standing, settings.least_core_mm)))
    through = _islands_through(earlier, later, settings)
    return union([near, *_beside(thin, near), *through])


def _beside(parts: Geometry, shape: Geometry) -> list[Geometry]:
    """Return the parts that touch a shape."""
    polygons = polygons_of(parts)
    touched = shapely.STRtree(polygons).query(shape, predicate="dwithin", distance=TOUCH_MM)
    return [polygons[i] for i in sorted(touched)]


def _islands_through(
    earlier: Geometry, later: Geometry, settings: UnderlapSettings
) -> list[Geometry]:
    """Return the parts of later pours inside holes of the earlier one to go right through."""
    holes = filled_holes(earlier)
    if holes.is_empty:
        return []
    inside = shapely.buffer(holes, 1e-6)
    islands = [part for part in polygons_of(later) if inside.covers(part)]
    wide = settings.width_mm
    return [i for i in islands if settings.through or is_cheaper_through(i, wide)]


@dataclass(frozen=True, eq=False)
class Carried:
    """A pour's outline with its underlap.

    Attributes
    ----------
    outline : shapely MultiPolygon
        What is carved for the pour: its shape and the underlap.
    under : shapely MultiPolygon
        The underlap alone.
    """

    outline: Geometry
    under: Geometry


def carry_under(
    shape: Geometry,
    later: Sequence[Geometry],
    settings: UnderlapSettings,
    *,
    solid: Geometry | None = None,
    beside: Sequence[Geometry] = (),
    least_wall_mm: float = 1.0,
) -> Carried:
    """Carry one pour under all later ones.

    Parameters
    ----------
    shape : shapely geometry
        The pour.
    later : sequence of shapely geometry
        The pours of later stages.
    settings : UnderlapSettings
    solid : shapely geometry, optional
        Wood and cured resin around, which a core may lean on.
    beside : sequence of shapely geometry
        Pours of another resin in the same stage: the two underlaps keep a wall of wood between
        them, which the later pour carves away.
    least_wall_mm : float
        That wall.
    """
    over = union(later)
    carried = under(shape, over, settings, solid)
    for other in beside:
        carried = _keep_apart(carried, shape, other, settings.width_mm, least_wall_mm)
    return Carried(union([shape, carried]), carried)


def _keep_apart(
    carried: Geometry, shape: Geometry, other: Geometry, width_mm: float, wall_mm: float
) -> Geometry:
    """Cut the underlap back where another one of the same stage comes from the other side.

    Where both have room they keep their full width; else each takes half of what the wall leaves.
    """
    reach = width_mm + wall_mm
    close = dilate(other, reach)
    if not close.intersects(carried):
        return carried
    gap = shape.distance(other)
    half = min(max((gap - wall_mm) / 2.0, 0.0), width_mm)
    return areal(carried.difference(close.difference(dilate(shape, half))))
