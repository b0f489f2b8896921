"""A scene: shapes painted one over the other, resolved into disjoint visible regions."""

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from tests.art.raster import paint

Rgb = tuple[int, int, int]


def rgb(hex_colour: str) -> Rgb:
    """Return (red, green, blue) of "#rrggbb"."""
    value = int(hex_colour[1:], 16)
    return value >> 16, value >> 8 & 255, value & 255


@dataclass
class Scene:
    """Shapes in painting order over a ground of the first colour of the palette."""

    width: int
    height: int
    palette: dict[str, str]
    painted: list[tuple[str, BaseGeometry]] = field(default_factory=list)

    def add(self, colour: str, *shapes: BaseGeometry) -> None:
        self.painted.extend((colour, shapely.buffer(shape, 0)) for shape in shapes)

    def visible(self) -> dict[str, BaseGeometry]:
        """Return each colour's visible area as one geometry; together they tile the picture."""
        frame = shapely.box(0, 0, self.width, self.height)
        left = dict.fromkeys(self.palette, shapely.Polygon())
        covered: BaseGeometry = shapely.Polygon()
        for colour, shape in reversed(self.painted):
            seen = shapely.intersection(shapely.difference(shape, covered), frame)
            left[colour] = shapely.union(left[colour], seen)
            covered = shapely.union(covered, shape)
        ground = next(iter(self.palette))
        left[ground] = shapely.union(left[ground], shapely.difference(frame, covered))
        return left

    def render(self, *, linear: bool = False) -> NDArray[np.float64]:
        """Return the picture, (height, width, 3), values 0..255, exactly antialiased."""
        ground, *others = self.palette
        seen = self.visible()
        layers = [([seen[name]], rgb(self.palette[name])) for name in others]
        return paint(layers, rgb(self.palette[ground]), self.width, self.height, linear=linear)
