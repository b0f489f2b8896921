"""Checks of the whole board: floor, edges, machine bed, wood that moves, wood that is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from img2pour.errors import SettingsError
from img2pour.pours.geometry import Geometry, polygons_of, union
from img2pour.pours.species import SHRINKAGE
from img2pour.pours.stages import Stage
from img2pour.units import quoted

# Common practice, no source, unless a source is named.
LEAST_FLOOR_MM = 6.0
LEAST_FLOOR_SHARE = 1.0 / 3.0
LEAST_EDGE_MM = 6.0
MOVES_MM = 0.5  # movement across one pour that is worth a word; own judgement
LEAST_WOOD_SHARE = 0.25  # of the board's face, below which resin rather than wood holds it
ON_EDGE_MM = 1e-3
TOLD_MM = 0.05  # distances are told to 0.1 mm

FIBRE_SATURATION_PERCENT = 30.0


@dataclass(frozen=True)
class Finding:
    """Something about the board to know before cutting.

    Attributes
    ----------
    kind : str
        One of "floor", "edge", "bed", "movement", "wood".
    words : str
        With its figures, and what to do.
    value, limit : float
        The figure and what it is held against.
    at_mm : tuple of float or None
    """

    kind: str
    words: str
    value: float
    limit: float
    at_mm: tuple[float, float] | None = None


def least_floor_mm(thickness_mm: float) -> float:
    """Return the least floor: 6 mm, or a third of a thin board."""
    return min(LEAST_FLOOR_MM, thickness_mm * LEAST_FLOOR_SHARE)


def check_floor(stages: Sequence[Stage], least_mm: float | None = None) -> tuple[Finding, ...]:
    """Check what is left of the blank below the deepest pocket of each stage.

    Parameters
    ----------
    stages : sequence of Stage
    least_mm : float, optional
        Instead of 6 mm or a third.
    """
    found = []
    for stage in stages:
        least = least_floor_mm(stage.top_mm) if least_mm is None else least_mm
        if stage.floor_mm < least - 1e-9:
            deepest = stage.top_mm - least
            words = (
                f"stage {stage.number} ({stage.name}) leaves a floor of {stage.floor_mm:.1f} mm, "
                f"less than {least:.1f} mm: cut at most {deepest:.1f} mm deep or take a thicker "
                "blank"
            )
            found.append(Finding("floor", words, stage.floor_mm, least))
    return tuple(found)


def check_edges(
    pockets: Geometry, board: Geometry, least_mm: float = LEAST_EDGE_MM
) -> tuple[Finding, ...]:
    """Return one finding on pockets that come near the board's edge without running over it."""
    rim = board.boundary
    near = []
    for part in polygons_of(pockets):
        distance = float(part.distance(rim))
        if ON_EDGE_MM < distance < least_mm - TOLD_MM:
            nearest = shapely.get_coordinates(shapely.shortest_line(part, rim))[0]
            near.append((distance, (round(float(nearest[0]), 3), round(float(nearest[1]), 3))))
    if not near:
        return ()
    distance, place = min(near)
    others = f" ({len(near) - 1} more within {least_mm:g} mm)" if len(near) > 1 else ""
    words = (
        f"a pocket comes within {distance:.1f} mm of the board's edge near {place[0]:.0f}, "
        f"{place[1]:.0f} mm{others}: leave {least_mm:g} mm, or the wall may break out when the "
        "piece is cut"
    )
    return (Finding("edge", words, distance, least_mm, place),)


def check_bed(
    size_mm: tuple[float, float], bed_mm: tuple[float, float] | None
) -> tuple[Finding, ...]:
    """Check that the blank fits on the machine's bed, as it lies or turned by a quarter."""
    if bed_mm is None:
        return ()
    wide, high = size_mm
    if wide <= bed_mm[0] and high <= bed_mm[1]:
        return ()
    turned = wide <= bed_mm[1] and high <= bed_mm[0]
    advice = "it fits turned by a quarter" if turned else "make it smaller or carve it in parts"
    over = max(wide - bed_mm[0], high - bed_mm[1])
    words = (
        f"the board is {wide:.0f} x {high:.0f} mm, the machine's bed {bed_mm[0]:.0f} x "
        f"{bed_mm[1]:.0f} mm: {advice}"
    )
    return (Finding("bed", words, over, 0.0),)


