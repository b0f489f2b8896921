"""What each bit removes, colour by colour, as the report states it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from img2pour.carve.pockets import PocketSettings
from img2pour.carve.work import BitWork, work_of_bits
from img2pour.design import Design, roles_of
from img2pour.job.shelf import settle_walls

if TYPE_CHECKING:
    from img2pour.carve.inscribed import FloatArray, Polygons
    from img2pour.job.bits import Bit
    from img2pour.job.model import Job
    from img2pour.job.shelf import Shelf

MM3_PER_ML = 1000.0

Work = Mapping[int, tuple[BitWork, ...]]
"""What each bit does, by colour."""


def work_on(
    design: Design, polygons: Polygons, volumes_mm3: FloatArray, shelf: Shelf, job: Job
) -> Work:
    """Return what each bit does in the pockets of every colour, rough bits before fine ones.

    Parameters
    ----------
    design : Design
    polygons : (F,) object
        Its faces.
    volumes_mm3 : (F,) float64
        What the bits together open of each.
    shelf : Shelf
    job : Job
    """
    carving, colours = job.carving, design.region_map.face_colours
    works = {}
    for index in roles_of(design.colours, "pour"):
        faces = np.flatnonzero(colours == index)
        if len(faces) == 0:
            continue
        bits = shelf.for_colour(design.colours[index].name, design.colours[index].hex)
        walls = settle_walls(job, bits)
        settings = PocketSettings(carving.depth.mm, carving.surface.mm, walls)
        whole_mm3 = float(volumes_mm3[faces].sum())
        works[index] = work_of_bits(polygons[faces], rough_first(bits), settings, whole_mm3)
    return works


def rough_first(bits: Sequence[Bit]) -> tuple[Bit, ...]:
    """Return the bits in the order of the work: flat ones before others, wide before narrow."""
    return tuple(sorted(bits, key=lambda bit: (bit.kind != "flat", -bit.diameter_mm)))


def work_data(work: Work, design: Design) -> list[dict[str, Any]]:
    """Return what each bit does, with what its minutes were reckoned from."""
    return [
        {
            "colour": design.colours[colour].name,
            "bit": one.bit,
            "area_mm2": one.area_mm2,
            "removed_ml": one.removed_mm3 / MM3_PER_ML,
            "left_ml": one.left_mm3 / MM3_PER_ML,
            "removed_percent": 100 * one.removed_share,
            "minutes": one.minutes,
            "way_mm": one.way_mm,
            "passes": one.passes,
            "stepover_mm": one.stepover_mm,
            "feed_mm_min": one.feed_mm_min,
            "plunge_mm": one.plunge_mm,
            "plunge_mm_min": one.plunge_mm_min,
        }
        for colour, bits in sorted(work.items())
        for one in bits
    ]
