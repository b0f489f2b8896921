"""The table of steps: what each one needs, which job fields it reads, and what it calls."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from img2pour.carve.inscribed import Polygons
from img2pour.carve.limit import Limit, limit
from img2pour.carve.pockets import PocketSettings, pocket_volumes
from img2pour.carve.profile import Profile, check_depth, narrowest_width_mm, profile_of
from img2pour.carve.verdict import Verdict
from img2pour.design import Design, DesignColour, roles_of, settle_colours
from img2pour.errors import SettingsError
from img2pour.job.shelf import Shelf, gather_bits, settle_walls
from img2pour.judging import judge
from img2pour.labels import label_picture
from img2pour.palette import Palette, find_palette
from img2pour.picture import Picture, read_picture
from img2pour.plane.edit import merge_faces
from img2pour.plane.placement import place
from img2pour.plane.regionmap import FloatArray, RegionMap
from img2pour.plane.trace import Traced, trace
from img2pour.sizing import Sizing, size_artwork
from img2pour.steps import Step, Workbench, as_table
from img2pour.wood import choose_wood

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from img2pour.job.bits import Bit
    from img2pour.job.model import Job


@dataclass(frozen=True)
class Facts:
    """What later steps want to know of a picture, without its pixels."""

    width_px: int
    height_px: int
    dpi: float | None
    sha256: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Roles:
    """The colours with their roles, and how the wood was chosen."""

    colours: tuple[DesignColour, ...]
    note: str


@dataclass(frozen=True, eq=False)
class Limited:
    """The design after the limit, its faces as polygons, and what was decided."""

    design: Design
    polygons: Polygons
    limit: Limit


def _read(bench: Workbench) -> Picture:
    if isinstance(bench.source, Picture):
        return bench.source
    source: Path | bytes = bench.source
    return read_picture(source, max_megapixels=bench.job.artwork.max_megapixels)


def _facts(bench: Workbench, picture: Picture) -> Facts:
    height_px, width_px = picture.rgb.shape[:2]
    return Facts(width_px, height_px, picture.dpi, picture.sha256, picture.notes)


def _palette(bench: Workbench, picture: Picture) -> Palette:
    return find_palette(picture, bench.job.colours.palette)


def _labels(bench: Workbench, picture: Picture, palette: Palette) -> NDArray[np.uint8]:
    return label_picture(picture, palette)


def _roles(bench: Workbench, labels: NDArray[np.uint8], palette: Palette) -> Roles:
    wood, note = choose_wood(labels, palette, bench.job.colours.wood)
    return Roles(settle_colours(palette, wood, bench.job), note)


def _sizing(bench: Workbench, facts: Facts) -> Sizing:
    sizing = size_artwork(bench.job, facts.width_px, facts.height_px, facts.dpi)
    board = min(sizing.width_mm, sizing.height_mm)
    for bit in gather_bits(bench.job, bench.base).bits:
        if bit.diameter_mm >= board:
            raise SettingsError(
                f"the bit {bit.name} is {bit.diameter_mm:.4g} mm wide, but the board measures only "
                f"{sizing.width_mm:.4g} x {sizing.height_mm:.4g} mm; take a smaller bit or a "
                "larger board",
                name="bits.use",
                value=bit.name,
            )
    return sizing


def _tolerance_px(bench: Workbench, facts: Facts) -> float | None:
    wanted = bench.job.tracing.tolerance
    if wanted is None:
        return None
    sizing = size_artwork(bench.job, facts.width_px, facts.height_px, facts.dpi)
    return wanted.mm / sizing.placement.scale


def _trace(
    bench: Workbench,
    picture: Picture,
    labels: NDArray[np.uint8],
    palette: Palette,
    tolerance_px: float | None,
) -> Traced:
    return trace(
        picture.rgb, labels, palette.rgb, blur_px=palette.blur_px, tolerance_px=tolerance_px
    )


def _place(bench: Workbench, traced: Traced, sizing: Sizing) -> RegionMap:
    return place(traced.region_map, sizing.placement)


def _shelf(bench: Workbench) -> Shelf:
    shelf = gather_bits(bench.job, bench.base)
    check_depth(shelf.bits, bench.job.carving.depth.mm, bench.job.board.thickness.mm)
    return shelf


def _limit(bench: Workbench, placed: RegionMap, roles: Roles, shelf: Shelf) -> Limited:
    design = Design(placed, roles.colours)
    polygons = design.polygons()
    entry_mm = entry_widths_mm(bench.job, roles.colours, shelf)
    found = limit(placed, entry_mm, list(entry_mm), list(polygons))
    if not found.pairs:
        return Limited(design, polygons, found)
    target = list(range(placed.face_count))
    for face, into in found.pairs:
        target[face] = into
    import numpy as np

    merged = Design(merge_faces(placed, np.array(target)), roles.colours)
    return Limited(merged, merged.polygons(), found)


def entry_widths_mm(
    job: Job, colours: tuple[DesignColour, ...], shelf: Shelf
) -> Mapping[int, float]:
    """Return how wide an island of each poured colour must be, for colours that are limited."""
    widths = {}
    for index in roles_of(colours, "pour"):
        colour = colours[index]
        override = job.override_for(colour.name, colour.hex)
        small = (override.small if override else None) or job.carving.small
        if small == "drop":
            widths[index] = entry_width_mm(job, shelf.for_colour(colour.name, colour.hex))
    return widths


def entry_width_mm(job: Job, bits: tuple[Bit, ...]) -> float:
    """Return the width that the finest of the bits needs to reach the least depth."""
    reach_mm = job.limits.least_depth.mm
    narrowest = min(narrowest_width_mm(profile_of(bit), reach_mm) for bit in bits)
    return narrowest + job.limits.bit_margin.mm


def _verdict(
    bench: Workbench, placed: RegionMap, roles: Roles, sizing: Sizing, shelf: Shelf
) -> Verdict:
    return judge(Design(placed, roles.colours), sizing, shelf, bench.job, bench.base)


def _volumes(bench: Workbench, limited: Limited, shelf: Shelf) -> FloatArray:
    """Return the resin that each face's pocket holds, mm3; 0 for what is not poured."""
    import numpy as np

    volumes = np.zeros(len(limited.polygons))
    colours = limited.design.colours
    face_colours = limited.design.region_map.face_colours
    for index in roles_of(colours, "pour"):
        bits = shelf.for_colour(colours[index].name, colours[index].hex)
        faces = np.flatnonzero(face_colours == index)
        volumes[faces] = pocket_volumes(
            limited.polygons[faces], profiles_of(bits), pocket_settings(bench.job, bits)
        )
    return volumes


