"""Touch-ups on the region map: recolour, merge, erase; nothing is traced again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.erasing import erased
from img2pour.errors import SettingsError
from img2pour.plane.edit import merge_alike
from img2pour.plane.regionmap import RegionMap
from img2pour.plane.shapes import face_polygons
from img2pour.units import quoted

if TYPE_CHECKING:
    from img2pour.artwork import Geometry
    from img2pour.job.touch_section import Touch
    from img2pour.palette import Palette

SAGITTA_PX = 0.1


@dataclass(frozen=True, eq=False)
class Touched:
    """The region map after the touch-ups, and touch-ups that met no region, in plain words."""

    region_map: RegionMap
    notes: tuple[str, ...]


def touch_up(
    region_map: RegionMap,
    touches: Sequence[Touch],
    palette: Palette,
    geometry: Geometry,
    mm_per_px: float,
) -> Touched:
    """Return the map, in pixels, with its touch-ups applied in order.

    Raises
    ------
    SettingsError
        When a touch-up names a colour that the picture does not have.
    """
    notes = []
    for number, touch in enumerate(touches, start=1):
        if touch.action not in {"recolour", "merge", "erase"}:
            continue
        polygons = np.array(face_polygons(region_map, SAGITTA_PX), dtype=object)
        met = _meeting(region_map, polygons, touch, palette, geometry, mm_per_px)
        area = _area([geometry.to_artwork(point) for point in touch.inside])
        if touch.action == "erase":
            changed = erased(region_map, polygons, met, area)
        else:
            met &= _mostly_in(polygons, area)
            colours = np.where(met, _index(touch.to, palette), region_map.face_colours)
            changed = merge_alike(region_map, colours) if met.any() else None
        if changed is None:
            notes.append(f"touch-up {number} ({touch.action}) meets no region")
        else:
            region_map = changed
    return Touched(region_map, tuple(notes))


def _meeting(
    region_map: RegionMap,
    polygons: NDArray[np.object_],
    touch: Touch,
    palette: Palette,
    geometry: Geometry,
    mm_per_px: float,
) -> NDArray[np.bool_]:
    """Return the faces that meet every condition of a touch-up but for its polygon."""
    met = region_map.face_colours >= 0
    if touch.colour is not None:
        met &= region_map.face_colours == _index(touch.colour, palette)
    if touch.below is not None:
        met &= shapely.area(polygons) * mm_per_px**2 < touch.below.mm**2
    if touch.touching is not None:
        met &= _touching(region_map, _index(touch.touching, palette))
    if touch.at:
        points = shapely.points([geometry.to_artwork(point) for point in touch.at])
        hit, _ = shapely.STRtree(points).query(polygons, predicate="intersects")
        met &= np.isin(np.arange(len(met)), hit)
    chosen: NDArray[np.bool_] = met
    return chosen


def _area(corners: list[tuple[float, float]]) -> shapely.Geometry | None:
    """Return the polygon of some corners; two are opposite corners of a box."""
    if not corners:
        return None
    if len(corners) == 2:
        (x0, y0), (x1, y1) = corners
        return shapely.box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
    return shapely.make_valid(shapely.Polygon(corners))


def _mostly_in(polygons: NDArray[np.object_], area: shapely.Geometry | None) -> NDArray[np.bool_]:
    if area is None:
        return np.ones(len(polygons), bool)
    inside = shapely.area(shapely.intersection(polygons, area))
    return np.asarray(inside > 0.5 * shapely.area(polygons), np.bool_)


def _touching(region_map: RegionMap, colour: int) -> NDArray[np.bool_]:
    """Return the faces that share an arc with a face of a colour."""
    inner = region_map.arc_faces[(region_map.arc_faces >= 0).all(axis=1)]
    own = region_map.face_colours == colour
    beside = np.zeros(len(own), bool)
    beside[inner[own[inner[:, 1]], 0]] = True
    beside[inner[own[inner[:, 0]], 1]] = True
    return beside


def _index(key: str | None, palette: Palette) -> int:
    """Return the index of the colour of this name or ``#hex``."""
    for index, colour in enumerate(palette.colours):
        if key in {colour.name, colour.hex}:
            return index
    names = ", ".join(colour.name for colour in palette.colours)
    raise SettingsError(
        f"a touch-up speaks of the colour {quoted(key)}, but the picture has {names}",
        name="touch",
        value=key,
    )
