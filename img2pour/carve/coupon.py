"""A coupon: the job's narrowest stroke, wall, border and depths on an offcut, to try first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely import affinity

from img2pour.errors import SettingsError

CouponKind = Literal["stroke", "wall", "border", "depth"]

STEPS = (0.8, 1.0, 1.25)
"""Each size is tried a little smaller, as it is in the job, and a little larger."""

DEPTH_STEPS = (0.25, 0.5, 0.75, 1.0)
LENGTH_MM = 30.0
MARGIN_MM = 8.0
GAP_MM = 6.0


@dataclass(frozen=True)
class CouponSizes:
    """What the job asks for, mm.

    Attributes
    ----------
    stroke_mm, wall_mm, border_mm : float or None
        Narrowest stroke, wall and border; None leaves the trial out.
    depth_mm : float
        Deepest pocket.
    widest_bit_mm : float
        Pockets beside walls and borders are wide enough for this bit.
    """

    stroke_mm: float | None
    wall_mm: float | None
    border_mm: float | None
    depth_mm: float
    widest_bit_mm: float

    def __post_init__(self) -> None:
        """Check the values.

        Raises
        ------
        SettingsError
            If a size is not positive.
        """
        for name in ("stroke_mm", "wall_mm", "border_mm", "depth_mm", "widest_bit_mm"):
            value = getattr(self, name)
            if value is not None and not 0.0 < value < 1e4:
                raise SettingsError(
                    f"coupon size {value:g} mm must be more than 0", name=name, value=value
                )


@dataclass(frozen=True, eq=False)
class CouponTrial:
    """One trial: pockets with the size that they try.

    Attributes
    ----------
    kind : {"stroke", "wall", "border", "depth"}
    size_mm : float
        Of the stroke, wall or border; the depth itself for a depth.
    depth_mm : float
    pockets : tuple of Polygon
    """

    kind: CouponKind
    size_mm: float
    depth_mm: float
    pockets: tuple[shapely.Polygon, ...]


@dataclass(frozen=True, eq=False)
class Coupon:
    """The coupon with its lower-left corner at the origin.

    Attributes
    ----------
    frame : Polygon
        Outline of the offcut.
    trials : tuple of CouponTrial
        Row by row from the top, smallest size first.
    """

    frame: shapely.Polygon
    trials: tuple[CouponTrial, ...]


def make_coupon(sizes: CouponSizes) -> Coupon:
    """Lay out the trials of a job in rows."""
    rows = [row for row in (_strokes(sizes), _walls(sizes), _borders(sizes), _depths(sizes)) if row]
    placed: list[CouponTrial] = []
    top = 0.0
    for row in rows:
        height = max(_box(trial)[3] for trial in row)
        left = 0.0
        for trial in row:
            placed.append(_moved(trial, left, top - height))
            left += _box(trial)[2] + GAP_MM
        top -= height + GAP_MM
    low_x, low_y, high_x, high_y = shapely.total_bounds(
        [pocket for trial in placed for pocket in trial.pockets]
    ).tolist()
    shift = (MARGIN_MM - low_x, MARGIN_MM - low_y)
    width, height = high_x - low_x + 2 * MARGIN_MM, high_y - low_y + 2 * MARGIN_MM
    return Coupon(
        shapely.box(0, 0, width, height), tuple(_moved(trial, *shift) for trial in placed)
    )


def _strokes(sizes: CouponSizes) -> list[CouponTrial]:
    """Return strokes with round ends, as a bit leaves them."""
    if sizes.stroke_mm is None:
        return []
    return [_stroke(sizes.stroke_mm * step, sizes.depth_mm) for step in STEPS]


def _stroke(width_mm: float, depth_mm: float) -> CouponTrial:
    half = width_mm / 2.0
    line = shapely.LineString([(half, half), (LENGTH_MM - half, half)])
    return CouponTrial("stroke", width_mm, depth_mm, (line.buffer(half, quad_segs=16),))


def _walls(sizes: CouponSizes) -> list[CouponTrial]:
    """Return pairs of pockets with a wall between them."""
    if sizes.wall_mm is None:
        return []
    pocket = _pocket_mm(sizes)
    trials = []
    for step in STEPS:
        wall = sizes.wall_mm * step
        pair = (
            shapely.box(0, 0, LENGTH_MM, pocket),
            shapely.box(0, pocket + wall, LENGTH_MM, 2 * pocket + wall),
        )
        trials.append(CouponTrial("wall", wall, sizes.depth_mm, pair))
    return trials


def _borders(sizes: CouponSizes) -> list[CouponTrial]:
    """Return channels around a block, as wide as the pocket beside a border and the border."""
    if sizes.border_mm is None:
        return []
    pocket = _pocket_mm(sizes)
    trials = []
    for step in STEPS:
        border = sizes.border_mm * step
        outer = shapely.box(0, 0, LENGTH_MM, pocket + 2 * border)
        inner = shapely.box(border, border, LENGTH_MM - border, pocket + border)
        trials.append(CouponTrial("border", border, sizes.depth_mm, (outer, inner)))
    return trials


def _depths(sizes: CouponSizes) -> list[CouponTrial]:
    """Return squares of rising depth."""
    side = _pocket_mm(sizes)
    return [
        CouponTrial(
            "depth", sizes.depth_mm * step, sizes.depth_mm * step, (shapely.box(0, 0, side, side),)
        )
        for step in DEPTH_STEPS
    ]


def _pocket_mm(sizes: CouponSizes) -> float:
    """Return a side that takes the widest bit with room to move."""
    return 2.0 * sizes.widest_bit_mm


def _box(trial: CouponTrial) -> Sequence[float]:
    bounds: list[float] = shapely.total_bounds(list(trial.pockets)).tolist()
    return bounds


def _moved(trial: CouponTrial, x: float, y: float) -> CouponTrial:
    pockets = tuple(affinity.translate(pocket, x, y) for pocket in trial.pockets)
    return CouponTrial(trial.kind, trial.size_mm, trial.depth_mm, pockets)