def profiles_of(bits: tuple[Bit, ...]) -> list[Profile]:
    """Return the turned shapes of some bits."""
    return [profile_of(bit) for bit in bits]


def pocket_settings(job: Job, bits: tuple[Bit, ...]) -> PocketSettings:
    """Return how the job's pockets are cut with these bits."""
    carving = job.carving
    return PocketSettings(carving.depth.mm, carving.surface.mm, settle_walls(job, bits))


CHECKED = ("carving", "limits", "board.grain", "bits.table")

STEPS: dict[str, Step] = as_table(
    [
        Step("read", _read, (), ("artwork.max_megapixels",), 2),
        Step("facts", _facts, ("read",), (), 0, by_value=True),
        Step("shelf", _shelf, (), ("bits", "machine", "override", "carving", "board"), 0, True),
        Step("size", _sizing, ("facts",), ("size", "bits", "machine", "override"), 0, True),
        Step("colours", _palette, ("read",), ("colours.palette",), 4),
        Step("labels", _labels, ("read", "colours"), (), 5),
        Step("roles", _roles, ("labels", "colours"), ("colours.wood", "override"), 0, True),
        Step("tolerance", _tolerance_px, ("facts",), ("tracing", "size"), 0, by_value=True),
        Step("trace", _trace, ("read", "labels", "colours", "tolerance"), (), 8),
        Step("place", _place, ("trace", "size"), (), 0),
        Step("limit", _limit, ("place", "roles", "shelf"), ("carving", "limits", "override"), 2),
        Step("check", _verdict, ("place", "roles", "size", "shelf"), CHECKED, 4),
        Step("pockets", _volumes, ("limit", "shelf"), ("carving",), 2),
    ]
)
