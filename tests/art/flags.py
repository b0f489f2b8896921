"""National flags drawn from the laws that fix their geometry: exact areas for end-to-end tests.

Each flag is laid out in the units of its law, x right and y down. Colours are plain stand-ins; only
the geometry is the law's.
"""

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import cos, pi, radians, sin

import shapely
from shapely.affinity import affine_transform, rotate
from shapely.geometry.base import BaseGeometry

from tests.art.known import KnownArt, Painted, Rgb, compose
from tests.art.shapes import disc

Place = Callable[[BaseGeometry], BaseGeometry]
RED, BLUE, WHITE = (198, 32, 46), (20, 62, 140), (250, 250, 248)
YELLOW, GREEN = (250, 204, 22), (10, 106, 79)
GROUND: Rgb = (150, 146, 138)
TRUE_DISC_RADIUS_PX = 300.0


@dataclass(frozen=True, eq=False)
class Flag:
    """A flag's law, size in the law's units, layers, exact share and regions of each colour."""

    country: str
    law: str
    length: float
    height: float
    layers: tuple[tuple[Rgb, tuple[BaseGeometry, ...]], ...]
    shares: dict[Rgb, float]
    regions: dict[Rgb, int]

    def draw(self, length_px: float, margin_px: float = 40.35, turn_deg: float = 0.0) -> KnownArt:
        """Return the flag on a grey ground, at a fractional place so that edges are antialiased."""
        scale = length_px / self.length
        across, down = length_px, self.height * scale
        c, s = cos(radians(turn_deg)), abs(sin(radians(turn_deg)))
        size = (
            round(c * across + s * down + 2 * margin_px),
            round(c * down + s * across + 2 * margin_px),
        )
        centre = (size[0] / 2 + 0.17, size[1] / 2 - 0.31)
        move = [scale, 0, 0, scale, centre[0] - across / 2, centre[1] - down / 2]

        def place(shape: BaseGeometry) -> BaseGeometry:
            return rotate(affine_transform(shape, move), turn_deg, origin=centre)

        palette = (GROUND, *dict.fromkeys(colour for colour, _ in self.layers))
        return compose(self.country, size, palette, [self._painted(palette, place)], [])

    def _painted(self, palette: tuple[Rgb, ...], place: Place) -> Painted:
        return [
            (palette.index(colour), place(shape))
            for colour, shapes in self.layers
            for shape in shapes
        ]


def _fine_disc(x: float, y: float, radius: float) -> BaseGeometry:
    """Return a disc chorded for a radius of TRUE_DISC_RADIUS_PX."""
    grown = disc((0.0, 0.0), TRUE_DISC_RADIUS_PX)
    factor = radius / TRUE_DISC_RADIUS_PX
    return affine_transform(grown, [factor, 0, 0, factor, x, y])


def _cross(length: float, height: float, x: tuple[float, float], y: tuple[float, float]) -> tuple:
    """Return the two bars of a cross that reaches all four edges."""
    return shapely.box(x[0], 0, x[1], height), shapely.box(0, y[0], length, y[1])


