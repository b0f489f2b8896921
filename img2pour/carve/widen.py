"""Making thin strokes just cuttable, and thin walls thick enough or part of a pocket.

Everything is done with claims: an area that a colour takes from its neighbours. Each colour's new
area is its old one less what others claim, and its own claim; so the colours go on tiling the
board exactly. Claims come in order of priority, and none takes what an earlier one has claimed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from img2pour.carve.inscribed import Polygons, can_enter
from img2pour.carve.limit import entry_widths, limit_polygons
from img2pour.carve.medial import medial_axis
from img2pour.carve.necks import ThinPlace
from img2pour.carve.reach import places_of_parts, residue, with_islands
from img2pour.carve.voids import opened
from img2pour.carve.walls import Wall, WallLimits, thin_walls

Shapes = Mapping[int, shapely.Geometry]
ChangeKind = Literal["widened", "thickened", "merged", "given up"]
Spine = Sequence[tuple[tuple[float, float], tuple[float, float]]]

SPARE_MM = 0.01
"""Claims are this much wider than asked: their round ends are made of chords."""

CRACK_MM = 1e-7
TOUCH_MM = 1e-6

SPINE_TOLERANCE_MM = 0.02
CLAIM_SEGMENTS = 16

LEAST_REST_MM2 = 0.01
"""Smaller rests are the rounding of corners."""


@dataclass(frozen=True)
class Change:
    """One change to the design.

    Attributes
    ----------
    kind : {"widened", "thickened", "merged", "given up"}
        A stroke made wider; a wall made thicker; a wall given to a pocket; a rest that could not
        be widened, given to a neighbour.
    colour : int
        Whose stroke or wall it was.
    into_colour : int
        Who has it now.
    was_mm, is_mm : float
        Width before and after; 0 where nothing is left.
    area_mm2 : float
        That changed its colour.
    at_mm : tuple of float
    """

    kind: ChangeKind
    colour: int
    into_colour: int
    was_mm: float
    is_mm: float
    area_mm2: float
    at_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Changed:
    """The tiling after some changes.

    Attributes
    ----------
    shapes : mapping of colour to geometry
        The same keys as before; they cover the same area, without overlaps.
    changes : tuple of Change
    """

    shapes: Shapes
    changes: tuple[Change, ...]


def widen_strokes(
    shapes: Shapes, widths_mm: Mapping[int, float], fixed: Collection[int]
) -> Changed:
    """Make what is thinner than the bit just wide enough, at the neighbours' cost.

    Parameters
    ----------
    shapes : mapping of colour to geometry
        All colours of the board; they tile it.
    widths_mm : mapping of colour to float
        Width that strokes of a colour must have; only these colours are widened.
    fixed : collection of int
        Colours from which nothing may be taken, such as `outside`.

    Returns
    -------
    Changed
        What two colours both need goes to the one that claims less; what is left too thin after
        that goes to the neighbour that it touches most.
    """
    claims = []
    for colour in sorted(widths_mm):
        if colour in shapes:
            claims += _stroke_claims(colour, _parts(shapes[colour]), widths_mm[colour])
    widened = _apply(shapes, claims, fixed)
    trimmed = _give_up_rests(widened.shapes, widths_mm, fixed)
    rest = _give_up_islands(trimmed.shapes, widths_mm, fixed)
    return Changed(rest.shapes, widened.changes + trimmed.changes + rest.changes)


def thicken_walls(
    shapes: Shapes, wood: Collection[int], limits: WallLimits, fixed: Collection[int]
) -> Changed:
    """Make walls of wood as thick as they should be, at the pockets' cost."""
    claims = []
    for colour in sorted(wood):
        for wall in thin_walls(_parts(shapes[colour]), limits):
            place = (wall.width_mm, wall.least_mm, wall.at_mm)
            claims.append(_claim("thickened", colour, wall.spine, *place))
    return _apply(shapes, claims, fixed)


def merge_walls(
    shapes: Shapes, wood: Collection[int], limits: WallLimits, fixed: Collection[int]
) -> Changed:
    """Give walls that would not stand to the pocket that they touch most."""
    new, changes = dict(shapes), []
    for colour in sorted(wood):
        material = _parts(shapes[colour])
        for wall in thin_walls(material, limits):
            piece = _wall_piece(material[wall.region], wall)
            target = _touched_most(piece, new, {*fixed, *wood})
            if target is None or piece.is_empty:
                continue
            new[colour] = _sealed([shapely.difference(new[colour], piece)])
            new[target] = _sealed([new[target], piece])
            changes.append(
                Change("merged", colour, target, wall.width_mm, 0.0, piece.area, wall.at_mm)
            )
    return Changed(new, tuple(changes))


@dataclass(frozen=True, eq=False)
class _Claim:
    """An area that a colour wants, and the change that it would be."""

    colour: int
    area: shapely.Geometry
    kind: ChangeKind
    was_mm: float
    is_mm: float
    at_mm: tuple[float, float]


