"""The table of steps: what each one needs, which job fields it reads, and what it calls."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from img2pour.adjusted import Adjusted
from img2pour.errors import SettingsError
from img2pour.laid import Laid
from img2pour.ruled_values import Ruled
from img2pour.steps import Step, Workbench, as_table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from img2pour.artwork import Geometry, Lengths, Way
    from img2pour.bit_work import Pockets, Work
    from img2pour.carve.inscribed import Polygons
    from img2pour.carve.limit import Limit
    from img2pour.carve.verdict import Verdict
    from img2pour.compose.legible import TextSize
    from img2pour.design import Design, DesignColour
    from img2pour.job.bits import Bit
    from img2pour.job.model import Job
    from img2pour.job.section_types import Small
    from img2pour.job.shelf import Shelf
    from img2pour.palette import Palette
    from img2pour.picture import Picture
    from img2pour.plane.regionmap import FloatArray, RegionMap
    from img2pour.plane.trace import Traced
    from img2pour.planning import Planned
    from img2pour.quality import QualityNote
    from img2pour.sizing import Sizing
    from img2pour.sketch import LineDrawing
    from img2pour.straighten import Straightened
    from img2pour.tones import Posterised
    from img2pour.touching_up import Touched
    from img2pour.write.values import Board


@dataclass(frozen=True)
class Facts:
    """What later steps want to know of a picture, without its pixels.

    Attributes
    ----------
    width_px, height_px : int
        Of the artwork.
    upright_px : (width, height)
        Of the upright input.
    dpi : float or None
        Of the artwork; None once it was straightened.
    sha256 : str
    notes : tuple of str
    """

    width_px: int
    height_px: int
    upright_px: tuple[int, int]
    dpi: float | None
    sha256: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Demands:
    """What a picture is to be good enough for, and where its frame cuts the sheet (in words)."""

    mm_per_px: float
    smallest_mm: float
    cut: tuple[str, ...]


@dataclass(frozen=True)
class Roles:
    """The colours with their roles, and how the wood was chosen."""

    colours: tuple[DesignColour, ...]
    note: str


@dataclass(frozen=True, eq=False)
class Limited:
    """The design after the limit, its faces as polygons, and what was decided.

    `standing` are the faces, before the limit, that pours around them leave standing.
    """

    design: Design
    polygons: Polygons
    limit: Limit
    standing: tuple[int, ...] = ()


def _read(bench: Workbench) -> Picture:
    from img2pour.picture import Picture, read_picture

    if isinstance(bench.source, Picture):
        return bench.source
    source: Path | bytes = bench.source
    return read_picture(source, max_megapixels=bench.job.artwork.max_megapixels)


def _straighten(bench: Workbench, picture: Picture) -> Straightened:
    from img2pour.artwork import straightened

    return straightened(picture, bench.job)


def _geometry(bench: Workbench, done: Straightened) -> Geometry:
    from img2pour.artwork import geometry_of

    return geometry_of(done, bench.job)


def _frame(bench: Workbench, done: Straightened) -> Straightened:
    from img2pour.artwork import geometry_of
    from img2pour.framing import framed

    return framed(done, bench.job.framing, geometry_of(done, bench.job))


def _light(bench: Workbench, done: Straightened) -> Picture:
    from img2pour.artwork import lit

    return lit(done.picture, bench.job)


def _facts(bench: Workbench, picture: Picture, artwork: Picture) -> Facts:
    height_px, width_px = artwork.rgb.shape[:2]
    upright_px = picture.rgb.shape[1], picture.rgb.shape[0]
    return Facts(width_px, height_px, upright_px, artwork.dpi, picture.sha256, artwork.notes)


def _way(bench: Workbench, artwork: Picture) -> Way:
    from img2pour.artwork import way_of

    return way_of(artwork, bench.job)


def _lengths(
    bench: Workbench, way: Way, facts: Facts, geometry: Geometry, shelf: Shelf
) -> Lengths | None:
    from img2pour.artwork import lengths_px
    from img2pour.sizing import size_artwork

    size_px = facts.width_px, facts.height_px
    scale = None
    if bench.job.has_size:
        scale = size_artwork(bench.job, *size_px, facts.dpi, geometry.mm_per_px).placement.scale
    return lengths_px(bench.job, way, size_px, scale, entry_width_mm(bench.job, shelf.bits))


def _cells(
    bench: Workbench, artwork: Picture, geometry: Geometry, lengths: Lengths | None
) -> LineDrawing | None:
    from img2pour.artwork import drawn_cells

    return drawn_cells(artwork, geometry, lengths, bench.job)


def _tones(bench: Workbench, artwork: Picture, lengths: Lengths | None) -> Posterised | None:
    from img2pour.artwork import toned

    return toned(artwork, lengths, bench.job)


def _palette(
    bench: Workbench, artwork: Picture, cells: LineDrawing | None, tones: Posterised | None
) -> Palette:
    from img2pour.artwork import palette_of

    return palette_of(artwork, cells, tones, bench.job)


def _labels(
    bench: Workbench,
    artwork: Picture,
    palette: Palette,
    cells: LineDrawing | None,
    tones: Posterised | None,
) -> NDArray[np.uint8]:
    from img2pour.artwork import labels_of

    return labels_of(artwork, palette, cells, tones)


def _rim_shares(
    bench: Workbench, labels: NDArray[np.uint8], palette: Palette
) -> NDArray[np.float64]:
    from img2pour.colours.wood import edge_share

    return edge_share(labels, len(palette.colours))


def _roles(bench: Workbench, shares: NDArray[np.float64], palette: Palette) -> Roles:
    from img2pour.colours.wood import choose_wood
    from img2pour.design import WOOD_TONE, DesignColour, roles_of, settle_colours

    wood, note = choose_wood(shares, palette, bench.job.colours.wood)
    colours = settle_colours(palette, wood, bench.job)
    if bench.job.carving.rim.mm and not roles_of(colours, "wood"):
        colours += (DesignColour("rim", WOOD_TONE, "wood"),)
    return Roles(colours, note)


def _sizing(bench: Workbench, facts: Facts, geometry: Geometry) -> Sizing:
    from img2pour.job.shelf import gather_bits

    sizing = _sized(bench.job, facts, geometry)
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


def _sized(job: Job, facts: Facts, geometry: Geometry) -> Sizing:
    from img2pour.sizing import size_artwork

    return size_artwork(job, facts.width_px, facts.height_px, facts.dpi, geometry.mm_per_px)


def _demands(bench: Workbench, sizing: Sizing, shelf: Shelf, geometry: Geometry) -> Demands:
    smallest_mm = entry_width_mm(bench.job, shelf.bits)
    return Demands(sizing.placement.scale, smallest_mm, geometry.cut)


def _quality(
    bench: Workbench, picture: Picture, artwork: Picture, palette: Palette, demands: Demands
) -> tuple[QualityNote, ...]:
    if len(palette.colours) < 2:
        return ()  # what has no edges needs no pixels
    from img2pour.quality import cut_note, judge_quality, resolution_note

    mm_per_px, smallest_mm = demands.mm_per_px, demands.smallest_mm
    if palette.noise < CLEAN_NOISE and palette.blur_px < CLEAN_BLUR_PX:
        notes = resolution_note(mm_per_px, smallest_mm), cut_note(demands.cut)
        return tuple(note for note in notes if note is not None)
    return judge_quality(
        artwork,
        mm_per_px=mm_per_px,
        smallest_mm=smallest_mm,
        blur_px=palette.blur_px,
        photo=picture,
        cut=demands.cut,
    )


def _tolerance_px(bench: Workbench, facts: Facts, geometry: Geometry, way: Way) -> float | None:
    wanted = bench.job.tracing.tolerance
    if wanted is None:
        return None if way == "colours" else MADE_TOLERANCE_PX
    return wanted.mm / _sized(bench.job, facts, geometry).placement.scale


def _pixels(
    bench: Workbench,
    artwork: Picture,
    labels: NDArray[np.uint8],
    palette: Palette,
    cells: LineDrawing | None,
    tones: Posterised | None,
) -> NDArray[np.uint8]:
    from img2pour.artwork import traced_pixels

    return traced_pixels(artwork, labels, palette, cells is not None or tones is not None)


def _trace(
    bench: Workbench,
    pixels: NDArray[np.uint8],
    labels: NDArray[np.uint8],
    palette: Palette,
    tolerance_px: float | None,
) -> Traced:
    from img2pour.plane.trace import trace

    return trace(
        pixels,
        labels,
        palette.rgb,
        blur_px=palette.blur_px,
        tolerance_px=tolerance_px,
        linear_light=palette.look.linear_light,
    )


def _touch(
    bench: Workbench, traced: Traced, palette: Palette, geometry: Geometry, sizing: Sizing
) -> Touched:
    from img2pour.touching_up import touch_up

    touches, scale = bench.job.touch, sizing.placement.scale
    return touch_up(traced.region_map, touches, palette, geometry, scale)


def _place(bench: Workbench, touched: Touched, sizing: Sizing) -> RegionMap:
    from img2pour.plane.placement import place

    return place(touched.region_map, sizing.placement)


def _shelf(bench: Workbench) -> Shelf:
    from img2pour.carve.profile import check_depth
    from img2pour.job.shelf import gather_bits

    shelf = gather_bits(bench.job, bench.base)
    check_depth(shelf.bits, bench.job.carving.depth.mm, bench.job.board.thickness.mm)
    return shelf


def _letters(bench: Workbench, shelf: Shelf) -> tuple[TextSize, ...]:
    if not bench.job.text:
        return ()
    from img2pour.composing import size_texts

    return size_texts(bench.job, bench.base, entry_width_mm(bench.job, shelf.bits))


def _pieces(bench: Workbench, placed: RegionMap, roles: Roles, sizing: Sizing) -> Laid:
    if not bench.job.has_pieces:
        return Laid(placed, roles.colours)
    from img2pour.composing import Ground, lay_pieces

    ground = Ground(placed, roles.colours, sizing)
    return lay_pieces(bench, ground)


def _rules(bench: Workbench, laid: Laid, sizing: Sizing, geometry: Geometry) -> Ruled:
    if not bench.job.role:
        return Ruled(laid.region_map, laid.colours)
    from img2pour.design import Design
    from img2pour.plan_settings import naming_fields
    from img2pour.ruled import rule_roles

    with naming_fields(bench.job.shown_units):
        return rule_roles(Design(laid.region_map, laid.colours), sizing, geometry, bench.job)


def _adjust(bench: Workbench, laid: Ruled, shelf: Shelf, sizing: Sizing) -> Adjusted:
    job = bench.job
    widths_mm = entry_widths_mm(job, laid.colours, shelf, "widen")
    if not widths_mm and job.carving.thin_walls == "mark" and not job.carving.rim.mm:
        return Adjusted(laid.region_map, ())
    from img2pour.adjusting import adjust
    from img2pour.design import Design
    from img2pour.judging import wall_limits

    board_mm = sizing.width_mm, sizing.height_mm
    design = Design(laid.region_map, laid.colours)
    return adjust(design, widths_mm, wall_limits(job), job, board_mm)


def _limit(
    bench: Workbench, adjusted: Adjusted, laid: Ruled, sizing: Sizing, shelf: Shelf
) -> Limited:
    import numpy as np

    from img2pour.board_edges import carried_faces
    from img2pour.carve.limit import limit
    from img2pour.design import Design, roles_of
    from img2pour.plane.edit import merge_faces
    from img2pour.standing import standing_faces

    placed = adjusted.region_map
    design = Design(placed, laid.colours)
    polygons = design.polygons()
    entry_mm = entry_widths_mm(bench.job, laid.colours, shelf, "drop")
    pours = roles_of(laid.colours, "pour")
    least_mm = bench.job.limits.least_wall_resin.mm
    standing = standing_faces(placed, polygons, entry_mm, pours, least_mm)
    cut = carried_faces(design, polygons, shelf, _board(sizing), bench.job)
    found = limit(placed, entry_mm, list(entry_mm), list(polygons), standing, cut)
    if not found.pairs:
        return Limited(design, polygons, found, standing)
    target = list(range(placed.face_count))
    for face, into in found.pairs:
        target[face] = into
    merged = Design(merge_faces(placed, np.array(target)), laid.colours)
    return Limited(merged, merged.polygons(), found, standing)


def entry_widths_mm(
    job: Job, colours: tuple[DesignColour, ...], shelf: Shelf, wish: Small
) -> Mapping[int, float]:
    """Return how wide each poured colour must be, for colours of which the job wishes this."""
    from img2pour.design import roles_of

    widths = {}
    for index in roles_of(colours, "pour"):
        colour = colours[index]
        override = job.override_for(colour.name, colour.hex)
        small = (override.small if override else None) or job.carving.small
        if small == wish:
            widths[index] = entry_width_mm(job, shelf.for_colour(colour.name, colour.hex))
    return widths


def entry_width_mm(job: Job, bits: tuple[Bit, ...]) -> float:
    """Return the width that the finest of the bits needs to reach the least depth."""
    from img2pour.carve.profile import narrowest_width_mm, profile_of

    reach_mm = job.limits.least_depth.mm
    narrowest = min(narrowest_width_mm(profile_of(bit), reach_mm) for bit in bits)
    return narrowest + job.limits.bit_margin.mm


def _verdict(
    bench: Workbench,
    adjusted: Adjusted,
    limited: Limited,
    works: Work,
    sizing: Sizing,
    shelf: Shelf,
) -> Verdict:
    from img2pour.design import Design
    from img2pour.judging import Known, judge

    drawn = Design(adjusted.region_map, limited.design.colours)
    known = Known(works, limited.standing)
    return judge(drawn, known, sizing, shelf, bench.job, bench.base)


def _cut(bench: Workbench, limited: Limited, sizing: Sizing, shelf: Shelf) -> Pockets:
    from img2pour.bit_work import pockets_of

    return pockets_of(limited.design, shelf, _board(sizing), bench.job)


def _volumes(bench: Workbench, cut: Pockets) -> FloatArray:
    """Return the resin that each face's pocket holds, mm3; 0 for what is not poured."""
    from img2pour.bit_work import volumes_of

    return volumes_of(cut)


