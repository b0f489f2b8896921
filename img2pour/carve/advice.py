"""Advice with numbers: which size, which bit, and what each of them would win.

A board larger by a factor is the same as bits smaller by that factor, since the opening of s R by
r is s times the opening of R by r / s. So everything here is asked of the artwork as it lies, with
other widths, and no region is judged twice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from img2pour.carve.inscribed import FloatArray, Polygons
from img2pour.carve.medial import MedialAxis
from img2pour.carve.necks import ThinPart
from img2pour.carve.pockets import PocketSettings, rough_volumes
from img2pour.carve.profile import profile_of
from img2pour.carve.reach import (
    SEARCH_FACTOR,
    Circles,
    Needs,
    needs_of,
    on_board,
    parts_beside,
    region_axis,
    region_circles,
)
from img2pour.carve.voids import PLAIN_SEGMENTS, SHARE_SEGMENTS, Openings, opened
from img2pour.carve.work import cutting_width_mm, minutes_of_bits

if TYPE_CHECKING:
    from img2pour.job.bits import Bit

MOST_SHARE = 0.99
LARGEST_FACTOR = 64.0
FACTOR_ACCURACY = 0.004

ENOUGH_OF_THE_GAIN = 0.9
"""Of two bits the sturdier one is proposed if it wins this share of what the best one wins."""

LEAST_GAIN = 5e-4

PLAIN_MM = 0.05
"""Shares of the whole, volume and minutes of other sizes are reckoned on chords that coarse."""


@dataclass(frozen=True, eq=False)
class Ground:
    """The regions of one colour, ready for questions.

    Attributes
    ----------
    polygons : (N,) object
        As they are cut: past the board's edge, where they run off it.
    wished : (N,) object
        What shows of them on the board.
    plain, plain_wished : (N,) object
        Both on chords coarse enough for a share of the whole.
    axis : MedialAxis
    circles : (centres, radii)
        The largest circle in each region, as far as it is asked about.
    bits : tuple of Bit
    needs : Needs
        Of those bits.
    """

    polygons: Polygons
    wished: Polygons
    plain: Polygons
    plain_wished: Polygons
    axis: MedialAxis
    circles: Circles
    bits: tuple[Bit, ...]
    needs: Needs

    @property
    def widest_mm(self) -> FloatArray:
        """Diameter of the largest circle in each region."""
        return 2.0 * self.circles[1]

    @property
    def area_mm2(self) -> float:
        """Area of all regions."""
        return float(shapely.area(self.wished).sum())


def ground_of(
    polygons: Polygons,
    bits: Sequence[Bit],
    least_depth_mm: float,
    carried: Polygons | None = None,
) -> Ground:
    """Prepare the regions of one colour for the bits that will cut it.

    Parameters
    ----------
    polygons : (N,) object
    bits : sequence of Bit
    least_depth_mm : float
    carried : (N,) object, optional
        The regions as they are cut, where some run off the board.
    """
    wished = polygons
    polygons = polygons if carried is None else carried
    needs = needs_of([profile_of(bit) for bit in bits], least_depth_mm)
    plain = plain_wished = shapely.simplify(polygons, PLAIN_MM)
    if carried is not None:
        plain_wished = shapely.simplify(wished, PLAIN_MM)
    axis, circles = region_axis(polygons, needs), region_circles(polygons, needs)
    return Ground(polygons, wished, plain, plain_wished, axis, circles, tuple(bits), needs)


def lost_area(ground: Ground, needs: Needs, factor: float = 1.0) -> float:
    """Return what bits would lose of the regions if these were larger by a factor.

    Parameters
    ----------
    ground : Ground
    needs : Needs
        What the bits ask for.
    factor : float

    Returns
    -------
    float
        mm2 of the regions as they are. With a round bit corners are counted.
    """
    width = needs.width_mm / factor
    if not needs.shallow:
        cut, wished = (
            opened(ground.plain, width / 2.0, segments=SHARE_SEGMENTS),
            ground.plain_wished,
        )
        kept = cut if wished is ground.plain else on_board(cut, wished)
        return float(shapely.area(wished).sum() - shapely.area(kept).sum())
    is_lost = ground.widest_mm < width
    return _lost_in_parts(ground, is_lost, parts_beside(ground.axis, is_lost, width))


def _lost_in_parts(ground: Ground, is_lost: NDArray[np.bool_], parts: Sequence[ThinPart]) -> float:
    """Return the area of lost regions, and of strokes along their spines, mm2."""
    lost = float(shapely.area(ground.wished[is_lost]).sum())
    for part in parts:
        first, second = part.edges[:, 0], part.edges[:, 1]
        steps = np.hypot(*(ground.axis.points[first] - ground.axis.points[second]).T)
        lost += float((steps * ground.axis.clearance_mm[part.edges].sum(axis=1)).sum())
    return lost


def whole_width_mm(ground: Ground) -> float:
    """Return the widest bit to which no island, neck or stroke end is lost."""
    high = min(SEARCH_FACTOR * ground.needs.width_mm, float(ground.widest_mm.min(initial=np.inf)))
    low = 0.0
    none_lost = np.zeros(len(ground.polygons), dtype=np.bool_)
    if not parts_beside(ground.axis, none_lost, high):
        return high
    while high - low > FACTOR_ACCURACY * high and high > 1e-3:
        middle = (low + high) / 2.0
        is_too_wide = parts_beside(ground.axis, none_lost, middle)
        low, high = (low, middle) if is_too_wide else (middle, high)
    return low


def whole_factor(grounds: Sequence[Ground]) -> float | None:
    """Return by how much the board may change until everything is just kept.

    Returns
    -------
    float or None
        Below 1 if the board may shrink, at least 1/3 as no wider search is made; None if no board
        of up to 64 times the size will do.
    """
    factors = [g.needs.width_mm / max(whole_width_mm(g), 1e-9) for g in grounds if len(g.polygons)]
    factor = max(factors, default=1.0 / SEARCH_FACTOR)
    return factor if factor <= LARGEST_FACTOR else None


def most_factor(grounds: Sequence[Ground], share: float = MOST_SHARE) -> float | None:
    """Return by how much the board may change until a share of all pours is just kept."""
    return _solve(lambda factor: kept_share(grounds, factor), share)


def kept_share(
    grounds: Sequence[Ground], factor: float = 1.0, needs: Sequence[Needs] | None = None
) -> float:
    """Return the share of all pours that is kept on a board larger by a factor."""
    needs = needs or [ground.needs for ground in grounds]
    area = sum(ground.area_mm2 for ground in grounds)
    lost = sum(lost_area(g, n, factor) for g, n in zip(grounds, needs, strict=True))
    return 1.0 - lost / area if area > 0.0 else 1.0


def _solve(
    share_at: Callable[[float], float], share: float, least: float = 1.0 / SEARCH_FACTOR
) -> float | None:
    """Find where a rising share is reached: by a power law, and by halves where that fails.

    What corners lose falls as the square of the factor, so a straight line through the ends of the
    bracket, both axes logarithmic, is nearly right at once; where strokes of one width are lost
    all together, the share jumps.
    """
    ends = {1.0: share_at(1.0)}
    low = high = 1.0
    while ends[low] >= share:
        if low <= least:
            return low
        low, high = max(low / 2.0, least), low
        ends[low] = share_at(low)
    while ends[high] < share:
        if high >= LARGEST_FACTOR:
            return None
        low, high = high, high * 2.0
        ends[high] = share_at(high)
    halve = False
    while high / low > 1.0 + FACTOR_ACCURACY:
        middle = math.sqrt(low * high) if halve else _between(low, high, ends, share)
        ends[middle] = share_at(middle)
        before = high / low
        low, high = (low, middle) if ends[middle] >= share else (middle, high)
        halve = math.log(high / low) > 0.5 * math.log(before) and not halve
    return high


def _between(low: float, high: float, ends: Mapping[float, float], share: float) -> float:
    """Return a factor just beyond where the line through both ends reaches the share."""
    below, above = (math.log(max(1.0 - ends[end], 1e-12)) for end in (low, high))
    wanted = math.log(max(1.0 - share, 1e-12))
    part = (below - wanted) / max(below - above, 1e-12)
    guess = low * (high / low) ** min(max(part, 0.0), 1.0)
    # A little to the side on which the far end lies, so that it comes near as well.
    step = 1.0 + FACTOR_ACCURACY / 2.0
    guess = guess * step if guess / low < high / guess else guess / step
    return float(min(max(guess, low * step), high / step))


def largest_flat_mm(grounds: Sequence[Ground], share: float = MOST_SHARE) -> float | None:
    """Return the diameter of the largest flat bit that keeps a share of all pours at this size."""
    width = max((ground.needs.width_mm for ground in grounds), default=1.0)
    round_needs = [Needs(width, width / 2.0, False)] * len(grounds)
    factor = _solve(lambda f: kept_share(grounds, f, round_needs), share, 1.0 / LARGEST_FACTOR)
    return None if factor is None else width / factor


@dataclass(frozen=True)
class BitGain:
    """What one more bit would win.

    Attributes
    ----------
    bit : str
    kept_before, kept_after : float
        Shares of all pours.
    slenderness : float
        Depth over the bit's diameter half way up the cut: how easily it breaks.
    """

    bit: str
    kept_before: float
    kept_after: float
    slenderness: float


def gains_of(
    grounds: Sequence[Ground], bits: Sequence[Bit], settings: PocketSettings, least_depth_mm: float
) -> list[BitGain]:
    """Return what each bit would win if it joined the bits of every colour."""
    before = kept_share(grounds)
    # Many bits ask for the same; what changes nothing is not worked out.
    shares = {tuple(ground.needs for ground in grounds): before}
    gains = []
    for bit in bits:
        profile = profile_of(bit)
        joined = tuple(
            needs_of([*(profile_of(own) for own in ground.bits), profile], least_depth_mm)
            for ground in grounds
        )
        if joined not in shares:
            shares[joined] = kept_share(grounds, 1.0, joined)
        width = max(cutting_width_mm(profile, settings.depth_mm), 1e-9)
        gains.append(BitGain(bit.name, before, shares[joined], settings.depth_mm / width))
    return gains


def best_gain(gains: Sequence[BitGain]) -> BitGain | None:
    """Return the sturdiest bit that wins nearly as much as the best, or None if none wins."""
    if not gains:
        return None
    most = max(gain.kept_after - gain.kept_before for gain in gains)
    if most < LEAST_GAIN:
        return None
    enough = ENOUGH_OF_THE_GAIN * most
    able = [gain for gain in gains if gain.kept_after - gain.kept_before >= enough]
    return min(able, key=lambda gain: (gain.slenderness, gain.bit))


@dataclass(frozen=True)
class Rung:
    """One size on the ladder.

    Attributes
    ----------
    width_mm : float
        Of the board.
    kept_share : float
    islands, necks : int
    volume_mm3 : float
        Of all pockets, up to the carved face.
    minutes : float
        An estimate of the cutting time.
    """

    width_mm: float
    kept_share: float
    islands: int
    necks: int
    volume_mm3: float
    minutes: float


def rung(
    grounds: Sequence[Ground],
    width_mm: float,
    board_width_mm: float,
    settings: PocketSettings,
) -> Rung:
    """Judge the artwork on a board of another width, proportions kept.

    Parameters
    ----------
    grounds : sequence of Ground
    width_mm, board_width_mm : float
    settings : PocketSettings
    """
    factor = width_mm / board_width_mm
    islands = necks = 0
    volume = minutes = lost = 0.0
    for ground in grounds:
        width = ground.needs.width_mm / factor
        is_lost = ground.widest_mm < width
        islands += int(is_lost.sum())
        parts = parts_beside(ground.axis, is_lost, width)
        necks += sum(part.kind == "neck" for part in parts)
        if ground.needs.shallow:
            lost += _lost_in_parts(ground, is_lost, parts)
        else:
            lost += lost_area(ground, ground.needs, factor)
        scaled = _scaled(ground.wished, factor)
        profiles = [profile_of(bit) for bit in ground.bits]
        openings = Openings(scaled, PLAIN_SEGMENTS)
        volume += float(rough_volumes(scaled, profiles, settings, openings).sum())
        minutes += minutes_of_bits(scaled, ground.bits, settings, openings)
    area = sum(ground.area_mm2 for ground in grounds)
    share = 1.0 - lost / area if area > 0.0 else 1.0
    return Rung(width_mm, share, islands, necks, volume, minutes)


def _scaled(polygons: Polygons, factor: float) -> Polygons:
    """Return the polygons at another size, on chords coarse enough for an estimate."""
    scaled: Polygons = shapely.transform(polygons, lambda points: points * factor)
    simple: Polygons = shapely.simplify(scaled, PLAIN_MM)
    return simple


def ladder_widths(board_width_mm: float, common_mm: Sequence[float]) -> tuple[float, ...]:
    """Return three common widths: the next smaller one and the next two larger ones, if any."""
    smaller = [width for width in sorted(common_mm) if width < 0.97 * board_width_mm]
    larger = [width for width in sorted(common_mm) if width > 1.03 * board_width_mm]
    chosen = smaller[-1:] + larger[:2]
    missing = 3 - len(chosen)
    more = smaller[-1 - missing : -1] if len(larger) < 2 else larger[2 : 2 + missing]
    return tuple(sorted([*more, *chosen]))
