"""What has just come in is looked at by the spare: a file that ends its reader harms nobody."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

from img2pour.web.faults import RefusedError
from img2pour.web.pool import Pool, TooLongError, WorkerDiedError

NO_PICTURE = "this file cannot be read as a picture"

log = logging.getLogger("img2pour.web")


async def size_of_picture(pool: Pool, path: Path, label: str) -> tuple[int, int]:
    """Return width and height of a picture from its header; no pixel is decoded.

    Parameters
    ----------
    pool : Pool
    path : Path
        Where the picture lies meanwhile.
    label : str
        What its owner calls it, for what is told of it.

    Raises
    ------
    RefusedError
        When it is no picture, too large, or ends the process that looks at it.
    """
    order: dict[str, Any] = {
        "op": "look",
        "picture": str(path),
        "max_megapixels": pool.settings.max_megapixels,
        "max_mb": pool.settings.max_mb,
    }
    try:
        spare = await pool.spare()
        said = await spare.ask(order)
    except (WorkerDiedError, TooLongError):
        raise RefusedError(415, NO_PICTURE) from None
    if said["kind"] == "fault":
        raise RefusedError(415, str(said["message"]).replace(path.name, label))
    if said["kind"] != "end":
        log.error("looking at a picture: %s", said.get("trace"))
        raise RefusedError(415, NO_PICTURE)
    return said["width_px"], said["height_px"]
