"""The look: what a person sees at the finished face after each stage, and what is lost of the wish.

At each point it is the resin of the last stage whose pocket covers it, else wood.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.pours.contacts import find_contacts
from img2pour.pours.geometry import (
    TOUCH_MM,
    Geometry,
    areal,
    as_array,
    inside_points,
    points_within,
    polygons_of,
    thin_part,
    union,
)
from img2pour.pours.pour import Pour
from img2pour.pours.seals import inscribed_radius
from img2pour.pours.stages import CLEAR, Stage, StagePocket, flat_radius_mm

Reach = Callable[[StagePocket], Geometry]
"""What the pocket's bits really open of its outline, at the finished face."""

SEEN_MM2 = 1e-3  # smaller differences come from the last bits of coordinates
LEAST_LINE_MM2 = 0.5  # smaller slivers are the tips of something wider
LINE_SHARE = 0.3  # of a line's outline that later pours must touch for it to stand between them


def whole_outline(pocket: StagePocket) -> Geometry:
    """Return the pocket's outline as drawn: bits as fine as can be."""
    return pocket.outline


def reach_of_bits(surface_mm: float, walls: Literal["upright", "sloped"] = "upright") -> Reach:
    """Return the reach of the pockets' own bits, for a surface that is taken off at the end."""
    from img2pour.carve.pockets import PocketSettings, finished_slices
    from img2pour.carve.profile import profile_of
    from img2pour.carve.voids import opened

    def reach(pocket: StagePocket) -> Geometry:
        parts = polygons_of(pocket.outline)
        if not parts or not pocket.bits:
            return pocket.outline
        radius = flat_radius_mm(pocket.bits)
        if radius is not None:
            slices = opened(as_array(parts), radius)
        else:
            cut = PocketSettings(pocket.depth_mm, surface_mm, walls)
            profiles = [profile_of(bit) for bit in pocket.bits]
            slices = finished_slices(as_array(parts), profiles, cut)
        return union(shapely.intersection(slices, as_array(parts)))  # chords may overshoot a hair

    return reach


@dataclass(frozen=True, eq=False)
class Look:
    """What shows at the finished face.

    Attributes
    ----------
    names : tuple of str
        Of the pours so far; "clear" is the seal.
    shapes : tuple of shapely MultiPolygon
        Where each shows.
    wood : shapely geometry
        Bare wood.
    """

    names: tuple[str, ...]
    shapes: tuple[Geometry, ...]
    wood: Geometry

    def shape(self, name: str) -> Geometry:
        """Return where one pour shows: nowhere before it is poured."""
        found = [
            shape for known, shape in zip(self.names, self.shapes, strict=True) if known == name
        ]
        return found[0] if found else union([])

    @property
    def wood_and_clear(self) -> Geometry:
        """Bare wood and wood under clear: both are wood to the eye."""
        return union([self.wood, self.shape(CLEAR)])


def fold_looks(
    stages: Sequence[Stage], board: Geometry, reach: Reach = whole_outline
) -> tuple[Look, ...]:
    """Return the look after each stage.

    Parameters
    ----------
    stages : sequence of Stage
    board : shapely geometry
        The finished board.
    reach : callable
        What the bits open of a pocket.
    """
    shown: dict[str, Geometry] = {}
    wood = board
    shapely.prepare(board)
    looks = []
    for stage in stages:
        opened = {pocket.pour: _on_board(reach(pocket), board) for pocket in stage.pockets}
        carved = union(opened.values())
        shown = {name: areal(shape.difference(carved)) for name, shape in shown.items()}
        shown |= opened
        wood = areal(wood.difference(carved))
        looks.append(Look(tuple(shown), tuple(shown.values()), wood))
    return tuple(looks)


def _on_board(shape: Geometry, board: Geometry) -> Geometry:
    return areal(shape if board.covers(shape) else shape.intersection(board))


@dataclass(frozen=True)
class Uncut:
    """What the bits of a pocket do not open of its outline, seen or hidden under later pours.

    Attributes
    ----------
    pour : str
    area_mm2 : float
    shut : int
        Polygons of the outline that no bit enters at all.
    """

    pour: str
    area_mm2: float
    shut: int


def find_uncut(stages: Sequence[Stage], reach: Reach) -> tuple[Uncut, ...]:
    """Return, for each pocket that is not cut whole, what its bits leave.

    Parameters
    ----------
    stages : sequence of Stage
    reach : callable
        What the bits open of a pocket.
    """
    found = []
    for stage in stages:
        for pocket in stage.pockets:
            opened = reach(pocket)
            area = float(pocket.outline.area - opened.area)
            if area > SEEN_MM2:
                parts = as_array(polygons_of(pocket.outline))
                entered = _entered(parts, polygons_of(opened))
                found.append(Uncut(pocket.pour, area, len(parts) - entered))
    return tuple(found)


def _entered(parts: NDArray[np.object_], inside: Sequence[Geometry]) -> int:
    """Return how many of some polygons hold at least one of the shapes inside them."""
    if not len(inside):
        return 0
    nearest = shapely.STRtree(parts).query_nearest(inside_points(inside), all_matches=False)[1]
    return len(np.unique(nearest))


LossKind = Literal["island", "narrow", "corner"]


@dataclass(frozen=True)
class LostPlace:
    """A place where the look is not the wish.

    Attributes
    ----------
    kind : {"island", "narrow", "corner"}
        A whole region, a part too narrow to be cut, or a rounded corner.
    at_mm : tuple of float
    area_mm2 : float
    """

    kind: LossKind
    at_mm: tuple[float, float]
    area_mm2: float


