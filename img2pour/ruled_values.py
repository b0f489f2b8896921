"""What the rules for roles make of a design."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from img2pour.design import DesignColour
    from img2pour.plane.regionmap import RegionMap
    from img2pour.pours.roles import RoleRule


@dataclass(frozen=True, eq=False)
class Ruled:
    """The design after the rules for roles.

    Attributes
    ----------
    region_map : RegionMap
    colours : tuple of DesignColour
    pours : tuple of RoleRule
        The colours that rules make pours of their own: the plan gives them their turn.
    notes : tuple of str
        Rules that met nothing.
    """

    region_map: RegionMap
    colours: tuple[DesignColour, ...]
    pours: tuple[RoleRule, ...] = ()
    notes: tuple[str, ...] = ()
