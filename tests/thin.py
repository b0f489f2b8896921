"""The thin places of polygons, as the verdict finds them, without regard to islands."""

from img2pour.carve.inscribed import Polygons
from img2pour.carve.medial import medial_axis
from img2pour.carve.necks import ThinPlace, describe, thin_parts, typical_point


def thin_places(polygons: Polygons, width_mm: float) -> tuple[ThinPlace, ...]:
    """Return the places narrower than a width, by polygon, then from left to right."""
    if len(polygons) == 0:
        return ()
    axis = medial_axis(polygons, width_mm)
    places = [
        describe(axis, part, typical_point(axis, part)) for part in thin_parts(axis, width_mm)
    ]
    return tuple(sorted(places, key=lambda place: (place.polygon, place.at_mm)))