@dataclass(frozen=True, eq=False)
class PourLoss:
    """What is lost of one pour.

    Attributes
    ----------
    pour : str
    wished_mm2, kept_mm2 : float
    lost : shapely MultiPolygon
        Wish less look; resin of the same name counts wherever it was poured.
    places : tuple of LostPlace
        Largest first.
    """

    pour: str
    wished_mm2: float
    kept_mm2: float
    lost: Geometry
    places: tuple[LostPlace, ...]

    @property
    def lost_mm2(self) -> float:
        """Area that is lost."""
        return float(self.lost.area)

    def lost_of_kind_mm2(self, kind: LossKind) -> float:
        """Return the area lost in one way."""
        return sum(place.area_mm2 for place in self.places if place.kind == kind)


def find_losses(
    pours: Sequence[Pour], look: Look, narrow: Sequence[Geometry]
) -> tuple[PourLoss, ...]:
    """Return what each pour loses: wish less look.

    Parameters
    ----------
    pours : sequence of Pour
        The wish.
    look : Look
        After the last stage.
    narrow : sequence of shapely geometry
        The parts of each pour that are narrower than the bits cut; they tell narrow places from
        rounded corners.
    """
    return tuple(_loss(pour, pours, look, thin) for pour, thin in zip(pours, narrow, strict=True))


def _loss(pour: Pour, pours: Sequence[Pour], look: Look, narrow: Geometry) -> PourLoss:
    alike = [look.shape(other.name) for other in pours if other.resin == pour.resin]
    lost = areal(pour.shape.difference(alike[0] if len(alike) == 1 else union(alike)))
    kept = float(pour.shape.area - lost.area)
    places = _places(polygons_of(lost), pour.shape, narrow)
    return PourLoss(pour.name, float(pour.shape.area), kept, lost, places)


def _places(pieces: Sequence[Geometry], wish: Geometry, narrow: Geometry) -> tuple[LostPlace, ...]:
    """Sort what is lost into whole regions, narrow parts and corners."""
    pieces = [piece for piece in pieces if piece.area >= SEEN_MM2]
    if not pieces:
        return ()
    wished = as_array(polygons_of(wish))
    areas, points = shapely.area(as_array(pieces)), inside_points(pieces)
    region = shapely.STRtree(wished).query_nearest(points, all_matches=False)[1]
    lost_of_region = np.bincount(region, areas, minlength=len(wished))
    is_island = (shapely.area(wished) - lost_of_region < SEEN_MM2)[region]
    is_narrow = points_within(points, polygons_of(narrow))
    places = [
        LostPlace(
            "island" if whole else "narrow" if thin else "corner", _rounded(point), float(area)
        )
        for whole, thin, point, area in zip(is_island, is_narrow, points, areas, strict=True)
    ]
    return tuple(sorted(places, key=lambda place: (-place.area_mm2, place.at_mm)))


def _rounded(point: Geometry) -> tuple[float, float]:
    return (round(float(point.x), 3), round(float(point.y), 3))


@dataclass(frozen=True)
class StandingLine:
    """A line that is not cut to shape but left standing between later pockets.

    Attributes
    ----------
    pour : str
    at_mm : tuple of float
    width_mm : float
        Where it is widest.
    area_mm2 : float
    stands : bool
        Whether it is as wide as the least wall of cured resin.
    """

    pour: str
    at_mm: tuple[float, float]
    width_mm: float
    area_mm2: float
    stands: bool


def standing_lines(
    pours: Sequence[Pour],
    stages: Sequence[Stage],
    look: Look,
    narrow: Sequence[Geometry],
    least_wall_mm: float = 0.8,
) -> tuple[StandingLine, ...]:
    """Return the lines left standing in cured resin, those too thin to stand first.

    Parameters
    ----------
    pours : sequence of Pour
        The wish.
    stages : sequence of Stage
    look : Look
        After the last stage.
    narrow : sequence of shapely geometry
        The parts of each pour that are narrower than the bits cut.
    least_wall_mm : float
        The least wall of cured resin (common practice, no source).
    """
    when = {pocket.pour: at for at, stage in enumerate(stages) for pocket in stage.pockets}
    contacts = find_contacts([pour.shape for pour in pours])
    moment = np.array([when[pour.name] for pour in pours], dtype=np.int64)
    found: list[StandingLine] = []
    for index, pour in enumerate(pours):
        faces_later = (contacts.shape == index) & (moment[contacts.other] > moment[index])
        if not faces_later.any():
            continue
        edges = contacts.ends[faces_later]
        too_thin = thin_part(narrow[index], least_wall_mm)
        sound = narrow[index].difference(too_thin)
        shown = look.shape(pour.name)
        found += _lines(pour.name, too_thin.intersection(shown), edges, False)
        found += _lines(pour.name, sound.intersection(shown), edges, True)
    return tuple(sorted(found, key=lambda line: (line.stands, line.width_mm, line.at_mm)))


def _lines(
    pour: str, thin: Geometry, edges: NDArray[np.float64], stands: bool
) -> list[StandingLine]:
    """Return the thin parts that later pours touch along enough of their outline.

    Parameters
    ----------
    edges : (N, 2, 2) float64
        Segments between the pour and later ones.
    """
    parts = [part for part in polygons_of(thin) if part.area > LEAST_LINE_MM2]
    middles = shapely.points(edges.mean(axis=1))
    part, edge = shapely.STRtree(middles).query(
        as_array(parts), predicate="dwithin", distance=TOUCH_MM
    )
    lengths = np.hypot(*(edges[:, 1] - edges[:, 0]).T)
    beside = np.bincount(part, lengths[edge], minlength=len(parts))
    return [
        StandingLine(pour, _rounded(point), 2.0 * inscribed_radius(line), float(line.area), stands)
        for line, point, touched in zip(parts, inside_points(parts), beside, strict=True)
        if touched > LINE_SHARE * line.length
    ]
