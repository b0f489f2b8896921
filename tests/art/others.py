"""The same art antialiased by independent renderers."""

from io import BytesIO

import cv2
import numpy as np
import resvg_py
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from tests.art.known import KnownArt

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]


def by_resvg(art: KnownArt) -> Bytes:
    """Return the art rendered from an SVG by resvg."""
    ground = f'<rect width="100%" height="100%" fill="rgb{art.palette[0]}"/>'
    body = ground + "".join(
        f'<path fill="rgb{art.palette[colour]}" fill-rule="evenodd" d="{_path(shape)}"/>'
        for colour, shape in art.painted
    )
    size = f'width="{art.width}" height="{art.height}"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'
    return _opened(bytes(resvg_py.svg_to_bytes(svg_string=svg)))


def _opened(data: bytes) -> Bytes:
    return np.asarray(Image.open(BytesIO(data)).convert("RGB"))


def _rings(shape: BaseGeometry) -> list[Floats]:
    return [
        shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(shapely.get_parts(shape))
    ]


def _shrunk(shape: BaseGeometry, growth_px: float) -> BaseGeometry:
    """Take off what a renderer adds around a polygon (measured on a disc, corners kept)."""
    return shapely.buffer(shape, -growth_px, quad_segs=32, join_style="mitre", mitre_limit=10)


def _path(shape: BaseGeometry) -> str:
    return "".join(
        "M" + "L".join(f"{x:.5f} {y:.5f}" for x, y in ring) + "Z" for ring in _rings(shape)
    )


def by_pillow(art: KnownArt) -> Bytes:
    """Return the art drawn hard-edged at four times the size and averaged down."""
    big = np.full((4 * art.height, 4 * art.width, 3), art.palette[0], np.uint8)
    for colour, shape in art.painted:
        stencil = Image.new("1", (4 * art.width, 4 * art.height))
        pen = ImageDraw.Draw(stencil)
        for part in shapely.get_parts(_shrunk(shape, 0.094)):
            for value, ring in zip([1] + [0] * 99, _rings(part), strict=False):
                pen.polygon([(x, y) for x, y in 4 * ring], fill=value)
        left, top, right, bottom = stencil.getbbox()
        inside = np.asarray(stencil.crop((left, top, right, bottom)))
        big[top:bottom, left:right][inside] = art.palette[colour]
    return np.asarray(Image.fromarray(big).resize((art.width, art.height), Image.Resampling.BOX))


def by_opencv(art: KnownArt) -> Bytes:
    """Return the art drawn by OpenCV's antialiased filling, coordinates in 1/256 px.

    Its edges are themselves about 0.1 px off, more where an outline has very short pieces.
    """
    picture = np.full((art.height, art.width, 3), art.palette[0], np.uint8)
    for colour, shape in art.painted:
        # OpenCV counts from the centre of the first pixel.
        outline = shapely.simplify(_shrunk(shape, 0.62), 0.05)
        paths = [np.rint((ring - 0.5) * 256).astype(np.int32) for ring in _rings(outline)]
        cv2.fillPoly(picture, paths, art.palette[colour], cv2.LINE_AA, 8)
    return picture


RENDERERS = {"resvg": by_resvg, "Pillow at 4x": by_pillow, "OpenCV": by_opencv}
