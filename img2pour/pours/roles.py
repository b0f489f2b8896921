"""Roles: what becomes of each region, and which regions are poured together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.errors import SettingsError
from img2pour.pours.geometry import Geometry, as_array, union
from img2pour.pours.pour import CLEAR, Pour
from img2pour.units import quoted

Role = Literal["pour", "wood", "outside"]
Point = tuple[float, float]


@dataclass(frozen=True)
class RoleRule:
    """A role for some regions: those that meet every condition that is given.

    Attributes
    ----------
    role : {"pour", "wood", "outside"}
    colour : str or None
        Only regions of this colour.
    inside : tuple of point
        Only regions of which more than half lies inside this polygon, mm.
    below_mm2 : float or None
        Only regions smaller than this.
    touching : str or None
        Only regions that share an edge with a region of this colour.
    at : tuple of point
        Only the regions at these points, mm.
    pour : str or None
        They become a pour of their own with this name: fine dark detail, poured later.
    cast : str or None
        They are cast in this instead of their colour's own.
    """

    role: Role
    colour: str | None = None
    inside: tuple[Point, ...] = ()
    below_mm2: float | None = None
    touching: str | None = None
    at: tuple[Point, ...] = ()
    pour: str | None = None
    cast: str | None = None


@dataclass(frozen=True)
class Cast:
    """What a colour is cast in.

    Attributes
    ----------
    name : str
        Of the coloured resin: colours with the same name are joined into one pour.
    product : str
        Name in the table of resins.
    lightness : float
        CIE L* of the cured colour, 0 to 100.
    pigmented : bool
    """

    name: str
    product: str
    lightness: float
    pigmented: bool = True


@dataclass(frozen=True, eq=False)
class Faces:
    """The regions of the artwork on the board.

    Attributes
    ----------
    polygons : tuple of shapely Polygon
        F of them, mm.
    colours : tuple of str
        Colour name of each; "" where the artwork is transparent.
    neighbours : tuple of frozenset of int
        Which share an edge with each.
    """

    polygons: tuple[Geometry, ...]
    colours: tuple[str, ...]
    neighbours: tuple[frozenset[int], ...]


def face_neighbours(arc_faces: NDArray[np.int32], count: int) -> tuple[frozenset[int], ...]:
    """Return which faces share an arc, from a region map's left and right faces.

    Parameters
    ----------
    arc_faces : (A, 2) int32
        Negative for none.
    count : int
        Number of faces.
    """
    found: list[set[int]] = [set() for _ in range(count)]
    for left, right in arc_faces.tolist():
        if left >= 0 and right >= 0 and left != right:
            found[left].add(right)
            found[right].add(left)
    return tuple(frozenset(beside) for beside in found)


@dataclass(frozen=True)
class FaceRole:
    """What becomes of one region: its role, its pour's own name (or None), its cast (or None)."""

    role: Role
    pour: str | None = None
    cast: str | None = None


@dataclass(frozen=True)
class Assignment:
    """A role for each region, and words where a rule did nothing."""

    roles: tuple[FaceRole, ...]
    warnings: tuple[str, ...]


def assign_roles(
    faces: Faces, by_colour: Mapping[str, Role], rules: Sequence[RoleRule] = ()
) -> Assignment:
    """Give each region its role: its colour's, then that of each rule it meets, the last one wins.

    Parameters
    ----------
    faces : Faces
    by_colour : mapping of str to Role
        By the colour's name; a colour that is not named is poured.
    rules : sequence of RoleRule

    Raises
    ------
    SettingsError
        When a rule names a colour that is not there, or its polygon has fewer than 3 corners; all
        faults at once.
    """
    _check(faces, rules)
    roles = [_own_role(colour, by_colour) for colour in faces.colours]
    tree = shapely.STRtree(list(faces.polygons))
    warnings = []
    for number, rule in enumerate(rules, 1):
        met = _meeting(faces, rule, tree)
        if not met:
            warnings.append(f"role rule {number} ({_rule_words(rule)}) meets no region")
        warnings += _points_without_region(number, faces, rule, tree, met)
        for face in met:
            roles[face] = FaceRole(rule.role, rule.pour, rule.cast)
    return Assignment(tuple(roles), tuple(warnings))


def _own_role(colour: str, by_colour: Mapping[str, Role]) -> FaceRole:
    return FaceRole("outside" if not colour else by_colour.get(colour, "pour"))


def _check(faces: Faces, rules: Sequence[RoleRule]) -> None:
    known = tuple(dict.fromkeys(colour for colour in faces.colours if colour))
    faults = []
    for number, rule in enumerate(rules, 1):
        for word, colour in (("colour", rule.colour), ("touching", rule.touching)):
            if colour is not None and colour not in known:
                faults.append(
                    f"role rule {number}: {word} is {quoted(colour)}; the colours are: "
                    f"{', '.join(known)}"
                )
        if rule.inside and len(set(rule.inside)) < 3:
            faults.append(f"role rule {number}: inside needs 3 corners or more")
        if rule.below_mm2 is not None and not rule.below_mm2 > 0:
            faults.append(f"role rule {number}: below is {rule.below_mm2:g} mm2; give more than 0")
    if faults:
        raise SettingsError("\n".join(faults), name="role")


