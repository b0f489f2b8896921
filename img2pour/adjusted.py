"""The design's map after strokes were widened and walls dealt with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from img2pour.carve.claims import Change
    from img2pour.plane.regionmap import RegionMap


@dataclass(frozen=True, eq=False)
class Adjusted:
    """The map, and each change to it.

    Attributes
    ----------
    region_map : RegionMap
    changes : tuple of Change
        None where nothing was asked for, or nothing was too thin.
    """

    region_map: RegionMap
    changes: tuple[Change, ...]
