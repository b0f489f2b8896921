"""Underlap: how far an earlier pour is carried under its later neighbours.

The seam between two pours is then cut in cured resin, and no sliver of wood stays between them.
Nothing that shows is changed by it: what is carried under a neighbour lies inside that
neighbour's own pocket, which is carved later.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.pours.contacts import find_contacts, touching_line
from img2pour.pours.geometry import (
    TOUCH_MM,
    Geometry,
    areal,
    as_array,
    dilate,
    empty,
    filled_holes,
    inside_points,
    multi,
    points_within,
    polygons_of,
    thin_part,
    union,
)
from img2pour.pours.limits import check_limits

UNDERLAP_QUAD_SEGS = 8  # hidden under later pours: 0.01 mm in 2 mm is enough
LEANING_SHARE = 0.1  # of a thin core's outline that must touch something solid


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

    def __post_init__(self) -> None:
        """Check every number.

        Raises
        ------
        SettingsError
            When one is outside its limits.
        """
        check_limits(self, {"width_mm": (0.0, 100.0), "least_core_mm": (0.0, 100.0)})


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
    solid: Sequence[Geometry] = (),
) -> Geometry:
    """Return what an earlier pour takes of the later ones it touches.

    Parameters
    ----------
    earlier, later : shapely geometry
        A pour, and the union of the later pours it may go under.
    settings : UnderlapSettings
    solid : sequence of shapely geometry
        Wood and cured resin around, which a core may lean on.

    Returns
    -------
    shapely MultiPolygon
        Inside `later`, touching `earlier`.
    """
    line = touching_line(earlier, [later])
    if line.is_empty:
        return empty()
    reached = dilate(line, settings.width_mm, UNDERLAP_QUAD_SEGS)
    within = areal(reached.intersection(later))
    near = multi(_beside(within, shapely.get_parts(line)))  # not across a wall of wood
    core = areal(later.difference(near))
    thin = _cannot_stand(core, near, settings.least_core_mm, solid)
    through = _islands_through(earlier, later, settings)
    return union([near, *thin, *through]) if thin or through else near


def _cannot_stand(
    core: Geometry, near: Geometry, least_mm: float, solid: Sequence[Geometry]
) -> list[Geometry]:
    """Return the thin parts of the core beside the underlap that lean on nothing solid."""
    thin = _beside(thin_part(core, least_mm), shapely.get_parts(near))
    if not thin or not solid:
        return thin
    contacts = find_contacts([multi(thin), *solid])
    leans = contacts.shape == 0
    length = np.bincount(contacts.part[leans], contacts.length_mm[leans], minlength=len(thin))
    return [
        part
        for part, beside in zip(thin, length[: len(thin)], strict=True)
        if beside < LEANING_SHARE * part.length
    ]


def _beside(parts: Geometry, shapes: Sequence[Geometry]) -> list[Geometry]:
    """Return the polygons that touch any of some shapes."""
    polygons = polygons_of(parts)
    tree = shapely.STRtree(polygons)
    touched = tree.query(as_array(shapes), predicate="dwithin", distance=TOUCH_MM)[1]
    return [polygons[i] for i in np.unique(touched)]


def _islands_through(
    earlier: Geometry, later: Geometry, settings: UnderlapSettings
) -> list[Geometry]:
    """Return the parts of later pours, in holes of the earlier one and touching it, to go through.

    What lies deeper, in a pour of another one that fills the hole, is that one's to go under.
    """
    parts = as_array(_beside(later, shapely.get_parts(earlier)))
    enclosed = parts[points_within(inside_points(parts), filled_holes(earlier))]
    wide = settings.width_mm
    return [part for part in enclosed if settings.through or is_cheaper_through(part, wide)]


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
    later: Geometry,
    settings: UnderlapSettings,
    *,
    solid: Sequence[Geometry] = (),
    beside: Sequence[Geometry] = (),
    least_wall_mm: float = 1.0,
) -> Carried:
    """Carry one pour under all later ones.

    Parameters
    ----------
    shape : shapely geometry
        The pour.
    later : shapely geometry
        The union of the pours of later stages.
    settings : UnderlapSettings
    solid : sequence of shapely geometry
        Wood and cured resin around, which a core may lean on.
    beside : sequence of shapely geometry
        Pours of another resin in the same stage: the two underlaps keep a wall of wood between
        them, which the later pour carves away.
    least_wall_mm : float
        That wall.
    """
    carried = under(shape, later, settings, solid)
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
    if carried.is_empty or not shapely.dwithin(carried, other, reach):
        return carried
    close = dilate(other, reach)
    gap = shape.distance(other)
    half = min(max((gap - wall_mm) / 2.0, 0.0), width_mm)
    return areal(carried.difference(close.difference(dilate(shape, half))))