JAPAN = Flag(
    "Japan",
    "Act No. 127 of 13 August 1999, Appendix 1: height 2/3 of length; disc in the centre, "
    "diameter 3/5 of the height",
    3,
    2,
    ((WHITE, (shapely.box(0, 0, 3, 2),)), (RED, (_fine_disc(1.5, 1, 0.6),))),
    {RED: 3 * pi / 50, WHITE: 1 - 3 * pi / 50},
    {RED: 1, WHITE: 1},
)
SWITZERLAND = Flag(
    "Switzerland",
    "SR 232.21, Art. 1-3 and Annex 2 (2013): square of 32; cross 20 long, arms 6 wide and 7 long",
    32,
    32,
    (
        (RED, (shapely.box(0, 0, 32, 32),)),
        (WHITE, (shapely.box(13, 6, 19, 26), shapely.box(6, 13, 26, 19))),
    ),
    {WHITE: float(Fraction(51, 256)), RED: float(Fraction(205, 256))},
    {WHITE: 1, RED: 1},
)
FINLAND = Flag(
    "Finland",
    "Act 380/1978, section 2: 11 x 18; down 4:3:4, along 5:3:10",
    18,
    11,
    ((WHITE, (shapely.box(0, 0, 18, 11),)), (BLUE, _cross(18, 11, (5, 8), (4, 7)))),
    {BLUE: float(Fraction(13, 33)), WHITE: float(Fraction(20, 33))},
    {BLUE: 1, WHITE: 4},
)
SWEDEN = Flag(
    "Sweden",
    "SFS 1982:269, section 2: 10 x 16; down 4:2:4, along 5:2:9",
    16,
    10,
    ((BLUE, (shapely.box(0, 0, 16, 10),)), (YELLOW, _cross(16, 10, (5, 7), (4, 6)))),
    {YELLOW: 0.3, BLUE: 0.7},
    {YELLOW: 1, BLUE: 4},
)
NORWAY = Flag(
    "Norway",
    "Act of 10 December 1898, section 1: 16 x 22; down 6:1:2:1:6, along 6:1:2:1:12",
    22,
    16,
    (
        (RED, (shapely.box(0, 0, 22, 16),)),
        (WHITE, _cross(22, 16, (6, 10), (6, 10))),
        (BLUE, _cross(22, 16, (7, 9), (7, 9))),
    ),
    {
        RED: float(Fraction(27, 44)),
        WHITE: float(Fraction(2, 11)),
        BLUE: float(Fraction(9, 44)),
    },
    {RED: 4, WHITE: 4, BLUE: 1},
)
DENMARK = Flag(
    "Denmark",
    "Ordinance of 11 July 1748, section 1: cross 1/7 of the height, down 3:1:3, along 3:1:4.5",
    8.5,
    7,
    ((RED, (shapely.box(0, 0, 8.5, 7),)), (WHITE, _cross(8.5, 7, (3, 4), (3, 4)))),
    {WHITE: float(Fraction(29, 119)), RED: float(Fraction(90, 119))},
    {WHITE: 1, RED: 4},
)
GREECE = Flag(
    "Greece",
    "Law 851/1978, Art. 1: 2:3; nine equal stripes, blue first; a blue square of five stripes with "
    "a white cross as wide as a stripe",
    27,
    18,
    (
        (BLUE, (shapely.box(0, 0, 27, 18),)),
        (WHITE, tuple(shapely.box(0, 2 * k, 27, 2 * k + 2) for k in (1, 3, 5, 7))),
        (BLUE, (shapely.box(0, 0, 10, 10),)),
        (WHITE, (shapely.box(4, 0, 6, 10), shapely.box(0, 4, 10, 6))),
    ),
    {WHITE: float(Fraction(106, 243)), BLUE: float(Fraction(137, 243))},
    {WHITE: 4, BLUE: 7},
)
BANGLADESH = Flag(
    "Bangladesh",
    "Flag Rules 1972, rule 3: 10:6; circle of radius 1/5 of the length, its centre at 9/20 of the "
    "length and half the height",
    10,
    6,
    ((GREEN, (shapely.box(0, 0, 10, 6),)), (RED, (_fine_disc(4.5, 3, 2),))),
    {RED: pi / 15, GREEN: 1 - pi / 15},
    {RED: 1, GREEN: 1},
)
CZECH = Flag(
    "Czech Republic",
    "Act 3/1993 Sb., section 4: 2:3; white over red, a blue wedge from the hoist to the middle",
    3,
    2,
    (
        (WHITE, (shapely.box(0, 0, 3, 1),)),
        (RED, (shapely.box(0, 1, 3, 2),)),
        (BLUE, (shapely.Polygon([(0, 0), (1.5, 1), (0, 2)]),)),
    ),
    {BLUE: 0.25, WHITE: 0.375, RED: 0.375},
    {BLUE: 1, WHITE: 1, RED: 1},
)
FLAGS = (JAPAN, SWITZERLAND, FINLAND, SWEDEN, NORWAY, DENMARK, GREECE, BANGLADESH, CZECH)