def _parts(shape: shapely.Geometry) -> Polygons:
    """Return the polygons of a shape."""
    parts = np.asarray(shapely.get_parts(shape), dtype=object)
    polygons: Polygons = parts[(shapely.get_dimensions(parts) == 2) & ~shapely.is_empty(parts)]
    return polygons


def _stroke_claims(colour: int, polygons: Polygons, width_mm: float) -> list[_Claim]:
    """Return a claim for every island, neck and stroke end of a colour."""
    if len(polygons) == 0:
        return []
    axis = medial_axis(polygons, width_mm)
    places = with_islands(polygons, axis, width_mm)
    spines = _island_spines(axis.points[axis.edges], axis.polygons[axis.edges[:, 0]], places)
    return [
        _claim("widened", colour, spine, place.width_mm, width_mm, place.at_mm)
        for place, spine in zip(places, spines, strict=True)
    ]


def _island_spines(
    edges: np.ndarray, edge_polygons: np.ndarray, places: Sequence[ThinPlace]
) -> list[Spine]:
    """Return the spine of each place; of an island its whole axis, corners included."""
    spines: list[Spine] = []
    for place in places:
        if place.kind != "island":
            spines.append(place.spine)
            continue
        own = edges[edge_polygons == place.polygon].tolist()
        spines.append([((a[0], a[1]), (b[0], b[1])) for a, b in own])
    return spines


def _claim(
    kind: ChangeKind,
    colour: int,
    spine: Spine,
    was_mm: float,
    is_mm: float,
    at_mm: tuple[float, float],
) -> _Claim:
    """Claim what lies within half a width of a spine, or of a place if there is none."""
    lines: list[shapely.Geometry] = [shapely.Point(at_mm)]
    if spine:
        merged = shapely.line_merge(shapely.multilinestrings(spine))
        lines.append(shapely.simplify(merged, SPINE_TOLERANCE_MM))
    radius = is_mm / 2.0 + SPARE_MM
    area = shapely.union_all(shapely.buffer(lines, radius, quad_segs=CLAIM_SEGMENTS))
    return _Claim(colour, area, kind, was_mm, is_mm, at_mm)


def _apply(shapes: Shapes, claims: Iterable[_Claim], fixed: Collection[int]) -> Changed:
    """Serve the claims, colour by colour: who claims least comes first."""
    giving = _sealed([shape for colour, shape in shapes.items() if colour not in fixed])
    by_colour: dict[int, list[_Claim]] = {}
    claims = list(claims)
    if not claims:
        return Changed(shapes, ())
    for claim in claims:
        by_colour.setdefault(claim.colour, []).append(claim)
    wanted = {
        colour: shapely.intersection(shapely.union_all([c.area for c in own]), giving)
        for colour, own in by_colour.items()
    }
    granted: dict[int, shapely.Geometry] = {}
    taken: shapely.Geometry = shapely.Polygon()
    for colour in sorted(wanted, key=lambda c: (wanted[c].area, c)):
        granted[colour] = shapely.difference(wanted[colour], taken)
        taken = shapely.union(taken, wanted[colour])
    new = {}
    for colour, shape in shapes.items():
        others = shapely.union_all([area for other, area in granted.items() if other != colour])
        own = shapely.difference(shape, others)
        new[colour] = _sealed([own, granted[colour]] if colour in granted else [own])
    changes = [
        _change(claim, shapes[claim.colour], granted[claim.colour])
        for own_claims in by_colour.values()
        for claim in own_claims
    ]
    return Changed(new, tuple(change for change in changes if change.area_mm2 > 0.0))


