"""Small values that several writers share."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from img2pour.errors import SettingsError

Zero = Literal["corner", "centre"]
Point = tuple[float, float]
Pin = tuple[float, float, float]
"""x, y and diameter, mm from the board's lower-left corner."""


@dataclass(frozen=True)
class Board:
    """The finished board.

    Attributes
    ----------
    width_mm, height_mm : float
        Size of the face; the lower-left corner is the origin.
    thickness_mm : float or None
        None when it was not told.

    Raises
    ------
    SettingsError
        When a size is not a positive number.
    """

    width_mm: float
    height_mm: float
    thickness_mm: float | None = None

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if value is not None and not (math.isfinite(value) and value > 0):
                raise SettingsError(
                    f"the board's {name} is {value}; it must be a length above 0",
                    name=name,
                    value=value,
                )

    def zero_point(self, zero: Zero) -> tuple[float, float]:
        """Return the point of the board, in mm, that files take as their origin."""
        return (self.width_mm / 2, self.height_mm / 2) if zero == "centre" else (0.0, 0.0)


MarkKind = Literal["lost", "neck", "end", "corner", "shallow", "wall", "edge"]


@dataclass(frozen=True)
class Mark:
    """A numbered place on the board.

    Attributes
    ----------
    number : int
        As in the list of the report, from 1.
    kind : str
        ``lost`` an island that goes, ``neck`` a place narrower than the bit, ``end`` a stroke's
        end that it does not reach, ``corner`` a corner that comes out round, ``shallow`` a stroke
        cut less deep than asked, ``wall`` material too thin to stand, ``edge`` a pocket that runs
        off the board.
    at_mm : (x, y)
        Its place.
    size_mm : float
        How large it is: the diameter of a lost island, the width of a neck or a wall.
    """

    number: int
    kind: MarkKind
    at_mm: tuple[float, float]
    size_mm: float


@dataclass(frozen=True)
class Places:
    """How the report speaks of places and files.

    Attributes
    ----------
    zero_mm : (x, y)
        The point of the board from which the files measure.
    file_name : callable
        Name of a drawing, from its stem.
    """

    zero_mm: tuple[float, float]
    file_name: Callable[[str], str]

    def seen(self, at_mm: tuple[float, float]) -> list[float]:
        """Return a point of the board in mm from the zero of the files."""
        return [at_mm[0] - self.zero_mm[0], at_mm[1] - self.zero_mm[1]]


@dataclass(frozen=True)
class Picture:
    """A PNG with what it shows in words."""

    data: bytes
    width_px: int
    height_px: int
    words: str
