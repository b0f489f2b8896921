"""Checks of settings when they are built: each number within its limits."""

from __future__ import annotations

import math
from collections.abc import Mapping

from img2pour.errors import SettingsError

# Of seals. Common practice, no source.
REGISTRATION_MM = 0.15  # how far a board may come back out of place
LEAST_BORDER_OVER_ERROR_MM = 0.2
LEAST_BORDER_MM = 0.4
CLEARANCE_MM = 0.25  # a channel is wider than its bit by this


def check_limits(settings: object, limits: Mapping[str, tuple[float, float]]) -> None:
    """Check that attributes are numbers within limits, both ends included.

    Parameters
    ----------
    settings : object
        With the attributes that `limits` names.
    limits : mapping of str to (least, greatest)

    Raises
    ------
    SettingsError
        For the first attribute outside, with its value and limits.
    """
    for name, (least, greatest) in limits.items():
        value = getattr(settings, name)
        if not least <= value <= greatest:  # not-a-number too
            allowed = f"{least:g} or more" if greatest == math.inf else f"{least:g} to {greatest:g}"
            raise SettingsError(f"{name} is {value:g}; give {allowed}", name=name, value=value)
