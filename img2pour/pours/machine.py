"""Hours at the machine for a stage, from the carving side's estimate."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from img2pour.pours.geometry import as_array, polygons_of
from img2pour.pours.stages import Stage

MachineHours = Callable[[Stage], float]
"""Hours to carve a stage."""


def hours_of_bits(
    surface_mm: float, walls: Literal["upright", "sloped"] = "upright"
) -> MachineHours:
    """Return the hours that the pockets' own bits need, one after another; an estimate."""
    from img2pour.carve.pockets import PocketSettings
    from img2pour.carve.work import minutes_of_bits

    def hours(stage: Stage) -> float:
        minutes = 0.0
        for pocket in stage.pockets:
            parts = polygons_of(pocket.outline)
            if parts and pocket.bits:
                cut = PocketSettings(pocket.depth_mm, surface_mm, walls)
                minutes += minutes_of_bits(as_array(parts), pocket.bits, cut)
        return minutes / 60.0

    return hours
