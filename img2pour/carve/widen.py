"""Making thin strokes just cuttable, and thin walls thick enough or part of a pocket.

Everything is done with claims (:mod:`img2pour.carve.claims`), so the colours go on tiling the board
exactly.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np
import shapely

from img2pour.carve.claims import (
    TOUCH_MM,
    Change,
    Changed,
    ChangeKind,
    Claim,
    Shapes,
    common_length,
    polygons_of,
    sealed,
    serve,
    touched_most,
)
from img2pour.carve.inscribed import Polygons, can_enter
from img2pour.carve.limit import entry_widths, limit_polygons
from img2pour.carve.medial import medial_axis
from img2pour.carve.necks import ThinPlace
from img2pour.carve.reach import places_of_parts, residue, with_islands
from img2pour.carve.room import IslandClaim, without_room
from img2pour.carve.voids import opened
from img2pour.carve.walls import Wall, WallLimits, thin_walls

Spine = Sequence[tuple[tuple[float, float], tuple[float, float]]]

SPARE_MM = 0.01
"""Claims are this much wider than asked: their round ends are made of chords."""

SPINE_TOLERANCE_MM = 0.02
CLAIM_SEGMENTS = 16

HAIR_MM = 0.3
"""Thinner wood breaks while it is cut. Common practice, no source."""

LEAST_REST_MM2 = 0.01
"""Smaller rests are the rounding of corners."""


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
        What two colours both need goes to the one that claims less; islands that would run into
        larger ones find no room; what is left too thin after that goes to the neighbour that it
        touches most.
    """
    cleared = _give_up_crowded(shapes, widths_mm, fixed)
    claims = []
    for colour in sorted(widths_mm):
        if colour in shapes:
            own = polygons_of(cleared.shapes[colour])
            claims += _stroke_claims(colour, own, widths_mm[colour])
    widened = serve(cleared.shapes, claims, fixed)
    trimmed = _give_up_rests(widened.shapes, widths_mm, fixed)
    rest = _give_up_islands(trimmed.shapes, widths_mm, fixed)
    changes = cleared.changes + widened.changes + trimmed.changes + rest.changes
    if changes:
        # Between two widened strokes a hair of wood may be left, which no wood can hold.
        hairs = dict.fromkeys(set(shapes) - {*widths_mm, *fixed}, HAIR_MM)
        rest = _give_up_rests(rest.shapes, hairs, fixed)
        changes += rest.changes
    return Changed(rest.shapes, changes)


def thicken_walls(
    shapes: Shapes, wood: Collection[int], limits: WallLimits, fixed: Collection[int]
) -> Changed:
    """Make walls of wood as thick as they should be, at the pockets' cost."""
    claims = []
    for colour in sorted(wood):
        for wall in thin_walls(polygons_of(shapes[colour]), limits):
            place = (wall.width_mm, wall.least_mm, wall.at_mm)
            claims.append(_claim("thickened", colour, wall.spine, *place))
    return serve(shapes, claims, fixed)


def merge_walls(
    shapes: Shapes, wood: Collection[int], limits: WallLimits, fixed: Collection[int]
) -> Changed:
    """Give walls that would not stand to the pocket that they touch most."""
    new, changes = dict(shapes), []
    for colour in sorted(wood):
        material = polygons_of(shapes[colour])
        for wall in thin_walls(material, limits):
            piece = _wall_piece(material[wall.region], wall)
            target = touched_most(piece, new, {*fixed, *wood})
            if target is None or piece.is_empty:
                continue
            new[colour] = sealed([shapely.difference(new[colour], piece)])
            new[target] = sealed([new[target], piece])
            changes.append(
                Change("merged", colour, target, wall.width_mm, 0.0, piece.area, wall.at_mm)
            )
    return Changed(new, tuple(changes))


def keep_rim(
    shapes: Shapes,
    rim: shapely.Geometry,
    wood: Sequence[int],
    fixed: Collection[int],
    rim_mm: float,
) -> Changed:
    """Give what lies on the board's rim to the wood.

    Parameters
    ----------
    shapes : mapping of colour to geometry
    rim : shapely geometry
        May be empty.
    wood : sequence of int
        Colours that are wood; the first one takes what others lose.
    fixed : collection of int
        Colours from which nothing may be taken.
    rim_mm : float
        Its width: what the wood along the board's edge has afterwards.
    """
    if rim.is_empty or not wood:
        return Changed(shapes, ())
    new, changes = dict(shapes), []
    for colour in sorted(set(shapes) - {*wood, *fixed}):
        lost = shapely.multipolygons(polygons_of(shapely.intersection(shapes[colour], rim)))
        if lost.area <= 0.0:
            continue
        at = lost.representative_point()
        was_mm = float(shapely.distance(lost, shapely.Polygon(rim.exterior).boundary))
        changes.append(Change("rim", colour, wood[0], was_mm, rim_mm, lost.area, (at.x, at.y)))
        new[colour] = sealed([shapely.difference(shapes[colour], rim)])
        new[wood[0]] = sealed([new.get(wood[0], shapely.Polygon()), lost])
    return Changed(new, tuple(changes))


