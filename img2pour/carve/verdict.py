"""The verdict: whether artwork can be carved with some bits on a board, and what would help."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from img2pour.carve.advice import (
    BitGain,
    Ground,
    Rung,
    best_gain,
    gains_of,
    ground_of,
    ladder_widths,
    largest_flat_mm,
    most_factor,
    rung,
    whole_factor,
)
from img2pour.carve.inscribed import Polygons
from img2pour.carve.medial import IntArray
from img2pour.carve.pockets import PocketSettings, pocket_volumes
from img2pour.carve.profile import profile_of
from img2pour.carve.reach import LEAST_DEPTH_MM, ColourReach, Finding, colour_reach
from img2pour.carve.walls import Wall, WallLimits, standing_alone, thin_walls
from img2pour.errors import SettingsError

if TYPE_CHECKING:
    from img2pour.job.bits import Bit

Word = Literal["carvable", "carvable with losses", "not at this size"]

HOPELESS_SHARE = 0.05
"""More than this of the pours lost: the artwork is too fine for the board."""

LEAST_LOSS_MM2 = 0.01
"""A neck that loses less than this is cut from both sides and loses nothing that shows."""

WORKERS = 4
"""Threads; offsets and overlays run beside each other."""

INCH = 25.4
COMMON_WIDTHS_MM = tuple(INCH * inches for inches in (6, 8, 10, 12, 16, 20, 24, 30, 36, 48))


@dataclass(frozen=True, eq=False)
class Design:
    """What is to be carved, as it shows at the finished face, in mm.

    Attributes
    ----------
    regions : (N,) object
        Polygons of the pours.
    colours : (N,) int64
        Colour of each.
    wood : (M,) object
        Polygons of what stays; they share no edge with each other.
    frame : Polygon
        The finished board.
    carried : (N,) object or None
        The regions as they are cut, where some are carried past the board's edge.
    volumes_mm3 : mapping of colour to float
        What the pockets of a colour hold up to the carved face, where it is known already.
    """

    regions: Polygons
    colours: IntArray
    wood: Polygons
    frame: shapely.Polygon
    carried: Polygons | None = None
    volumes_mm3: Mapping[int, float] = field(default_factory=dict)

    @property
    def width_mm(self) -> float:
        """Width of the board."""
        return float(self.frame.bounds[2] - self.frame.bounds[0])


@dataclass(frozen=True)
class Shelf:
    """The bits, with those of single colours apart.

    Attributes
    ----------
    bits : tuple of Bit
    by_colour : mapping of colour to tuple of Bit
    spare : tuple of Bit
        Bits that could be added.
    """

    bits: tuple[Bit, ...]
    by_colour: Mapping[int, tuple[Bit, ...]] = field(default_factory=dict)
    spare: tuple[Bit, ...] = ()

    def of(self, colour: int) -> tuple[Bit, ...]:
        """Return the bits that cut a colour.

        Raises
        ------
        SettingsError
            If there is none.
        """
        bits = self.by_colour.get(colour, self.bits)
        if not bits:
            raise SettingsError(
                'no bits given; name at least one, such as "flat 1/8in"', name="bits"
            )
        return bits


@dataclass(frozen=True)
class CheckSettings:
    """How strictly to judge.

    Attributes
    ----------
    pockets : PocketSettings
    least_depth_mm : float
        Below the finished face.
    walls : WallLimits
    accept_loss_share : float
        Loss that is still called carvable.
    common_widths_mm : tuple of float
        From which the size ladder is chosen.
    """

    pockets: PocketSettings = field(default_factory=PocketSettings)
    least_depth_mm: float = LEAST_DEPTH_MM
    walls: WallLimits = field(default_factory=WallLimits)
    accept_loss_share: float = 0.0
    common_widths_mm: tuple[float, ...] = COMMON_WIDTHS_MM


@dataclass(frozen=True)
class ColourVerdict:
    """One line of the table.

    Attributes
    ----------
    reach : ColourReach
    volume_mm3 : float
        Of its pockets, up to the carved face.
    thinnest_wall_mm : float or None
        Narrowest thin wall beside one of its regions; None if all stand.
    """

    reach: ColourReach
    volume_mm3: float
    thinnest_wall_mm: float | None


@dataclass(frozen=True)
class Advice:
    """What would help, in numbers.

    Attributes
    ----------
    whole_width_mm : float or None
        Smallest board width at which no island, neck or end is lost; None if there is none.
    most_width_mm : float or None
        The same for 99 % of the poured area.
    largest_flat_mm : float or None
        Diameter of the largest flat bit that keeps 99 % at this size.
    gain : BitGain or None
        The bit to add, if one helps.
    ladder : tuple of Rung
        Three common widths.
    """

    whole_width_mm: float | None
    most_width_mm: float | None
    largest_flat_mm: float | None
    gain: BitGain | None
    ladder: tuple[Rung, ...]


@dataclass(frozen=True)
class Verdict:
    """Whether the artwork can be carved.

    Attributes
    ----------
    word : str
        "carvable", "carvable with losses" or "not at this size".
    lost_share : float
        Of the poured area, in islands, necks and ends; rounded corners apart.
    colours : tuple of ColourVerdict
        By colour.
    walls : tuple of Wall
        Thin walls, then wood that stands alone.
    advice : Advice
    """

    word: Word
    lost_share: float
    colours: tuple[ColourVerdict, ...]
    walls: tuple[Wall, ...]
    advice: Advice

    @property
    def is_carvable(self) -> bool:
        """Whether the word is plainly yes."""
        return self.word == "carvable"

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, colour by colour."""
        return tuple(finding for line in self.colours for finding in line.reach.findings)


