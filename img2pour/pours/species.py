"""Woods and how much they shrink."""

from __future__ import annotations

# Shrinkage from green to ovendry in percent, radial and tangential: USDA Wood Handbook
# (FPL-GTR-190), Table 4-3.
SHRINKAGE: dict[str, tuple[float, float]] = {
    "white oak": (5.6, 10.5),
    "black cherry": (3.7, 7.1),
    "black walnut": (5.5, 7.8),
    "beech": (5.5, 11.9),
    "yellow-poplar": (4.6, 8.2),
    "basswood": (6.6, 9.3),
    "hard maple": (4.8, 9.9),
}
