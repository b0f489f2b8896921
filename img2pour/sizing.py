"""How large the artwork becomes, and where it lies on the board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from img2pour.errors import SettingsError
from img2pour.plane.placement import Placement, picture_placement
from img2pour.units import MM_PER_INCH

if TYPE_CHECKING:
    from img2pour.job.model import Job


@dataclass(frozen=True, eq=False)
class Sizing:
    """The finished board and the artwork on it.

    Attributes
    ----------
    width_mm, height_mm : float
        The board's finished size.
    placement : Placement
        From pixels of the artwork to mm on the board, y up, its lower-left corner the origin.
    """

    width_mm: float
    height_mm: float
    placement: Placement

    def __repr__(self) -> str:
        """Return all of it in figures, so that equal sizings read the same."""
        return f"{self.width_mm!r} {self.height_mm!r} {self.placement.matrix.tolist()!r}"


def size_artwork(
    job: Job, width_px: int, height_px: int, dpi: float | None, seen_mm_per_px: float | None = None
) -> Sizing:
    """Return the board for a picture of this many pixels.

    Parameters
    ----------
    job : Job
        One of its width, height, board or scale says how large.
    width_px, height_px : int
    dpi : float or None
        Density stored in the picture.
    seen_mm_per_px : float, optional
        Scale that the photo itself shows: a sheet, a card, two measured points.

    Raises
    ------
    SettingsError
        When no size is given, or the picture holds no density to believe.
    """
    job.need_size()
    size = job.size
    if size.board is not None:
        return _fitted(job, width_px, height_px)
    if size.width is not None:
        mm_per_px = size.width.mm / width_px
    elif size.height is not None:
        mm_per_px = size.height.mm / height_px
    elif size.scale is None and seen_mm_per_px is not None:
        mm_per_px = seen_mm_per_px
    else:
        mm_per_px = MM_PER_INCH / _believed(dpi)
    placement = picture_placement(height_px, mm_per_px)
    return Sizing(width_px * mm_per_px, height_px * mm_per_px, placement)


def _believed(dpi: float | None) -> float:
    """Return the picture's density, if it has one."""
    if dpi is None:
        raise SettingsError(
            "the picture holds no density, so its own scale is not known; give --width, "
            "--height or --board instead of --scale dpi",
            name="size.scale",
        )
    return dpi


def _fitted(job: Job, width_px: int, height_px: int) -> Sizing:
    """Fit the artwork inside the margin, proportions kept, centred."""
    assert job.size.board is not None
    width_mm, height_mm = (side.mm for side in job.size.board)
    margin_mm = job.size.margin.mm if job.size.margin else 0.0
    room_mm = width_mm - 2 * margin_mm, height_mm - 2 * margin_mm
    mm_per_px = min(room_mm[0] / width_px, room_mm[1] / height_px)
    placement = picture_placement(
        height_px,
        mm_per_px,
        left_mm=(width_mm - width_px * mm_per_px) / 2,
        bottom_mm=(height_mm - height_px * mm_per_px) / 2,
    )
    return Sizing(width_mm, height_mm, placement)
