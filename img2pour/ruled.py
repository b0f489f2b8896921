"""Roles by rule: what rules make of some regions, done before anything is judged.

Regions that a rule makes wood or outside become so; those that it makes a pour of their own, or
pours though their colour is none, become a colour of their own, so that every table, picture and
drawing tells them apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from img2pour.design import WOOD_TONE, Design, DesignColour
from img2pour.errors import SettingsError
from img2pour.plan_words import in_units
from img2pour.plane.edit import merge_alike
from img2pour.plane.regionmap import OUTSIDE_COLOUR
from img2pour.pours.pour import CLEAR
from img2pour.pours.roles import FaceRole, Faces, RoleRule, assign_roles, face_neighbours
from img2pour.ruled_values import Ruled
from img2pour.units import quoted

if TYPE_CHECKING:
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
        When a rule names a colour or a resin that is not there.
    """
    faces = faces_of(design, design.polygons())
    rules = [
        _placed(number, rule, sizing, geometry, design, job)
        for number, rule in enumerate(job.role, 1)
    ]
    by_colour = {colour.name: colour.role for colour in design.colours}
    found = assign_roles(faces, by_colour, rules)
    paint = _Paint.for_roles(design.colours, [*zip(faces.colours, found.roles, strict=True)])
    before = design.region_map.face_colours
    after = before.copy()
    for face, role in enumerate(found.roles):
        if before[face] >= 0:
            after[face] = paint.index_of(int(before[face]), role)
    changed = bool((after != before).any())
    ruled = merge_alike(design.region_map, after) if changed else design.region_map
    notes = tuple(in_units(words, job.shown_units) for words in found.warnings)
    return Ruled(ruled, paint.colours, paint.own_pours, notes)


def faces_of(design: Design, polygons: Polygons) -> Faces:
    """Return a design's regions as the rules see them."""
    names = [colour.name for colour in design.colours]
    face_colours = design.region_map.face_colours.tolist()
    return Faces(
        tuple(polygons),
        tuple("" if colour < 0 else names[colour] for colour in face_colours),
        face_neighbours(design.region_map.arc_faces.astype(np.int32), len(face_colours)),
    )


def _placed(
    number: int, rule: WishedRole, sizing: Sizing, geometry: Geometry, design: Design, job: Job
) -> RoleRule:
    """Return a job's rule in mm on the board, its resin as the colour that it is."""

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
        None if rule.resin is None else _colour_of_resin(number, rule.resin, design, job),
    )


def _colour_of_resin(number: int, name: str, design: Design, job: Job) -> str:
    """Return the poured colour that a rule's resin means: its name, or a ``[[resin]]``'s."""
    uses = {use.name: use.colours[0] for use in job.resin if use.name and use.colours}
    key = known_colour(uses.get(name, name), design)
    poured = [colour.name for colour in design.colours if colour.role == "pour"]
    if key in poured:
        return key
    listed = ", ".join([*poured, *uses])
    raise SettingsError(
        f"role rule {number}: the resin {quoted(name)} is none that is poured; there are: {listed}",
        name="role",
        value=name,
    )


def known_colour(key: str | None, design: Design) -> str | None:
    """Return the name of the colour of this name or ``#hex``; unknown ones are left to be named."""
    if key is None:
        return None
    return next((c.name for c in design.colours if key in (c.name, c.hex)), key)


Parted = tuple[str, str | None]
"""The colour that regions are parted from, and the name of their own pour, if they have one."""


@dataclass(frozen=True)
class _Paint:
    """The design's colours with those that rules add, and which region becomes which."""

    colours: tuple[DesignColour, ...]
    added: Mapping[Parted, int]
    own_pours: tuple[RoleRule, ...]

    @classmethod
    def for_roles(
        cls, colours: tuple[DesignColour, ...], regions: Sequence[tuple[str, FaceRole]]
    ) -> _Paint:
        """Return the colours that regions (colour, role) need beside those of the design."""
        by_name = {colour.name: colour for colour in colours}
        parted: dict[Parted, None] = {}
        for name, role in regions:
            if name and _is_parted(by_name[name], role):
                parted[(role.cast or name, role.pour)] = None
        found = [*colours]
        if not any(c.role == "wood" for c in found) and any(r.role == "wood" for _, r in regions):
            found.append(DesignColour(BARE, WOOD_TONE, "wood"))
        added, own = {}, []
        for origin, pour in parted:
            name = _parted_name(origin, pour, [*by_name, CLEAR], [*parted])
            added[(origin, pour)] = len(found)
            found.append(DesignColour(name, by_name[origin].hex, "pour", origin))
            if pour is not None:
                own.append(RoleRule("pour", colour=name, pour=name))
        return cls(tuple(found), added, tuple(own))

    def index_of(self, colour: int, role: FaceRole) -> int:
        """Return the colour of a region of a colour that gets a role."""
        own = self.colours[colour]
        if _is_parted(own, role):
            return self.added[(role.cast or own.name, role.pour)]
        if role.role == "pour":
            return colour if role.cast is None else self._index(role.cast)
        if role.role == own.role:
            return colour
        if role.role == "outside":
            return OUTSIDE_COLOUR
        return next(i for i, other in enumerate(self.colours) if other.role == "wood")

    def _index(self, name: str) -> int:
        return next(i for i, colour in enumerate(self.colours) if colour.name == name)


def _is_parted(colour: DesignColour, role: FaceRole) -> bool:
    """Return whether a region of a colour that gets a role needs a colour of its own."""
    if role.role != "pour":
        return False
    return role.pour is not None or (role.cast is None and colour.role != "pour")


def _parted_name(
    origin: str, pour: str | None, taken: Sequence[str], parted: Sequence[Parted]
) -> str:
    """Return a name that no other colour has: that of the pour, where it alone has it."""
    if pour is None:
        return f"{origin} (poured)"
    is_shared = sum(other == pour for _, other in parted) > 1
    return f"{pour} ({origin})" if is_shared or pour in taken else pour