def _give_up_crowded(
    shapes: Shapes, widths_mm: Mapping[int, float], fixed: Collection[int]
) -> Changed:
    """Give islands to their neighbours that would run into each other if they were widened."""
    islands: list[IslandClaim] = []
    for colour in sorted(set(widths_mm) & set(shapes)):
        polygons, width = polygons_of(shapes[colour]), widths_mm[colour]
        lost = polygons[~can_enter(polygons, width / 2.0)] if len(polygons) else polygons
        if len(lost):
            claims = _stroke_claims(colour, lost, width)
            own = shapely.STRtree(lost).nearest([shapely.Point(c.at_mm) for c in claims])
            islands += [IslandClaim(c, lost[i]) for c, i in zip(claims, own, strict=True)]
    new, changes = dict(shapes), []
    for one in without_room(islands, shapes, widths_mm):
        claim, island = one.claim, one.island
        target = touched_most(island, new, {claim.colour, *fixed})
        if target is not None:
            new[claim.colour] = sealed([shapely.difference(new[claim.colour], island)])
            new[target] = sealed([new[target], island])
            was, at = claim.was_mm, claim.at_mm
            changes.append(Change("given up", claim.colour, target, was, 0.0, island.area, at))
    return Changed(new, tuple(changes))


def _stroke_claims(colour: int, polygons: Polygons, width_mm: float) -> list[Claim]:
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
) -> Claim:
    """Claim what lies within half a width of a spine, or of a place if there is none."""
    lines: list[shapely.Geometry] = [shapely.Point(at_mm)]
    if spine:
        merged = shapely.line_merge(shapely.multilinestrings(spine))
        lines.append(shapely.simplify(merged, SPINE_TOLERANCE_MM))
    radius = is_mm / 2.0 + SPARE_MM
    area = shapely.union_all(shapely.buffer(lines, radius, quad_segs=CLAIM_SEGMENTS))
    return Claim(colour, area, kind, was_mm, is_mm, at_mm)


def _give_up_rests(
    shapes: Shapes, widths_mm: Mapping[int, float], fixed: Collection[int]
) -> Changed:
    """Give what is still too thin of a piece that the bit enters to the colour it touches most."""
    new, changes = dict(shapes), []
    for colour in sorted(widths_mm):
        polygons = polygons_of(new[colour]) if colour in new else np.empty(0, dtype=object)
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
            target = touched_most(part, new, {colour, *fixed})
            if target is not None:
                moved.setdefault(target, []).append(part)
                was, at = places[index].width_mm, places[index].at_mm
                changes.append(Change("given up", colour, target, was, 0.0, part.area, at))
        for target, given in moved.items():
            rest = shapely.difference(new[colour], shapely.union_all(given))
            new[colour] = sealed([rest])
            new[target] = sealed([new[target], *given])
    return Changed(new, tuple(changes))


def _give_up_islands(
    shapes: Shapes, widths_mm: Mapping[int, float], fixed: Collection[int]
) -> Changed:
    """Give pieces that no bit enters to the neighbour that they touch most."""
    colours = [colour for colour in sorted(shapes) if colour not in fixed]
    lists = [polygons_of(shapes[colour]) for colour in colours]
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
        new[colour] = sealed(pieces[colour])
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
            length = common_length(polygons[index], polygons[other])
            if length > 0.0:
                shared[index][other] = shared[other][index] = length
    return shared


def _wall_piece(material: shapely.Polygon, wall: Wall) -> shapely.Geometry:
    """Return the part of some material that is the wall: what a round probe leaves around it."""
    left = shapely.difference(material, opened(np.array([material]), wall.least_mm / 2.0)[0])
    if not wall.spine:
        return material if wall.kind == "alone" else shapely.Polygon()
    spine = shapely.multilinestrings(wall.spine)
    return shapely.union_all(
        [part for part in polygons_of(left) if part.distance(spine) <= SPINE_TOLERANCE_MM]
    )