def _work(bench: Workbench, cut: Pockets, volumes_mm3: FloatArray) -> Work:
    from img2pour.bit_work import work_on

    return work_on(cut, volumes_mm3)


def _board(sizing: Sizing) -> Board:
    from img2pour.write.values import Board as Finished

    return Finished(sizing.width_mm, sizing.height_mm)


def _plan(
    bench: Workbench, limited: Limited, sizing: Sizing, ruled: Ruled, shelf: Shelf
) -> Planned | None:
    from img2pour.planning import Ground, plan_design

    ground = Ground(limited.design, limited.polygons, sizing, ruled)
    return plan_design(ground, shelf, bench.job, bench.base)


CLEAN_NOISE, CLEAN_BLUR_PX = 1.0, 0.4
"""Below both a picture is digital artwork, as sharp as its pixels."""

MADE_TOLERANCE_PX = 0.3
"""Edges of cells and tones are of our own drawing: they hold no noise."""

TOLERANCE = ("tracing", "size")
LENGTHS = ("size", "drawing.close", "drawing.line_width", "limits")
WORDED = ("output.units", "size")
"""What settles the units that messages speak in."""

PLANNED = (
    "pours",
    "seal",
    "mixing",
    "shop",
    "blank",
    "board",
    "limits",
    "carving",
    "role",
    "resin",
    "log",
    "drawing.lines",
    "bits",
    *WORDED,
)
PIECES = ("art", "shape", "text", "override", "limits", "carving.thin_walls", "blank")
ADJUSTED = ("carving", "limits", "override", "board.grain")
LIMITED = ("carving", "limits", "override", "blank")
CHECKED = ("carving", "limits", "board.grain", "bits.table", "blank")