def _meeting(faces: Faces, rule: RoleRule, tree: shapely.STRtree) -> list[int]:
    """Return the regions that meet every condition of a rule."""
    met = set(_at_points(rule.at, tree)) if rule.at else set(range(len(faces.polygons)))
    met = {i for i in met if faces.colours[i] and rule.colour in (None, faces.colours[i])}
    if rule.below_mm2 is not None:
        met = {i for i in met if faces.polygons[i].area < rule.below_mm2}
    if rule.touching is not None:
        met = {
            i for i in met if any(faces.colours[j] == rule.touching for j in faces.neighbours[i])
        }
    if rule.inside:
        polygon = shapely.make_valid(shapely.Polygon(rule.inside))
        shapely.prepare(polygon)
        met = {i for i in met if _mostly_inside(faces.polygons[i], polygon)}
    return sorted(met)


def _mostly_inside(face: Geometry, polygon: Geometry) -> bool:
    if not polygon.intersects(face):
        return False
    more_than_half = (0.5 + 1e-9) * face.area
    return bool(polygon.covers(face) or face.intersection(polygon).area > more_than_half)


def _at_points(points: Iterable[Point], tree: shapely.STRtree) -> list[int]:
    """Return the region at each point; on an edge the first one."""
    found = []
    for point in points:
        hits = tree.query(shapely.Point(point), predicate="intersects")
        found += sorted(hits.tolist())[:1]
    return found


def _points_without_region(
    number: int, faces: Faces, rule: RoleRule, tree: shapely.STRtree, met: Sequence[int]
) -> list[str]:
    words = []
    for point in rule.at:
        hit = _at_points([point], tree)
        if met and not set(hit) & set(met):
            there = faces.colours[hit[0]] if hit else "nothing"
            words.append(
                f"role rule {number}: the point {point[0]:g}, {point[1]:g} mm is on "
                f"{there or 'nothing'}; the rule does not reach it"
            )
    return words


def _rule_words(rule: RoleRule) -> str:
    parts = [rule.colour or "any colour"]
    if rule.inside:
        parts.append("inside a polygon")
    if rule.below_mm2 is not None:
        parts.append(f"below {rule.below_mm2:g} mm2")
    if rule.touching is not None:
        parts.append(f"touching {rule.touching}")
    if rule.at:
        parts.append(f"at {len(rule.at)} points")
    return " ".join(parts)


@dataclass(frozen=True, eq=False)
class Layout:
    """The board as pours, wood and what is no part of the piece; they tile it.

    Attributes
    ----------
    pours : tuple of Pour
        In the order in which their regions first appear.
    products : dict of str to str
        The resin table's name for each pour.
    pigmented : dict of str to bool
        For each pour.
    wood : shapely geometry
        Bare wood, the board around the artwork included.
    outside : shapely geometry
        No part of the piece.
    """

    pours: tuple[Pour, ...]
    products: Mapping[str, str]
    pigmented: Mapping[str, bool]
    wood: Geometry
    outside: Geometry


def lay_out(
    faces: Faces, assignment: Assignment, casts: Mapping[str, Cast], board: Geometry
) -> Layout:
    """Join regions into pours: those of one cast, unless a rule gave them a pour of their own.

    Parameters
    ----------
    faces : Faces
    assignment : Assignment
    casts : mapping of str to Cast
        By colour; what a rule's `cast` names is looked up among their names.
    board : shapely geometry
        The finished board.

    Raises
    ------
    SettingsError
        When a poured colour has no cast, or a rule names one that does not exist.
    """
    members: dict[tuple[str, str], list[int]] = {}
    outside: list[int] = []
    by_name = {cast.name: cast for cast in casts.values()}
    for face, role in enumerate(assignment.roles):
        if role.role == "pour":
            cast = _cast_of(faces.colours[face], role, casts, by_name)
            members.setdefault((role.pour or cast.name, cast.name), []).append(face)
        elif role.role == "outside":
            outside.append(face)
    names = _names(list(members))
    pours = tuple(_pour(name, by_name[key[1]], faces, members[key]) for key, name in names.items())
    beyond = union(_valid(faces.polygons[i] for i in outside))
    taken = union([beyond, *(pour.shape for pour in pours)])
    return Layout(
        pours,
        {pour.name: by_name[pour.resin].product for pour in pours},
        {pour.name: by_name[pour.resin].pigmented for pour in pours},
        board.difference(taken),
        beyond,
    )


def _cast_of(
    colour: str, role: FaceRole, casts: Mapping[str, Cast], by_name: Mapping[str, Cast]
) -> Cast:
    if role.cast is not None:
        if role.cast not in by_name:
            raise SettingsError(
                f"role: there is no cast {quoted(role.cast)}; there are: {', '.join(by_name)}",
                name="role",
                value=role.cast,
            )
        return by_name[role.cast]
    if colour not in casts:
        raise SettingsError(
            f"the colour {quoted(colour)} is poured, but no resin is named for it", name="resin"
        )
    return casts[colour]


def _names(keys: Sequence[tuple[str, str]]) -> dict[tuple[str, str], str]:
    """Return a unique name for each pour: its own, with the cast's where it would not be."""
    wanted = [own for own, _ in keys]

    def is_taken(own: str, cast: str) -> bool:
        return own == CLEAR or (wanted.count(own) > 1 and own != cast)

    return {(own, cast): f"{own} ({cast})" if is_taken(own, cast) else own for own, cast in keys}


def _pour(name: str, cast: Cast, faces: Faces, members: Sequence[int]) -> Pour:
    colours = tuple(dict.fromkeys(faces.colours[i] for i in members))
    shape = union(_valid(faces.polygons[i] for i in members))
    return Pour(name, cast.name, colours, shape, cast.lightness)


def _valid(polygons: Iterable[Geometry]) -> NDArray[np.object_]:
    """Return polygons with those mended whose chords cross where the arcs do not."""
    array = as_array(polygons)
    wrong = ~shapely.is_valid(array)
    array[wrong] = shapely.make_valid(array[wrong])
    return array
