"""A board with no artwork of its own: bare wood for the pieces that are laid on it."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from img2pour.errors import SettingsError

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.picture import Picture

WOOD = "wood"
LONG_SIDE_PX = 512
"""Of one colour, it needs no more than the board's proportions."""


def artwork_of(job: Job, base: Path) -> tuple[Path | Picture, Job]:
    """Return the artwork of a job, and the job with the colours of bare wood where it has none.

    Parameters
    ----------
    job : Job
    base : Path
        Folder from which its picture is seen.

    Raises
    ------
    SettingsError
        When the job names no picture, and has no pieces to lay on a bare board of known size.
    """
    if job.artwork.file is not None or not job.has_pieces:
        return job.artwork_path(base), job
    if job.size.board is None:
        raise SettingsError(
            "the job names no picture for its pieces to lie on; how large is the bare board? "
            'Give --board 340x230mm, or file = "..." under [artwork]',
            name="size.board",
        )
    return _bare(job), _on_wood(job)


def _bare(job: Job) -> Picture:
    """Return a picture of bare wood in the proportions of the board within its margin."""
    import numpy as np

    from img2pour.colour import rgb_from_hex
    from img2pour.design import WOOD_TONE
    from img2pour.picture import Picture

    assert job.size.board is not None
    margin_mm = job.size.margin.mm if job.size.margin else 0.0
    width_mm, height_mm = (side.mm - 2 * margin_mm for side in job.size.board)
    scale = LONG_SIDE_PX / max(width_mm, height_mm)
    size = [max(2, round(side * scale)) for side in (height_mm, width_mm)]
    rgb = np.empty((*size, 3), np.uint8)
    rgb[:] = rgb_from_hex(WOOD_TONE)
    return Picture(rgb, None, None, hashlib.sha256(rgb.tobytes()).hexdigest())


def _on_wood(job: Job) -> Job:
    """Return the job with wood as the only colour of the ground, where no other was wished."""
    if job.colours.palette != "auto":
        return job
    from img2pour.design import WOOD_TONE

    colours = job.colours.model_copy(update={"palette": ((WOOD_TONE, WOOD),), "wood": WOOD})
    return job.model_copy(update={"colours": colours})
