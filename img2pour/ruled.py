"""Roles by rule: regions that a rule makes wood or outside become so before anything is judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from img2pour.design import WOOD_TONE, Design, DesignColour
from img2pour.plane.edit import merge_alike
from img2pour.plane.regionmap import OUTSIDE_COLOUR
from img2pour.pours.roles import (
    Assignment,
    FaceRole,
    Faces,
    RoleRule,
    assign_roles,
    face_neighbours,
)
from img2pour.ruled_values import Ruled

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from img2pour.artwork import Geometry
    from img2pour.carve.inscribed import Polygons
    from img2pour.job.model import Job
    from img2pour.job.pour_sections import RoleRule as WishedRole
    from img2pour.sizing import Sizing

Point = tuple[float, float]
BARE = "bare wood"
"""Name of the wood that rules make where no colour is wood."""


def rule_roles(design: Design, sizing: Sizing, geometry: Geometry, job: Job) -> Ruled:
    """Apply the job's rules for roles to a design.

    Raises
    ------
    SettingsError
        When a rule names a colour that is not there.
    """
    polygons = design.polygons()
    faces = faces_of(design, polygons)
    rules = [_placed(rule, sizing, geometry, design) for rule in job.role]
    by_colour = {colour.name: colour.role for colour in design.colours}
    found = assign_roles(faces, by_colour, rules)
    colours, wood = _with_wood(design, found)
    before = design.region_map.face_colours
    after = before.copy()
    for face, role in enumerate(found.roles):
        if before[face] >= 0 and role.role != by_colour[faces.colours[face]]:
            after[face] = {"wood": wood, "outside": OUTSIDE_COLOUR}.get(role.role, before[face])
    changed = bool((after != before).any())
    ruled = merge_alike(design.region_map, after) if changed else design.region_map
    return Ruled(ruled, colours, _pours(found, by_colour, faces, polygons), found.warnings)


def faces_of(design: Design, polygons: Polygons) -> Faces:
    """Return a design's regions as the rules see them."""
    names = [colour.name for colour in design.colours]
    face_colours = design.region_map.face_colours.tolist()
    return Faces(
        tuple(polygons),
        tuple("" if colour < 0 else names[colour] for colour in face_colours),
        face_neighbours(design.region_map.arc_faces.astype(np.int32), len(face_colours)),
    )


def _placed(rule: WishedRole, sizing: Sizing, geometry: Geometry, design: Design) -> RoleRule:
    """Return a job's rule in mm on the board."""

    def placed(points: Sequence[Point]) -> tuple[Point, ...]:
        seen = [geometry.to_artwork(point) for point in points]
        on_board = sizing.placement.apply(np.array(seen).reshape(-1, 2))
        return tuple((x, y) for x, y in on_board.tolist())

    return RoleRule(
        rule.role,
        known_colour(rule.colour, design),
        placed(rule.inside),
        None if rule.below is None else rule.below.mm**2,
        known_colour(rule.touching, design),
        placed(rule.at),
        rule.pour,
    )


def known_colour(key: str | None, design: Design) -> str | None:
    """Return the name of the colour of this name or ``#hex``; unknown ones are left to be named."""
    by_key = {key: c.name for c in design.colours for key in (c.hex, c.name)}
    return key if key is None else by_key.get(key, key)


def _with_wood(design: Design, found: Assignment) -> tuple[tuple[DesignColour, ...], int]:
    """Return the colours and the index of the wood; one is added where there is none."""
    for index, colour in enumerate(design.colours):
        if colour.role == "wood":
            return design.colours, index
    if not any(role.role == "wood" for role in found.roles):
        return design.colours, OUTSIDE_COLOUR
    added = DesignColour(BARE, WOOD_TONE, "wood")
    return (*design.colours, added), len(design.colours)


def _pours(
    found: Assignment, by_colour: Mapping[str, str], faces: Faces, polygons: Polygons
) -> tuple[RoleRule, ...]:
    """Return the regions that rules make pours, or pours of their own, each by its point."""
    rules = []
    points = shapely.get_coordinates(shapely.point_on_surface(polygons)).tolist()
    for face, role in enumerate(found.roles):
        is_plain = role == FaceRole("pour") and by_colour.get(faces.colours[face]) == "pour"
        if role.role == "pour" and not is_plain:
            x, y = points[face]
            rules.append(RoleRule("pour", at=((x, y),), pour=role.pour, cast=role.cast))
    return tuple(rules)
