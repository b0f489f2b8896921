"""A small drawn picture with every thing that a plan of pours cares for.

A sea on sand, a sun and a small second sun in it. At a width
of 120 mm one pixel is 0.25 mm. The outlines are known exactly, so areas and volumes follow from
plane geometry.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import shapely

from img2pour.job import Job, make_job
from tests.art.degrade import png
from tests.art.raster import coverage, to_bytes

WIDTH_PX, HEIGHT_PX = 480, 360
MM_PER_PX = 0.25
SAND, SEA, SUN = (236.0, 214.0, 169.0), (21.0, 60.0, 120.0), (240.0, 192.0, 48.0)
PALETTE = ["#ecd6a9=sand", "#153c78=sea", "#f0c030=sun"]

# In pixels of the picture, y down.
SUN_DISC = shapely.Point(190.4, 180.3).buffer(60.0, quad_segs=512)
SEA_BOX = shapely.box(60.0, 60.0, 420.0, 300.0)
SPOT = shapely.Point(350.2, 240.1).buffer(24.0, quad_segs=512)


def write_pond(path: Path) -> Path:
    """Write the picture, exactly antialiased."""
    path.write_bytes(pond_bytes())
    return path


def pond_bytes() -> bytes:
    """Return the picture as PNG."""
    picture = np.broadcast_to(np.array(SAND), (HEIGHT_PX, WIDTH_PX, 3)).copy()
    for shape, colour in ((SEA_BOX, SEA), (SUN_DISC, SUN), (SPOT, SUN)):
        covered = coverage([shape], WIDTH_PX, HEIGHT_PX)[..., None]
        picture += covered * (np.array(colour) - picture)
    return png(to_bytes(picture))


def pond_job(**more: object) -> Job:
    """Return a job for the picture ``pond.png``, 120 mm wide."""
    sections: dict[str, object] = {
        "artwork": {"file": "pond.png"},
        "size": {"width": "120 mm"},
        "colours": {"palette": PALETTE, "wood": "sand"},
    }
    return make_job(**(sections | more))
