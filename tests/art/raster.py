"""Pictures of polygons with exact antialiasing.

The share of each pixel that a polygon covers is computed in closed form from the polygon's edges,
so the sum over a picture is the polygon's area. Nothing is sampled.
"""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]


def coverage(geometries: list[BaseGeometry], width: int, height: int) -> Floats:
    """Return the covered share of each pixel, (height, width), of disjoint polygons.

    Parameters
    ----------
    geometries
        Polygons or multipolygons in pixels, x right and y down, picture covering [0, W] x [0, H].
    width, height
        Size of the picture in pixels.
    """
    starts, ends = _edges(geometries, width, height)
    pieces_start, pieces_end = _split_at_pixel_lines(starts, ends)
    rise = pieces_end[:, 1] - pieces_start[:, 1]
    middle = (pieces_start + pieces_end) / 2
    column = np.clip(np.floor(middle[:, 0]).astype(np.int64), 0, width - 1)
    row = np.clip(np.floor(middle[:, 1]).astype(np.int64), 0, height - 1)
    right_part = column + 1 - middle[:, 0]
    slot = row * (width + 1) + column
    size = height * (width + 1)
    change = np.bincount(slot, rise * right_part, size)
    change += np.bincount(slot + 1, rise * (1 - right_part), size)
    # Rings turn from +x to +y, so an edge on the left runs towards smaller y.
    return np.clip(-np.cumsum(change.reshape(height, width + 1), axis=1)[:, :width], 0, 1)


def _edges(geometries: list[BaseGeometry], width: int, height: int) -> tuple[Floats, Floats]:
    """Return the starts and ends of all ring edges, outer rings turning from +x to +y."""
    frame = shapely.box(0, 0, width, height)
    polygons = shapely.get_parts(shapely.intersection(np.array(geometries, object), frame))
    polygons = polygons[shapely.get_type_id(polygons) == shapely.GeometryType.POLYGON]
    rings = shapely.get_rings(shapely.orient_polygons(polygons, exterior_cw=False))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return points[:-1][same], points[1:][same]


def _split_at_pixel_lines(starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """Cut edges wherever they cross a line between pixels, so that each piece lies in one."""
    edge = [np.arange(len(starts)), np.arange(len(starts))]
    at = [np.zeros(len(starts)), np.ones(len(starts))]
    for axis in (0, 1):
        low = np.minimum(starts[:, axis], ends[:, axis])
        high = np.maximum(starts[:, axis], ends[:, axis])
        first = np.floor(low).astype(np.int64) + 1
        count = np.maximum(np.ceil(high).astype(np.int64) - first, 0)
        which = np.repeat(np.arange(len(starts)), count)
        step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
        line = first[which] + step
        edge.append(which)
        at.append((line - starts[which, axis]) / (ends[which, axis] - starts[which, axis]))
    edges, parameters = np.concatenate(edge), np.clip(np.concatenate(at), 0, 1)
    order = np.lexsort((parameters, edges))
    edges, parameters = edges[order], parameters[order]
    points = starts[edges] + parameters[:, None] * (ends[edges] - starts[edges])
    same = edges[1:] == edges[:-1]
    return points[:-1][same], points[1:][same]


def paint(
    layers: list[tuple[list[BaseGeometry], tuple[float, float, float]]],
    ground: tuple[float, float, float],
    width: int,
    height: int,
    *,
    linear: bool = False,
) -> Floats:
    """Return the picture of disjoint layers over a ground colour, (height, width, 3), 0..255.

    With `linear` the colours of a pixel are mixed by light, else by their sRGB values.
    """
    base = _decode(np.array(ground, float)) if linear else np.array(ground, float)
    picture = np.broadcast_to(base, (height, width, 3)).copy()
    for geometries, colour in layers:
        if not geometries:
            continue
        value = _decode(np.array(colour, float)) if linear else np.array(colour, float)
        picture += coverage(geometries, width, height)[:, :, None] * (value - base)
    return _encode(picture) if linear else picture


def _decode(srgb: Floats) -> Floats:
    """Return linear light 0..1 of sRGB 0..255 (IEC 61966-2-1)."""
    share = srgb / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def _encode(light: Floats) -> Floats:
    """Return sRGB 0..255 of linear light 0..1 (IEC 61966-2-1)."""
    light = np.clip(light, 0, 1)
    share = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return 255 * share


def to_bytes(picture: Floats) -> NDArray[np.uint8]:
    """Round a picture of 0..255 values to 8 bits."""
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)
