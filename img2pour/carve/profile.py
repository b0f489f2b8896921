"""The radius of each bit at a height above its tip, and what follows from it.

Every bit is one turned shape: a tip that is flat or a ball, then a straight flank, then a shank of
constant radius.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from img2pour.errors import SettingsError

if TYPE_CHECKING:
    from img2pour.job.bits import Bit

# Common practice, no source: the floor left under a pocket is at least 6 mm, or a third of a
# board too thin for that.
LEAST_FLOOR_MM = 6.0
LEAST_FLOOR_SHARE = 1.0 / 3.0


@dataclass(frozen=True)
class Profile:
    """A bit as a turned shape.

    Attributes
    ----------
    tip_radius_mm : float
        Radius of the flat at the tip; 0 for a point or a ball.
    ball_radius_mm : float
        Radius of the ball at the tip; 0 for a flat or a vee.
    half_angle_rad : float
        Angle between the axis and the flank; 0 for an upright flank.
    widest_radius_mm : float
        Radius at which the flank ends and the shape goes on upright.
    """

    tip_radius_mm: float
    ball_radius_mm: float
    half_angle_rad: float
    widest_radius_mm: float

    @property
    def slope(self) -> float:
        """Tangent of the half angle: growth of the radius per height."""
        return math.tan(self.half_angle_rad)

    @property
    def is_upright(self) -> bool:
        """Whether the bit is a plain cylinder."""
        return self.ball_radius_mm == 0.0 and self.slope == 0.0

    @property
    def ball_height_mm(self) -> float:
        """Height at which the ball passes into the flank, tangent to it."""
        return self.ball_radius_mm * (1.0 - math.sin(self.half_angle_rad))

    @property
    def flank_radius_mm(self) -> float:
        """Radius at the lower end of the flank."""
        return self.tip_radius_mm + self.ball_radius_mm * math.cos(self.half_angle_rad)

    @property
    def flank_top_mm(self) -> float:
        """Height at which the flank reaches the widest radius; infinite if upright."""
        if self.slope == 0.0:
            return math.inf
        rise = (self.widest_radius_mm - self.flank_radius_mm) / self.slope
        return self.ball_height_mm + max(rise, 0.0)

    def has_straight_flank(self, depth_mm: float) -> bool:
        """Whether the radius grows by a straight line from the tip to `depth_mm`."""
        return self.ball_radius_mm == 0.0 and depth_mm <= self.flank_top_mm + 1e-9

    def radius_at(self, height_mm: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Radius at a height above the tip, 0 below the tip.

        Parameters
        ----------
        height_mm : float or (N,) float64

        Returns
        -------
        (N,) float64 or a zero-dimensional array
        """
        height = np.asarray(height_mm, dtype=np.float64)
        ball = np.clip(height, 0.0, self.ball_height_mm)
        round_part = np.sqrt(np.maximum(ball * (2.0 * self.ball_radius_mm - ball), 0.0))
        flank = self.flank_radius_mm + (height - self.ball_height_mm) * self.slope
        radius = np.where(height < self.ball_height_mm, round_part, flank)
        return np.where(height < 0.0, 0.0, np.minimum(radius, self.widest_radius_mm))

    def height_at(self, radius_mm: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Greatest height at which the bit still fits into a circle of a radius.

        Returns
        -------
        (N,) float64 or a zero-dimensional array
            Negative infinity where even the tip does not fit, infinity where the shank fits.
        """
        radius = np.asarray(radius_mm, dtype=np.float64)
        ball = self.ball_radius_mm
        within = np.clip(radius, 0.0, ball)
        round_part = ball - np.sqrt(np.maximum(ball * ball - within * within, 0.0))
        end = self.widest_radius_mm if self.slope > 0.0 else self.flank_radius_mm
        rise = np.maximum(radius - self.flank_radius_mm, 0.0) / max(self.slope, 1e-300)
        flank = self.ball_height_mm + rise
        height = np.where(radius < self.flank_radius_mm, round_part, flank)
        height = np.where(radius >= end, math.inf, height)
        return np.where(radius < self.tip_radius_mm, -math.inf, height)

    def integrals(self, depth_mm: float) -> tuple[float, float]:
        """Integrals of the radius and of its square over the height from 0 to `depth_mm`.

        Returns
        -------
        tuple of float
            In mm2 and mm3; the second times pi is the volume of the bit's lowest part.
        """
        first, second = _ball_integrals(self.ball_radius_mm, min(depth_mm, self.ball_height_mm))
        flank = min(depth_mm, self.flank_top_mm) - self.ball_height_mm
        if flank > 0.0:
            start, end = self.flank_radius_mm, self.flank_radius_mm + flank * self.slope
            first += flank * (start + end) / 2.0
            second += flank * (start * start + start * end + end * end) / 3.0
        shank = max(depth_mm - self.flank_top_mm, 0.0)
        first += shank * self.widest_radius_mm
        return first, second + shank * self.widest_radius_mm**2


def _ball_integrals(radius: float, height: float) -> tuple[float, float]:
    """Integrals of the radius and its square over the lowest `height` of a ball."""
    if radius == 0.0:
        return 0.0, 0.0
    below = radius - height
    chord = math.sqrt(max(radius * radius - below * below, 0.0))
    segment = radius * radius * math.acos(min(max(below / radius, -1.0), 1.0)) - below * chord
    return segment / 2.0, radius * height * height - height**3 / 3.0


def profile_of(bit: Bit) -> Profile:
    """Return the turned shape of a bit.

    Raises
    ------
    SettingsError
        If the bit's kind is unknown.
    """
    half_angle = math.radians(bit.angle_deg or 0.0) / 2.0
    radius = (bit.diameter_mm or 0.0) / 2.0
    if bit.kind == "flat":
        return Profile(radius, 0.0, 0.0, radius)
    if bit.kind == "vee":
        return Profile((bit.tip_mm or 0.0) / 2.0, 0.0, half_angle, radius)
    if bit.kind == "ball":
        ball = bit.ball_radius_mm or radius
        return Profile(0.0, ball, 0.0, ball)
    if bit.kind == "taper":
        ball = bit.ball_radius_mm or 0.0
        widest = max((bit.shank_mm or 0.0) / 2.0, radius, ball)
        return Profile(0.0, ball, half_angle, widest)
    raise SettingsError(
        f"bit kind {bit.kind!r} is unknown; use flat, vee, taper or ball",
        name="bit",
        value=bit.kind,
    )


def narrowest_width_mm(profile: Profile, depth_mm: float) -> float:
    """Width of the narrowest stroke that the bit cuts to `depth_mm`."""
    return 2.0 * float(profile.radius_at(depth_mm))


def check_depth(bits: Iterable[Bit], depth_mm: float, thickness_mm: float | None = None) -> None:
    """Check that the bits reach a depth and that the board keeps a floor under it.

    Raises
    ------
    SettingsError
        If there are no bits, if a bit's cutting length is less than the depth, or if the floor
        left in the board would be less than 6 mm or, in a thin board, a third of its thickness.
    """
    bits = tuple(bits)
    if not bits:
        raise SettingsError('no bits given; name at least one, such as "flat 1/8in"', name="bits")
    if thickness_mm is not None:
        _check_floor(depth_mm, thickness_mm)
    for bit in bits:
        if bit.cutting_length_mm and bit.cutting_length_mm < depth_mm - 1e-9:
            raise SettingsError(
                f"bit {bit.name!r} cuts {bit.cutting_length_mm:g} mm deep at most, but the depth "
                f"is {depth_mm:g} mm; choose a longer bit or a smaller depth",
                name="bits",
                value=bit.name,
            )


def _check_floor(depth_mm: float, thickness_mm: float) -> None:
    floor = min(LEAST_FLOOR_MM, thickness_mm * LEAST_FLOOR_SHARE)
    if depth_mm > thickness_mm - floor + 1e-9:
        raise SettingsError(
            f"depth {depth_mm:g} mm leaves less than {floor:.3g} mm of a board {thickness_mm:g} mm "
            f"thick; use at most {thickness_mm - floor:.4g} mm",
            name="depth",
            value=depth_mm,
        )
