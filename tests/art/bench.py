"""The benchmark pieces: assorted shapes with known geometry, and a dense piece.

The shapes grow with the picture; strokes and dots keep their size in pixels. The same seed gives
the same piece.
"""

from collections.abc import Callable

import numpy as np
import shapely

from tests.art import shapes as draw
from tests.art.known import KnownArt, Painted, Primitive, Rgb, compose
from tests.art.letters import lettering

Point = tuple[float, float]
PALETTES: tuple[tuple[Rgb, ...], ...] = (
    ((238, 226, 199), (24, 49, 83), (196, 62, 47), (243, 167, 38), (61, 124, 88), (112, 78, 60)),
    ((250, 247, 240), (20, 20, 24), (200, 30, 44), (20, 100, 172), (246, 200, 40), (90, 160, 70)),
    ((30, 42, 58), (232, 220, 196), (214, 96, 58), (94, 172, 180), (238, 190, 92), (140, 60, 90)),
)
COLUMNS, ROWS = 6, 4


class Cell:
    """A square place on the picture with a seeded source of offsets, turns and colours."""

    def __init__(self, centre: Point, half: float, seed: int, colours: int = 6) -> None:
        self.rng = np.random.default_rng(seed)
        shift = self.rng.uniform(-0.06, 0.06, 2) * half
        self.centre = (float(centre[0] + shift[0]), float(centre[1] + shift[1]))
        self.half = half
        self.primitives: list[Primitive] = []
        mixed = self.rng.permutation(np.arange(1, colours))
        self.order = [int(k) for k in np.resize(mixed, 5)]

    def at(self, x: float, y: float) -> Point:
        return self.centre[0] + self.half * x, self.centre[1] + self.half * y

    def turn(self) -> float:
        return float(self.rng.uniform(0, 360))

    def keep(self, kind: str, colour: int, shape: shapely.Polygon, pieces: int) -> Painted:
        self.primitives.append(Primitive(kind, colour, shape, pieces))
        return [(colour, shape)]


def one_disc(cell: Cell) -> Painted:
    return cell.keep("disc", cell.order[0], draw.disc(cell.centre, 0.8 * cell.half), 2)


def four_discs(cell: Cell) -> Painted:
    return [
        found
        for k, (x, y, r) in enumerate(
            [(-0.45, -0.4, 0.38), (0.5, -0.45, 0.28), (0.42, 0.4, 0.42), (-0.5, 0.5, 0.2)]
        )
        for found in cell.keep("disc", cell.order[k], draw.disc(cell.at(x, y), r * cell.half), 2)
    ]


def upright_square(cell: Cell) -> Painted:
    side = 1.3 * cell.half
    return cell.keep("square", cell.order[0], draw.rectangle(cell.centre, side, side), 4)


def turned_square(cell: Cell) -> Painted:
    side = 1.2 * cell.half
    shape = draw.rectangle(cell.centre, side, side, cell.turn())
    return cell.keep("square", cell.order[1], shape, 4)


def one_star(cell: Cell) -> Painted:
    shape = draw.star(cell.centre, 0.85 * cell.half, cell.turn())
    return cell.keep("star", cell.order[2], shape, 10)


def rings(cell: Cell) -> Painted:
    a, b, c = cell.order[:3]
    return [
        (a, draw.ring(cell.centre, 0.85 * cell.half, 0.62 * cell.half)),
        (b, draw.ring(cell.centre, 0.46 * cell.half, 0.3 * cell.half)),
        (c, draw.disc(cell.centre, 0.3 * cell.half)),
    ]


def sectors(cell: Cell) -> Painted:
    ends = np.cumsum([0, 72, 50, 95, 63]) + cell.turn()
    slices = zip(cell.order, ends[:-1], ends[1:], strict=False)
    return [(c, draw.sector(cell.centre, 0.85 * cell.half, lo, hi)) for c, lo, hi in slices]


def touching(cell: Cell) -> Painted:
    a, b, c, d, _ = cell.order
    size = cell.half
    return [
        (a, draw.rectangle(cell.at(-0.4, -0.1), 0.8 * size, 1.1 * size)),
        (b, draw.rectangle(cell.at(0.35, -0.3), 0.7 * size, 0.7 * size)),
        (c, draw.rectangle(cell.at(0.35, 0.25), 0.7 * size, 0.4 * size)),
        (d, draw.disc(cell.at(-0.35, 0.45), 0.33 * size)),
    ]