def _sealed(parts: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """Join parts that touch, without the hair cracks and hair lines that rounding leaves."""
    joined = shapely.buffer(shapely.union_all(parts), CRACK_MM, join_style="mitre")
    sealed = shapely.buffer(joined, -CRACK_MM, join_style="mitre")
    return shapely.multipolygons(_parts(sealed))


def _change(claim: _Claim, shape: shapely.Geometry, granted: shapely.Geometry) -> Change:
    served = shapely.intersection(claim.area, granted)
    # The claim is small and the shape is not: cut the shape down before it is taken away.
    gained = shapely.difference(served, shapely.intersection(shape, claim.area.envelope))
    return Change(
        claim.kind,
        claim.colour,
        claim.colour,
        claim.was_mm,
        claim.is_mm,
        float(gained.area),
        claim.at_mm,
    )


def _give_up_rests(
    shapes: Shapes, widths_mm: Mapping[int, float], fixed: Collection[int]
) -> Changed:
    """Give what is still too thin of a piece that the bit enters to the colour it touches most."""
    new, changes = dict(shapes), []
    for colour in sorted(widths_mm):
        polygons = _parts(new[colour]) if colour in new else np.empty(0, dtype=object)
        if len(polygons) == 0:
            continue
        width = widths_mm[colour]
        places = with_islands(polygons, medial_axis(polygons, width), width)
        parts, owner = residue(polygons, (width - SPARE_MM) / 2.0)
        chosen = places_of_parts(parts, owner, places)
        moved: dict[int, list[shapely.Geometry]] = {}
        for part, index in zip(parts.tolist(), chosen.tolist(), strict=True):
            if index < 0 or places[index].kind == "island" or part.area < LEAST_REST_MM2:
                continue
            target = _touched_most(part, new, {colour, *fixed})
            if target is not None:
                moved.setdefault(target, []).append(part)
                was, at = places[index].width_mm, places[index].at_mm
                changes.append(Change("given up", colour, target, was, 0.0, part.area, at))
        for target, given in moved.items():
            rest = shapely.difference(new[colour], shapely.union_all(given))
            new[colour] = _sealed([rest])
            new[target] = _sealed([new[target], *given])
    return Changed(new, tuple(changes))


def _give_up_islands(
    shapes: Shapes, widths_mm: Mapping[int, float], fixed: Collection[int]
) -> Changed:
    """Give pieces that no bit enters to the neighbour that they touch most."""
    colours = [colour for colour in sorted(shapes) if colour not in fixed]
    lists = [_parts(shapes[colour]) for colour in colours]
    polygons = np.concatenate(lists) if lists else np.empty(0, dtype=object)
    owners = [colour for colour, own in zip(colours, lists, strict=True) for _ in own]
    needed = {colour: width - SPARE_MM for colour, width in widths_mm.items()}
    entries = entry_widths(owners, needed, list(needed))
    failing = np.flatnonzero((entries > 0.0) & ~can_enter(polygons, entries / 2.0))
    shared = _shared_with(polygons, failing)
    found = limit_polygons(polygons, list(owners), shared, entries)
    pieces: dict[int, list[shapely.Geometry]] = {colour: [] for colour in colours}
    targets = found.targets(len(polygons))
    for index, polygon in enumerate(polygons):
        pieces[owners[int(targets[index])]].append(polygon)
    new = dict(shapes)
    moved = {owners[face] for face, _ in found.pairs} | {owners[into] for _, into in found.pairs}
    for colour in moved:
        new[colour] = _sealed(pieces[colour])
    changes = [
        Change(
            "given up",
            island.colour,
            island.into_colour,
            island.width_mm,
            0.0,
            island.area_mm2,
            island.at_mm,
        )
        for island in found.removed
    ]
    return Changed(new, tuple(changes))


def _shared_with(polygons: Polygons, asked: np.ndarray) -> list[dict[int, float]]:
    """Return the lengths of boundary that some polygons share with their neighbours."""
    shared: list[dict[int, float]] = [{} for _ in polygons]
    if len(asked) == 0:
        return shared
    tree = shapely.STRtree(polygons)
    # Overlays move points by a rounding; touching is asked with a hair's breadth.
    first, second = tree.query(polygons[asked], predicate="dwithin", distance=TOUCH_MM)
    for index, other in zip(asked[first].tolist(), second.tolist(), strict=True):
        if index != other and other not in shared[index]:
            length = _common_length(polygons[index], polygons[other])
            if length > 0.0:
                shared[index][other] = shared[other][index] = length
    return shared


def _common_length(small: shapely.Geometry, other: shapely.Geometry) -> float:
    """Return how much of a small polygon's outline runs along another polygon."""
    low_x, low_y, high_x, high_y = small.bounds
    around = shapely.box(low_x - 1.0, low_y - 1.0, high_x + 1.0, high_y + 1.0)
    near = shapely.intersection(shapely.boundary(other), around)
    return float(shapely.intersection(small.boundary, shapely.buffer(near, TOUCH_MM)).length)


def _touched_most(piece: shapely.Geometry, shapes: Shapes, excluded: Collection[int]) -> int | None:
    """Return the colour along which most of a piece's outline runs."""
    if piece.is_empty:
        return None
    lengths = {
        colour: _common_length(piece, shape)
        for colour, shape in shapes.items()
        if colour not in excluded
    }
    best = max(sorted(lengths), key=lambda colour: lengths[colour], default=None)
    return best if best is not None and lengths[best] > 0.0 else None


def _wall_piece(material: shapely.Polygon, wall: Wall) -> shapely.Geometry:
    """Return the part of some material that is the wall: what a round probe leaves around it."""
    left = shapely.difference(material, opened(np.array([material]), wall.least_mm / 2.0)[0])
    if not wall.spine:
        return material if wall.kind == "alone" else shapely.Polygon()
    spine = shapely.multilinestrings(wall.spine)
    return shapely.union_all(
        [part for part in _parts(left) if part.distance(spine) <= SPINE_TOLERANCE_MM]
    )
