"""A first look at half size: the regions of the halved artwork, in the colours of the whole one.

The steps stand beside those of :mod:`img2pour.table` and share their results: what comes before
the labels is done once, and the palette is the very one of the full result.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from img2pour.artwork import labels_of, traced_pixels
from img2pour.colours.wood import choose_wood, edge_share
from img2pour.design import DesignColour, settle_colours
from img2pour.errors import SettingsError
from img2pour.picture import Picture
from img2pour.plane.placement import Placement, picture_placement, place
from img2pour.plane.regionmap import RegionMap
from img2pour.plane.trace import trace
from img2pour.steps import Step, Workbench, as_table
from img2pour.table import STEPS
from img2pour.touching_up import touch_up

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from img2pour.job.model import Job
    from img2pour.job.touch_section import Touch
    from img2pour.palette import Palette
    from img2pour.plane.trace import Traced
    from img2pour.sketch import LineDrawing
    from img2pour.tones import Posterised

WORTH_PIXELS = 2_000_000
"""Smaller artwork is traced whole before a person would see the half."""

TWICE = Placement(np.diag([2.0, 2.0, 1.0]))


@dataclass(frozen=True, eq=False)
class Halved:
    """The artwork at half size; a last odd row or column is left out."""

    picture: Picture
    drawing: LineDrawing | None
    tones: Posterised | None


@dataclass(frozen=True, eq=False)
class Preview:
    """Regions to look at before the board, the bits and the rules are asked.

    Attributes
    ----------
    region_map : RegionMap
        On the board, in mm and y up; in pixels of the artwork, y up, while no size is known.
    colours : tuple of DesignColour
    width, height : float
        Of the board, or of the artwork in pixels.
    mm_per_px : float or None
        None while no size is known.
    is_half : bool
    palette : Palette
        The picture's, whole or half.
    notes : tuple of str
    """

    region_map: RegionMap
    colours: tuple[DesignColour, ...]
    width: float
    height: float
    mm_per_px: float | None
    is_half: bool
    palette: Palette
    notes: tuple[str, ...]


def _half(
    bench: Workbench, artwork: Picture, drawing: LineDrawing | None, tones: Posterised | None
) -> Halved:
    height, width = (side // 2 * 2 for side in artwork.rgb.shape[:2])
    even = artwork.rgb[:height, :width]
    rgb = cv2.resize(even, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    outside = None if artwork.outside is None else artwork.outside[:height:2, :width:2].copy()
    picture = replace(artwork, rgb=np.asarray(rgb, np.uint8), outside=outside)
    return Halved(
        picture,
        drawing and replace(drawing, labels=drawing.labels[:height:2, :width:2].copy()),
        tones and replace(tones, labels=tones.labels[:height:2, :width:2].copy()),
    )


def _half_labels(bench: Workbench, half: Halved, palette: Palette) -> NDArray[np.uint8]:
    return labels_of(half.picture, halved_blur(palette), half.drawing, half.tones)


def _half_rim(bench: Workbench, labels: NDArray[np.uint8], palette: Palette) -> NDArray[np.float64]:
    return edge_share(labels, len(palette.colours))


def _half_trace(
    bench: Workbench, half: Halved, labels: NDArray[np.uint8], palette: Palette
) -> Traced:
    is_made = half.drawing is not None or half.tones is not None
    seen = halved_blur(palette)
    return trace(
        traced_pixels(half.picture, labels, seen, is_made),
        labels,
        seen.rgb,
        blur_px=seen.blur_px,
        linear_light=seen.look.linear_light,
    )


def halved_blur(palette: Palette) -> Palette:
    """Return the palette with the blur of a picture of half the size."""
    look = replace(palette.look, blur_px=palette.look.blur_px / 2)
    return replace(palette, blur_px=palette.blur_px / 2, look=look)


PREVIEW_STEPS: Mapping[str, Step] = as_table(
    [
        *STEPS.values(),
        Step("half", _half, ("light", "drawing", "tones"), (), 0),
        Step("half labels", _half_labels, ("half", "colours"), (), 1),
        Step("half rim", _half_rim, ("half labels", "colours"), (), 0),
        Step("half trace", _half_trace, ("half", "half labels", "colours"), (), 2),
    ]
)


def is_half_worth_it(bench: Workbench) -> bool:
    """Tell whether a half-size preview is sooner to see than the whole."""
    facts = bench.get("facts")
    return facts.width_px * facts.height_px >= WORTH_PIXELS and not bench.has("trace")


def preview_of(bench: Workbench, half: bool) -> Preview:
    """Return the preview of a workbench over `PREVIEW_STEPS`, from the half or the whole artwork.

    Raises
    ------
    SettingsError
        When a touch-up, a role or the wood names a colour that the picture does not have.
    """
    palette: Palette = bench.get("colours")
    facts, geometry = bench.get("facts"), bench.get("geometry")
    traced: Traced = bench.get("half trace" if half else "trace")
    region_map = place(traced.region_map, TWICE) if half else traced.region_map
    wood, note = _wood(bench.get("half rim" if half else "rim shares"), palette, bench.job)
    sizing = bench.get("size") if bench.job.has_size else None
    scale = None if sizing is None else sizing.placement.scale
    touches = _known_size(bench.job.touch, scale)
    touched = touch_up(region_map, touches, palette, geometry, scale or 1.0)
    on_board = sizing.placement if sizing else picture_placement(facts.height_px, 1.0)
    return Preview(
        place(touched.region_map, on_board),
        settle_colours(palette, wood, bench.job),
        sizing.width_mm if sizing else facts.width_px,
        sizing.height_mm if sizing else facts.height_px,
        scale,
        half,
        palette,
        tuple(words for words in (*facts.notes, *palette.notes, note, *touched.notes) if words),
    )


def _wood(shares: NDArray[np.float64], palette: Palette, job: Job) -> tuple[int | None, str]:
    """Return the colour of the wood and why; none yet where a person has to tell it."""
    try:
        return choose_wood(shares, palette, job.colours.wood)
    except SettingsError as why:
        return None, str(why)


def _known_size(touches: Sequence[Touch], scale: float | None) -> tuple[Touch, ...]:
    """Return the touch-ups that can be done now: those by size wait until one is known."""
    return tuple(touch for touch in touches if scale is not None or touch.below is None)