def strokes(cell: Cell) -> Painted:
    """Straight and curved strokes 3 to 8 px wide."""
    found: Painted = []
    for k, width in enumerate((3, 4, 5, 6, 8)):
        y = -0.75 + 0.36 * k
        if k % 2:
            ends = [cell.at(-0.8, y + 0.1), cell.at(0.8, y - 0.05)]
            found.append((cell.order[k], draw.stroke(ends, width)))
        else:
            points = [cell.at(-0.8, y), cell.at(-0.25, y + 0.14), cell.at(0.3, y - 0.1)]
            curve = draw.spline([*points, cell.at(0.8, y + 0.06)], step=0.25)
            found.append((cell.order[k], draw.stroke(curve, width)))
    return found


def dots(cell: Cell) -> Painted:
    """Discs of radius 2.5 to 9 px."""
    places = [(x, y) for y in (-0.6, 0, 0.6) for x in (-0.7, -0.23, 0.23, 0.7)]
    radii = np.linspace(2.5, 9, len(places))
    spots = zip(places, radii, strict=True)
    return [(cell.order[k % 5], draw.disc(cell.at(*p), r)) for k, (p, r) in enumerate(spots)]


def blob(cell: Cell) -> Painted:
    waves = [(n, float(cell.rng.uniform(0.02, 0.16) / (n - 1)), cell.turn()) for n in (2, 3, 4, 5)]
    outer = draw.blob(cell.centre, 0.68 * cell.half, waves)
    inner = draw.blob(cell.at(0.05, -0.04), 0.3 * cell.half, waves[:2])
    return [(cell.order[0], outer), (cell.order[1], inner)]


def ellipses(cell: Cell) -> Painted:
    size, turn = cell.half, cell.turn()
    return [
        (cell.order[3], draw.ellipse(cell.centre, 0.85 * size, 0.5 * size, turn)),
        (cell.order[4], draw.ellipse(cell.centre, 0.5 * size, 0.18 * size, turn + 60)),
    ]


def word(cell: Cell) -> Painted:
    size = cell.half
    return [
        (cell.order[0], lettering("REIN", cell.at(0, -0.42), 0.6 * size, 0.11 * size)),
        (cell.order[1], lettering("PORT", cell.at(0, 0.46), 0.5 * size, 0.07 * size)),
    ]


def overlapping(cell: Cell) -> Painted:
    a, b, c, _, _ = cell.order
    size = cell.half
    return [
        (a, draw.disc(cell.at(-0.3, -0.2), 0.5 * size)),
        (b, draw.disc(cell.at(0.3, -0.2), 0.5 * size)),
        (c, draw.regular(cell.at(0, 0.3), 0.5 * size, 6, cell.turn())),
    ]


KINDS: tuple[Callable[[Cell], Painted], ...] = (
    one_disc, turned_square, one_star, rings, sectors, touching, strokes, dots, blob, ellipses,
    word, overlapping, four_discs, upright_square,
)  # fmt: skip


def assorted(
    width: int, height: int, seed: int = 1, palette: tuple[Rgb, ...] | None = None
) -> KnownArt:
    """Return the assorted piece: every kind of shape, 24 places, six colours unless given."""
    chosen = np.random.default_rng(seed).permutation(np.arange(COLUMNS * ROWS) % len(KINDS))
    name = f"assorted-{seed}"
    return _fill(name, (width, height), (COLUMNS, ROWS), chosen, seed, palette)


def dense(width: int, height: int, seed: int = 1) -> KnownArt:
    """Return the dense piece: over a thousand regions in 24 x 16 places."""
    chosen = np.random.default_rng(seed).integers(0, len(KINDS), 24 * 16)
    return _fill(f"dense-{seed}", (width, height), (24, 16), chosen, seed)


def scattered(width: int, height: int, columns: int, rows: int, seed: int = 1) -> KnownArt:
    """Return a piece of as many places as asked, any kind of shape in each."""
    chosen = np.random.default_rng(seed).integers(0, len(KINDS), columns * rows)
    return _fill(f"scattered-{seed}", (width, height), (columns, rows), chosen, seed)


def _fill(
    name: str,
    size: tuple[int, int],
    grid: tuple[int, int],
    chosen: np.ndarray,
    seed: int,
    palette: tuple[Rgb, ...] | None = None,
) -> KnownArt:
    palette = palette or PALETTES[seed % len(PALETTES)]
    step_x, step_y = size[0] / grid[0], size[1] / grid[1]
    half = min(step_x, step_y) / 2
    groups, primitives = [], []
    for place, kind in enumerate(chosen):
        row, column = divmod(place, grid[0])
        centre = ((column + 0.5) * step_x, (row + 0.5) * step_y)
        cell = Cell(centre, half, 1000 * seed + place, len(palette))
        groups.append(KINDS[kind](cell))
        primitives += cell.primitives
    return compose(name, size, palette, groups, primitives)
