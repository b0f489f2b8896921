"""The pockets of every colour: what they hold, and what each bit removes of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from img2pour.board_edges import carried_regions, frame_of
from img2pour.carve.pockets import PocketSettings, pocket_volumes
from img2pour.carve.profile import profile_of
from img2pour.carve.voids import Bounds, Openings
from img2pour.carve.work import BitWork, work_of_bits
from img2pour.design import Design, roles_of
from img2pour.job.shelf import settle_walls
from img2pour.plane.regionmap import face_areas

if TYPE_CHECKING:
    from img2pour.carve.inscribed import FloatArray, Polygons
    from img2pour.carve.medial import IntArray
    from img2pour.job.bits import Bit
    from img2pour.job.model import Job
    from img2pour.job.shelf import Shelf
    from img2pour.write.values import Board

MM3_PER_ML = 1000.0

POCKET_SAGITTA_MM = 0.02
"""Chords of pockets; what they cut off arcs is made up for by the exact area of each face."""

WORKERS = 4
"""Threads; offsets and overlays run beside each other."""

Work = Mapping[int, tuple[BitWork, ...]]
"""What each bit does, by colour."""


@dataclass(frozen=True, eq=False)
class ColourPockets:
    """The pockets of one colour and the bits that cut them.

    Attributes
    ----------
    faces : (N,) int64
    polygons : (N,) object
        What shows of them on the board.
    carried : (N,) object
        The same, those that run off the board carried past its edge.
    growth : (N,) float64
        Exact area of each face over that of its polygon.
    bits : tuple of Bit
    settings : PocketSettings
    openings : Openings
        Of the polygons; what a bit clears is worked out once.
    """

    faces: IntArray
    polygons: Polygons
    carried: Polygons
    growth: FloatArray
    bits: tuple[Bit, ...]
    settings: PocketSettings
    openings: Openings


@dataclass(frozen=True, eq=False)
class Pockets:
    """All pockets of a design.

    Attributes
    ----------
    colours : mapping of int to ColourPockets
    board : Board
    face_count : int
        Of the design.
    """

    colours: Mapping[int, ColourPockets]
    board: Board
    face_count: int


def pockets_of(design: Design, shelf: Shelf, board: Board, job: Job) -> Pockets:
    """Return the pockets of every poured colour that the design shows.

    Parameters
    ----------
    design : Design
    shelf : Shelf
    board : Board
    job : Job
    """
    carving, colours = job.carving, design.region_map.face_colours
    polygons, areas = design.polygons(POCKET_SAGITTA_MM), face_areas(design.region_map)
    found = {}
    for index in roles_of(design.colours, "pour"):
        faces = np.flatnonzero(colours == index)
        if len(faces) == 0:
            continue
        bits = shelf.for_colour(design.colours[index].name, design.colours[index].hex)
        settings = PocketSettings(carving.depth.mm, carving.surface.mm, settle_walls(job, bits))
        own = polygons[faces]
        carried = carried_regions(own, colours[faces], [bits] * len(faces), board, job)
        growth = areas[faces] / shapely.area(own)
        found[index] = ColourPockets(
            faces, own, own if carried is None else carried, growth, bits, settings, Openings(own)
        )
    return Pockets(found, board, design.region_map.face_count)


def volumes_of(pockets: Pockets) -> FloatArray:
    """Return the resin that each face's pocket holds, mm3; 0 for what is not poured."""
    volumes = np.zeros(pockets.face_count)
    within = frame_of(pockets.board).bounds
    with ThreadPoolExecutor(WORKERS) as pool:
        done = pool.map(lambda one: _colour_volumes(one, within), pockets.colours.values())
        for one, found in zip(pockets.colours.values(), done, strict=True):
            volumes[one.faces] = found
    return volumes


def _colour_volumes(one: ColourPockets, within: Bounds) -> FloatArray:
    """Return the volumes of one colour's pockets; at the board's edge no corner is lost."""
    profiles = [profile_of(bit) for bit in one.bits]
    volumes = pocket_volumes(one.polygons, profiles, one.settings, openings=one.openings)
    at_edge = np.flatnonzero(one.carried != one.polygons)
    if len(at_edge):
        volumes[at_edge] = pocket_volumes(
            one.carried[at_edge], profiles, one.settings, within=within
        )
    return volumes * one.growth


def work_on(pockets: Pockets, volumes_mm3: FloatArray) -> Work:
    """Return what each bit does in the pockets of every colour, rough bits before fine ones.

    Parameters
    ----------
    pockets : Pockets
    volumes_mm3 : (F,) float64
        What the bits together open of each face.
    """

    def work(one: ColourPockets) -> tuple[BitWork, ...]:
        whole_mm3 = float(volumes_mm3[one.faces].sum())
        bits = rough_first(one.bits)
        return work_of_bits(one.polygons, bits, one.settings, whole_mm3, one.openings)

    with ThreadPoolExecutor(WORKERS) as pool:
        done = pool.map(work, pockets.colours.values())
        return dict(zip(pockets.colours, done, strict=True))


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