def check(design: Design, shelf: Shelf, settings: CheckSettings) -> Verdict:
    """Judge a design, colours and questions side by side.

    Raises
    ------
    SettingsError
        If a colour has no bit.
    """
    colours = sorted(set(design.colours.tolist()))
    for colour in colours:
        shelf.of(colour)
    with ThreadPoolExecutor(WORKERS) as pool:
        walls_there = pool.submit(_walls, design, settings)
        judged = list(pool.map(lambda c: _judged(design, c, shelf, settings), colours))
        grounds = [one.ground for one in judged]
        advice = _advice(pool, design.width_mm, grounds, shelf, settings)
        walls = walls_there.result()
    lines = tuple(
        ColourVerdict(one.reach, one.volume_mm3, _thinnest_wall(one.ground.wished, walls))
        for one in judged
    )
    area = sum(line.reach.area_mm2 for line in lines)
    lost = sum(line.reach.lost_mm2 for line in lines) / area if area > 0.0 else 0.0
    word = _word(lines, walls, lost, area, settings.accept_loss_share)
    return Verdict(word, lost, lines, walls, advice)


@dataclass(frozen=True, eq=False)
class _Judged:
    """One colour, its regions kept ready for the advice."""

    ground: Ground
    reach: ColourReach
    volume_mm3: float


def _judged(design: Design, colour: int, shelf: Shelf, settings: CheckSettings) -> _Judged:
    own, bits = design.colours == colour, shelf.of(colour)
    carried = None if design.carried is None else design.carried[own]
    ground = ground_of(design.regions[own], bits, settings.least_depth_mm, carried)
    wished = None if carried is None else ground.wished
    reach = colour_reach(ground.polygons, colour, ground.needs, ground.axis, wished, ground.circles)
    volume = design.volumes_mm3.get(colour)
    if volume is None:
        profiles = [profile_of(bit) for bit in bits]
        volume = float(pocket_volumes(ground.wished, profiles, settings.pockets).sum())
    return _Judged(ground, _numbered(design, colour, reach), volume)


def _walls(design: Design, settings: CheckSettings) -> tuple[Wall, ...]:
    """Return thin walls, and posts that are not among them already."""
    walls = thin_walls(design.wood, settings.walls)
    depth = settings.pockets.finished_depth_mm
    alone = standing_alone(design.wood, design.frame, depth, settings.walls)
    known = {wall.region for wall in walls if wall.kind == "alone"}
    return walls + tuple(post for post in alone if post.region not in known)


def _numbered(design: Design, colour: int, reach: ColourReach) -> ColourReach:
    """Count the regions of the findings among all regions of the design."""
    numbers = np.flatnonzero(design.colours == colour)
    findings = tuple(
        replace(finding, region=int(numbers[finding.region])) for finding in reach.findings
    )
    return replace(reach, findings=findings)


def _thinnest_wall(polygons: Polygons, walls: Sequence[Wall]) -> float | None:
    """Return the width of the narrowest wall that stands beside one of the polygons."""
    if not walls or len(polygons) == 0:
        return None
    places = shapely.points([wall.at_mm for wall in walls])
    reach = [wall.width_mm / 2.0 * 1.05 + 0.01 for wall in walls]
    tree = shapely.STRtree(polygons)
    beside = tree.query(places, predicate="dwithin", distance=np.array(reach))[0]
    widths = [walls[index].width_mm for index in beside.tolist()]
    return min(widths, default=None)


def _word(
    lines: Sequence[ColourVerdict],
    walls: Sequence[Wall],
    lost_share: float,
    area_mm2: float,
    accept_share: float,
) -> Word:
    """Return the verdict in a word."""
    is_gone = any(line.reach.lost_mm2 >= line.reach.area_mm2 > 0.0 for line in lines)
    if (is_gone or lost_share > HOPELESS_SHARE) and lost_share > accept_share:
        return "not at this size"
    weak = sum(wall.width_mm * max(wall.length_mm, wall.width_mm) for wall in walls)
    weak_share = weak / area_mm2 if area_mm2 > 0.0 else 0.0
    losses = [f for line in lines for f in line.reach.findings if f.area_mm2 >= LEAST_LOSS_MM2]
    if not losses and not walls:
        return "carvable"
    return "carvable" if lost_share + weak_share <= accept_share else "carvable with losses"


def _advice(
    pool: Executor,
    width_mm: float,
    grounds: Sequence[Ground],
    shelf: Shelf,
    settings: CheckSettings,
) -> Advice:
    """Work out what would help, for a board of a width."""
    pockets = settings.pockets
    widths = ladder_widths(width_mm, settings.common_widths_mm)
    rungs = [pool.submit(rung, grounds, step, width_mm, pockets) for step in widths]
    largest = pool.submit(largest_flat_mm, grounds)
    gains = pool.submit(gains_of, grounds, shelf.spare, pockets, settings.least_depth_mm)
    whole, most = whole_factor(grounds), most_factor(grounds)
    return Advice(
        whole_width_mm=None if whole is None else whole * width_mm,
        most_width_mm=None if most is None else most * width_mm,
        largest_flat_mm=largest.result(),
        gain=best_gain(gains.result()),
        ladder=tuple(one.result() for one in rungs),
    )
