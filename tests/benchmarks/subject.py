"""Run img2pour's own steps on a picture and hand the result to the checkers as plain outlines."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.labels import label_picture
from img2pour.palette import find_palette
from img2pour.picture import read_picture
from img2pour.plane.regionmap import RegionMap, ring_outline, rings
from img2pour.plane.trace import trace
from tests.art.known import KnownArt
from tests.benchmarks import plain_script
from tests.checks import outline_of
from tests.colours import ciede2000, lab
from tests.outlines import Outline, TracedFace


@dataclass(frozen=True, eq=False)
class Traced:
    """The traced faces, colours numbered as in the truth, and the palette that was found."""

    faces: list[TracedFace]
    palette: NDArray[np.float64]


def trace_picture(data: bytes, art: KnownArt) -> Traced:
    """Trace a picture file with automatic colours; name the colours by the nearest true one."""
    picture = read_picture(data)
    palette = find_palette(picture, "auto")
    labels = label_picture(picture, palette)
    found = palette.rgb
    traced = trace(picture.rgb, labels, found, blur_px=palette.blur_px)
    true = lab(np.array(art.palette, float))
    nearest = ciede2000(lab(found)[:, None], true[None]).argmin(axis=1)
    return Traced(faces_of(traced.region_map, nearest), found)


def trace_plainly(data: bytes, art: KnownArt) -> Traced:
    """Trace the same picture by the plain script, which is told the number of colours."""
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    centres, labels = plain_script.quantise(
        cv2.medianBlur(pixels, plain_script.MEDIAN_PX), len(art.palette), False
    )
    found = centres[:, ::-1].astype(float)
    nearest = ciede2000(lab(found)[:, None], lab(np.array(art.palette, float))[None]).argmin(axis=1)
    faces = [
        TracedFace(int(nearest[index]), outline_of(shape))
        for index in range(len(centres))
        for shape in plain_script.regions((labels == index).astype(np.uint8))
    ]
    return Traced(faces, found)


def faces_of(region_map: RegionMap, renamed: NDArray[np.int64]) -> list[TracedFace]:
    """Return the faces of a region map as outlines."""
    outlines: dict[int, list[Outline]] = {}
    all_rings = rings(region_map)
    for index in range(len(all_rings)):
        face = int(all_rings.faces[index])
        if face >= 0:
            outline = Outline(*ring_outline(region_map, all_rings.ring(index)))
            outlines.setdefault(face, []).append(outline)
    return [
        TracedFace(int(renamed[region_map.face_colours[face]]), tuple(parts))
        for face, parts in sorted(outlines.items())
    ]