RULED = ("role", "resin", *WORDED)
ROLES = ("colours.wood", "override", "carving.rim")

SHELF = ("bits", "machine", "override", "carving", "board")
FOUND = ("colours.palette", "drawing.read")
DRAWN = ("drawing", "cell", "colours.tones")

STEPS: dict[str, Step] = as_table(
    [
        Step("read", _read, (), ("artwork.max_megapixels",), 2),
        Step("straighten", _straighten, ("read",), ("photo.straighten", "photo.sheet"), 2),
        Step("frame", _frame, ("straighten",), ("framing", "photo.measure", "photo.sheet"), 0),
        Step("geometry", _geometry, ("frame",), ("photo", "size"), 0, by_value=True),
        Step("light", _light, ("frame",), ("photo.light",), 2),
        Step("facts", _facts, ("read", "light"), (), 0, by_value=True),
        Step("shelf", _shelf, (), SHELF, 0, by_value=True),
        Step("letters", _letters, ("shelf",), ("art", "shape", "text", "limits"), 0),
        Step("size", _sizing, ("facts", "geometry"), ("size", *SHELF), 0, by_value=True),
        Step("way", _way, ("light",), ("drawing.read", "colours.tones"), 1, by_value=True),
        Step("lengths", _lengths, ("way", "facts", "geometry", "shelf"), LENGTHS, 0, True),
        Step("drawing", _cells, ("light", "geometry", "lengths"), DRAWN, 1),
        Step("tones", _tones, ("light", "lengths"), ("colours.tones",), 0),
        Step("colours", _palette, ("light", "drawing", "tones"), FOUND, 4),
        Step("labels", _labels, ("light", "colours", "drawing", "tones"), (), 5),
        Step("rim shares", _rim_shares, ("labels", "colours"), (), 0),
        Step("roles", _roles, ("rim shares", "colours"), ROLES, 0, True),
        Step("demands", _demands, ("size", "shelf", "geometry"), ("limits",), 0, by_value=True),
        Step("quality", _quality, ("read", "light", "colours", "demands"), (), 1),
        Step("tolerance", _tolerance_px, ("facts", "geometry", "way"), TOLERANCE, 0, True),
        Step("pixels", _pixels, ("light", "labels", "colours", "drawing", "tones"), (), 0),
        Step("trace", _trace, ("pixels", "labels", "colours", "tolerance"), (), 8),
        Step("touch-ups", _touch, ("trace", "colours", "geometry", "size"), ("touch",), 0),
        Step("place", _place, ("touch-ups", "size"), (), 0),
        Step("pieces", _pieces, ("place", "roles", "size"), PIECES, 0),
        Step("rules", _rules, ("pieces", "size", "geometry"), RULED, 0),
        Step("adjust", _adjust, ("rules", "shelf", "size"), ADJUSTED, 0),
        Step("limit", _limit, ("adjust", "rules", "size", "shelf"), LIMITED, 2),
        Step("cut", _cut, ("limit", "size", "shelf"), ("carving", "blank"), 0),
        Step("pockets", _volumes, ("cut",), (), 2),
        Step("work", _work, ("cut", "pockets"), (), 2),
        Step("check", _verdict, ("adjust", "limit", "work", "size", "shelf"), CHECKED, 4),
        Step("plan", _plan, ("limit", "size", "rules", "shelf"), PLANNED, 8),
    ]
)
