"""The upright input and the artwork for the page: their sizes, the sheet's corners, pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.artwork import geometry_of
from img2pour.errors import GeometryError

if TYPE_CHECKING:
    from img2pour.picture import Picture
    from img2pour.steps import Workbench

LONGEST_PX = 1600
JPEG_QUALITY = 88
OUTSIDE_GREY = 200


def source_view(bench: Workbench) -> dict[str, Any]:
    """Return what straightening did, and the corners of what it took for the sheet."""
    picture, done = bench.get("read"), bench.get("straighten")
    job = bench.job
    height_px, width_px = picture.rgb.shape[:2]
    geometry = geometry_of(done, job)
    high, wide = done.picture.rgb.shape[:2]
    corners = [geometry.to_upright(at) for at in ((0, 0), (wide, 0), (wide, high), (0, high))]
    art_height, art_width = bench.get("light").rgb.shape[:2]
    return {
        "width_px": width_px,
        "height_px": height_px,
        "artwork_width_px": art_width,
        "artwork_height_px": art_height,
        "corners_px": [[round(x, 2), round(y, 2)] for x, y in corners],
        "corners_given": not isinstance(job.photo.straighten, str),
        "straightened": done.picture is not picture,
        "said": "; ".join(done.notes) or "the picture was taken as it is",
        "mm_per_px": geometry.mm_per_px,
        "sheet": None if job.photo.sheet == "card" else job.photo.sheet,
        "card": "card" if job.photo.sheet == "card" else None,
        "dpi": picture.dpi,
        "notes": list(picture.notes),
    }


def jpeg_of(picture: Picture) -> bytes:
    """Return a picture as JPEG, its longest side at most `LONGEST_PX`.

    Raises
    ------
    GeometryError
        When the encoder refuses it.
    """
    rgb: NDArray[np.uint8] = picture.rgb
    scale = LONGEST_PX / max(rgb.shape[:2])
    outside = picture.outside
    if scale < 1:
        size = max(1, round(rgb.shape[1] * scale)), max(1, round(rgb.shape[0] * scale))
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
        if outside is not None:
            shrunk = cv2.resize(outside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
            outside = np.asarray(shrunk, np.uint8).view(np.bool_)
    if outside is not None:
        rgb = rgb.copy()
        rgb[outside] = OUTSIDE_GREY
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    )
    if not done:
        raise GeometryError("the picture could not be made smaller for the page")
    return bytes(data)