def movement_mm(width_mm: float, shrinkage_percent: float, from_mc: float, to_mc: float) -> float:
    """Return how much wood swells (or, below 0, shrinks) across the grain.

    D (M_F - M_I) / (30 x 100 / S - 30 + M_I), USDA Wood Handbook (FPL-GTR-190), chapter 13,
    equation 13-3, with S the shrinkage in percent and 30 % the moisture at fibre saturation.

    Parameters
    ----------
    width_mm : float
        Across the grain.
    shrinkage_percent : float
        Green to ovendry: tangential for a flat-sawn board, radial for a quarter-sawn one.
    from_mc, to_mc : float
        Moisture content in percent, 0 to 30.
    """
    whole = FIBRE_SATURATION_PERCENT * 100.0 / shrinkage_percent
    return width_mm * (to_mc - from_mc) / (whole - FIBRE_SATURATION_PERCENT + from_mc)


@dataclass(frozen=True)
class WoodSettings:
    """The wood and the moisture it may go through.

    Attributes
    ----------
    species : str
        One of `SHRINKAGE`.
    quarter_sawn : bool
    from_mc, to_mc : float
        Moisture content in percent, now and later.
    grain : tuple of float
        Direction of the grain.
    """

    species: str = "hard maple"
    quarter_sawn: bool = False
    from_mc: float = 8.0
    to_mc: float = 12.0
    grain: tuple[float, float] = (1.0, 0.0)

    def __post_init__(self) -> None:
        """Check species and moisture.

        Raises
        ------
        SettingsError
            When the species is not in the table, or a moisture content lies outside 0 to 30 %.
        """
        if self.species not in SHRINKAGE:
            raise SettingsError(
                f"wood {quoted(self.species)} is not in the table; there are: "
                f"{', '.join(SHRINKAGE)}",
                name="species",
                value=self.species,
            )
        for value in (self.from_mc, self.to_mc):
            if not 0.0 <= value <= FIBRE_SATURATION_PERCENT:
                raise SettingsError(
                    f"a moisture content of {value:g} % cannot be; give 0 to 30",
                    name="moisture",
                    value=value,
                )

    @property
    def shrinkage_percent(self) -> float:
        """Across the board's face."""
        radial, tangential = SHRINKAGE[self.species]
        return radial if self.quarter_sawn else tangential


def width_across_mm(shape: Geometry, grain: tuple[float, float]) -> float:
    """Return a shape's extent at right angles to the grain."""
    along = np.asarray(grain, dtype=np.float64) / np.hypot(*grain)
    points = shapely.get_coordinates(shape)
    if len(points) == 0:
        return 0.0
    across = points[:, 1] * along[0] - points[:, 0] * along[1]
    return float(np.ptp(across))


def check_movement(
    pours: Sequence[tuple[str, Geometry]], wood: WoodSettings
) -> tuple[Finding, ...]:
    """Return one finding on pours so wide across the grain that the wood's movement matters."""
    moving = []
    for name, shape in pours:
        width = max((width_across_mm(part, wood.grain) for part in polygons_of(shape)), default=0.0)
        moves = movement_mm(width, wood.shrinkage_percent, wood.from_mc, wood.to_mc)
        if abs(moves) >= MOVES_MM:
            moving.append((abs(moves), width, name))
    if not moving:
        return ()
    moves, width, name = max(moving)
    others = [other for _, _, other in moving if other != name]
    beside = f" (and less in {', '.join(others)})" if others else ""
    cut = "quarter-sawn" if wood.quarter_sawn else "flat-sawn"
    words = (
        f"{name} is {width:.0f} mm wide across the grain; {cut} {wood.species} of that width "
        f"moves {moves:.1f} mm from {wood.from_mc:g} to {wood.to_mc:g} % moisture{beside}, resin "
        "does not: keep the board at one moisture and finish all sides alike"
    )
    return (Finding("movement", words, moves, MOVES_MM),)


def check_wood_left(
    stages: Sequence[Stage], board: Geometry, least_share: float = LEAST_WOOD_SHARE
) -> tuple[Finding, ...]:
    """Check that enough wood of full thickness is left, and that pockets do not cut it apart."""
    pockets = union(stage.outline for stage in stages)
    left = board.difference(pockets)
    share = float(left.area / board.area)
    floor = min((stage.floor_mm for stage in stages), default=0.0)
    found = []
    if share < least_share - 1e-9:
        words = (
            f"only {share:.0%} of the face stays wood of full thickness (less than "
            f"{least_share:.0%}); a floor of {floor:.1f} mm holds the rest: use a thicker blank or "
            "shallower pockets, or the board may bend as the resin cures"
        )
        found.append(Finding("wood", words, share, least_share))
    rim = board.boundary
    pieces = [p for p in polygons_of(left) if p.intersection(rim).length > ON_EDGE_MM]
    if len(pieces) > 1:
        words = (
            f"pockets run from edge to edge: {len(pieces)} pieces of wood hang together only by a "
            f"floor of {floor:.1f} mm: leave a bridge of wood, or support the board until the "
            "resin has cured"
        )
        found.append(Finding("wood", words, float(len(pieces)), 1.0))
    return tuple(found)
