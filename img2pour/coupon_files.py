"""The coupon of a job: its sizes from the verdict, a drawing for the machine, a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from img2pour.carve.coupon import Coupon, CouponKind, CouponSizes, CouponTrial, make_coupon
from img2pour.colour import rgb_from_hex
from img2pour.outputs import dxf_settings
from img2pour.units import Shown, format_length
from img2pour.write.chords import shape_outlines
from img2pour.write.coverage import shape_edges
from img2pour.write.dxf import DxfLayer, DxfSettings, board_layer, drawing_dxf
from img2pour.write.layers import layer_colour, layer_names
from img2pour.write.lettering import Words, letter, width_of
from img2pour.write.pictures import WOOD_TONE, Canvas, on_board, png_bytes
from img2pour.write.values import Board

if TYPE_CHECKING:
    import shapely

    from img2pour.carve.profile import Profile
    from img2pour.results import Result

PICTURE_PX = 1400
WORDS_PX = 22
LEAST_WALL_MM = 0.3
"""Thinner walls break whatever the wood; trying them tells nothing."""

HEXES: dict[CouponKind, str] = {
    "stroke": "#155a93",
    "wall": "#a8322d",
    "border": "#2f7d4f",
    "depth": "#6b4a8a",
}
CLEAR_HEX = "#d8e2e4"

Piece = tuple[str, str, "shapely.Geometry"]
"""Wanted layer, ``#rrggbb`` and outline of what is carved in one go."""


def sizes_of(result: Result) -> CouponSizes:
    """Return what a judged job asks of the bits: narrowest stroke, wall and border, and depth."""
    job, verdict = result.job, result.verdict
    lines = () if verdict is None else verdict.colours
    strokes = [line.reach.thinnest_mm for line in lines if line.reach.thinnest_mm is not None]
    walls = [line.thinnest_wall_mm for line in lines if line.thinnest_wall_mm is not None]
    cut_mm = cut_width_mm(result)
    wall_mm = min([*walls, job.limits.least_wall_along.mm])
    return CouponSizes(
        max(min(strokes, default=cut_mm), cut_mm),
        max(wall_mm, LEAST_WALL_MM),
        None if job.seal.kind in ("none", "brush") else job.seal.border.mm,
        job.carving.depth.mm,
        max(2.0 * p.widest_radius_mm for p in flat_profiles(result)),
    )


def cut_width_mm(result: Result) -> float:
    """Return the narrowest stroke that the finest bit cuts to the least depth."""
    from img2pour.carve.profile import narrowest_width_mm

    least_mm = result.job.limits.least_depth.mm
    every = [profile for own in result.profiles.values() for profile in own]
    return min(narrowest_width_mm(profile, least_mm) for profile in every)


def coupon_of(result: Result) -> Coupon:
    """Return the coupon of a judged job."""
    return make_coupon(sizes_of(result))


def coupon_files(result: Result) -> dict[str, bytes]:
    """Return ``coupon.dxf`` and ``coupon.png`` by name."""
    coupon = coupon_of(result)
    units = result.job.shown_units
    settings = dxf_settings(result)
    corner = DxfSettings(settings.version, settings.units)
    return {
        corner.file_name("coupon"): coupon_dxf(coupon, corner),
        "coupon.png": coupon_png(coupon, units),
    }


def coupon_dxf(coupon: Coupon, settings: DxfSettings) -> bytes:
    """Return the drawing: a layer for each thing that is carved, its depth in the name."""
    pieces = [piece for trial in coupon.trials for piece in _pieces(trial)]
    wanted = list(dict.fromkeys((name, hex_code) for name, hex_code, _ in pieces))
    names = layer_names([name for name, _ in wanted])
    drawn = [board_layer(_board(coupon))]
    for (name, hex_code), layer in zip(wanted, names, strict=True):
        own = [shape for piece, _, shape in pieces if piece == name]
        outlines = [outline for shape in own for outline in shape_outlines(shape)]
        drawn.append(DxfLayer(layer, *layer_colour(hex_code), outlines))
    return drawing_dxf(drawn, settings)


def _pieces(trial: CouponTrial) -> list[Piece]:
    """Return what is carved for one trial; of a border the clear first, then the colour in it."""
    hex_code, depth = HEXES[trial.kind], f"{trial.depth_mm:.2f}MM".replace(".", "-")
    if trial.kind == "border":
        outer, inner = trial.pockets
        return [
            (f"BORDER_1_CLEAR_{depth}", CLEAR_HEX, outer),
            (f"BORDER_2_COLOUR_{depth}", hex_code, inner),
        ]
    return [(f"{trial.kind.upper()}_{depth}", hex_code, pocket) for pocket in trial.pockets]


def coupon_png(coupon: Coupon, units: Shown) -> bytes:
    """Return the picture: the offcut with each trial and its size below it."""
    board = _board(coupon)
    canvas = Canvas.of(board, PICTURE_PX)
    wood = np.array(rgb_from_hex(WOOD_TONE))
    ground, edges, words = wood, [], []
    for trial in coupon.trials:
        below = ground
        for _, hex_code, shape in _pieces(trial):
            fill = np.array(rgb_from_hex(hex_code))
            edges.append(shape_edges(shape, canvas.to_px, fill - below))
            below = fill if trial.kind == "border" else ground
        words += _words(trial, canvas, units)
    return png_bytes(letter(on_board(canvas, board, edges, wood), words))


def _words(trial: CouponTrial, canvas: Canvas, units: Shown) -> list[Words]:
    """Return what a trial tries and its size, two lines in the middle below it."""
    boxes = [pocket.bounds for pocket in trial.pockets]
    middle = (min(box[0] for box in boxes) + max(box[2] for box in boxes)) / 2.0
    x, y = canvas.point(middle, min(box[1] for box in boxes))
    texts = (trial.kind, format_length(trial.size_mm, units))
    return [
        Words(text, x - width_of(text, WORDS_PX) / 2.0, y + (0.8 + line) * WORDS_PX, WORDS_PX)
        for line, text in enumerate(texts)
    ]


def coupon_lines(coupon: Coupon, units: Shown) -> list[str]:
    """Return what is on the coupon, a line for each row, and how to use it."""
    width, height = (format_length(side, units) for side in coupon.frame.bounds[2:])
    lines = [f"Coupon {width} x {height}: carve it on an offcut, with the bits of the job"]
    for kind in dict.fromkeys(trial.kind for trial in coupon.trials):
        own = [trial for trial in coupon.trials if trial.kind == kind]
        sizes = ", ".join(format_length(trial.size_mm, units) for trial in own)
        lines.append(f"  {kind}: {sizes}")
    if any(trial.kind == "border" for trial in coupon.trials):
        lines.append("Pour the border's clear first; when it has cured, carve the colour into it")
    return lines


def _board(coupon: Coupon) -> Board:
    low_x, low_y, high_x, high_y = coupon.frame.bounds
    return Board(high_x - low_x, high_y - low_y)


def flat_profiles(result: Result) -> list[Profile]:
    """Return the bits that clear pockets: the flat ones, or all where none is flat."""
    every = [profile for own in result.profiles.values() for profile in own]
    return [profile for profile in every if profile.is_upright] or every
