"""The light step: from an unevenly lit sheet to one paper colour and flat drawn colours."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colours.drawn import flat_fill_share
from img2pour.errors import SettingsError
from img2pour.light.apply import LightMap, divided
from img2pour.light.detail import detailed_light
from img2pour.light.field import LightField, solve_field
from img2pour.light.paper import choose_paper
from img2pour.light.patches import (
    STROKE_PX,
    Patches,
    find_patches,
    patch_ranges,
    split_patches,
    trust_in,
    without_strokes,
)
from img2pour.light.shade import Shade, find_shade
from img2pour.light.srgb import channel_max
from img2pour.picture import Picture

REDUCED_PX = 800
# Linear light of paper in the result: sRGB 250, with some room above it for noise.
PAPER_LIGHT = 0.96
# Light that varies by less over the picture (natural log) is even: nothing is done. Light that
# varies by more within one patch is a lamp's, so that a hard shadow may be looked for.
_EVEN = 0.05
_UNEVEN = 0.03
_CAMERA_SPREAD = 0.2
# A drawing on paper is mostly flat: share of core pixels, and of them in its 24 main colours.
_MIN_CORE_SHARE = 0.45
_MIN_MAIN_SHARE = 0.9
_MAIN_COLOURS = 24
# A sheet with less than this of another colour and of dark strokes bears no drawing: a blurred
# photograph of anything looks like that.
_BARE_SHARE = 0.995
_LEAST_INK = 0.002
_INK_LEVELS = 25
# A pixel is of another colour than its patch from this change of hue on (natural log).
_OFF_HUE = 0.07
_SPLITS = 2
# A camera leaves no exact fills; a program that shades leaves some.
_MOST_FILL = 0.2
# How badly field and colours may fit (root mean square, natural log; share of pixels off by 10 %),
# and how far the light's hue may change over one sheet (two lamps and a window: a half).
_MOST_MISFIT = 0.075
_MOST_OFF = 0.13
_MOST_HUE = 0.6
# Paper of a photo that was exposed at all sends at least this share of white's light.
_LEAST_PAPER = 0.2


def even_light(picture: Picture, wish: str = "auto") -> tuple[Picture, tuple[str, ...]]:
    """Return the picture evenly lit and white-balanced by its paper, and notes on what was done.

    Light is divided out in linear light: a smooth field that all drawn colours agree on, and the
    edge of a hard shadow measured where it lies. Pale drawn colours keep their distance from the
    paper, since only steps of light are divided out.

    Parameters
    ----------
    picture : Picture
    wish : "auto" or "off"
        Auto returns the very same object when the picture is clean digital artwork, evenly lit
        already, or not a flat drawing.

    Raises
    ------
    SettingsError
        On an unknown wish.
    """
    if wish not in ("auto", "off"):
        raise SettingsError(f"light is '{wish}': use auto or off", name="light", value=wish)
    if wish == "off":
        return picture, ()
    if flat_fill_share(picture.rgb) > _MOST_FILL:
        return picture, ("light left alone: digital artwork",)
    small, ignore = _reduced(picture)
    patches = find_patches(small, ignore)
    if patches is None or patches.core.mean() < _MIN_CORE_SHARE:
        return picture, ("light left alone: the picture is not a flat drawing",)
    shade, field = _solved(patches)
    for _ in range(_SPLITS):
        parted = split_patches(patches, _off_hue(patches, field, shade))
        if parted is None:
            break
        patches = parted
        shade, field = _solved(patches)
    if _is_bare(small, field, patches):
        return picture, ("light left alone: nothing is drawn on the sheet",)
    if _main_share(patches, field) < _MIN_MAIN_SHARE or not _is_flat(patches, field, shade):
        return picture, ("light left alone: the picture is not a flat drawing on paper",)
    return _evened(picture, patches, field, shade)


def _solved(patches: Patches) -> tuple[Shade | None, LightField]:
    shade = find_shade(patches, uneven=float(patch_ranges(patches).max()) > _UNEVEN)
    return shade, solve_field(patches, shade)


def _misfit(patches: Patches, field: LightField, shade: Shade | None) -> NDArray[np.float32]:
    """Return the log of what each pixel has beyond light and drawn colour (H, W, 3)."""
    light = field.at((patches.core.shape[0], patches.core.shape[1]))
    left = patches.log_light - light - field.colours[field.group][patches.label]
    if shade is not None and field.step is not None:
        left = left - shade.covered[patches.label][..., None] * field.step
    return np.asarray(left, np.float32)


def _off_hue(patches: Patches, field: LightField, shade: Shade | None) -> NDArray[np.bool_]:
    """Return the pixels whose hue is not that of their patch: light changes hue slowly only."""
    left = cv2.GaussianBlur(_misfit(patches, field, shade), (0, 0), 1.5)
    mean = (left[..., 0] + left[..., 1] + left[..., 2]) / 3
    hue = channel_max(np.abs(left - mean[..., None]))
    trust = trust_in(-channel_max(-patches.log_light))
    return np.asarray((hue * trust > _OFF_HUE) & patches.core)


def _reduced(picture: Picture) -> tuple[NDArray[np.uint8], NDArray[np.bool_] | None]:
    height, width = picture.rgb.shape[:2]
    scale = max(1.0, max(height, width) / REDUCED_PX)
    size = (max(2, round(width / scale)), max(2, round(height / scale)))
    small = cv2.resize(picture.rgb, size, interpolation=cv2.INTER_AREA)
    if picture.outside is None:
        return np.asarray(small, np.uint8), None
    mask = cv2.resize(picture.outside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(small, np.uint8), np.asarray(mask) > 0


def _is_bare(small: NDArray[np.uint8], field: LightField, patches: Patches) -> bool:
    """Return whether one colour is all there is, without a stroke: any light would explain it."""
    areas = np.bincount(field.group, patches.areas.astype(np.float64))
    if areas.max() < _BARE_SHARE * areas.sum():
        return False
    ink = channel_max(cv2.subtract(without_strokes(small, STROKE_PX), small)) > _INK_LEVELS
    return bool(ink.mean() < _LEAST_INK)


def _main_share(patches: Patches, field: LightField) -> float:
    areas = np.bincount(field.group, patches.areas.astype(np.float64))
    return float(np.sort(areas)[-_MAIN_COLOURS:].sum() / patches.core.sum())


def _is_flat(patches: Patches, field: LightField, shade: Shade | None) -> bool:
    """Return whether one smooth light over a few flat colours explains the picture."""
    core, light = patches.core, field.at((patches.core.shape[0], patches.core.shape[1]))
    core = core & _every_third(core.shape)
    log_light, left = patches.log_light[core], _misfit(patches, field, shade)[core]
    trust = trust_in(np.asarray(log_light.max(axis=1), np.float64))
    off = np.abs(left).max(axis=1) * trust
    hue = light[core] - light[core].mean(axis=1, keepdims=True)
    low, high = np.percentile(hue, [2, 98], axis=0)
    paper = choose_paper(patches, field)
    if paper is None:
        return False
    bright = float(
        np.exp(np.median(log_light.max(axis=1)[(field.group == paper)[patches.label[core]]]))
    )
    return bool(
        np.sqrt(np.mean(off**2)) < _MOST_MISFIT
        and np.mean(off > 0.1) < _MOST_OFF
        and (high - low).max() < _MOST_HUE
        and bright > _LEAST_PAPER
    )


def _every_third(shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return a mask of every third pixel along rows and columns: enough for figures."""
    mask = np.zeros(shape, bool)
    mask[1::3, 1::3] = True
    return mask


def _evened(
    picture: Picture, patches: Patches, field: LightField, shade: Shade | None
) -> tuple[Picture, tuple[str, ...]]:
    light = detailed_light(patches, field, shade)
    spread = _spread(light, patches.core)
    if shade is None and spread < _EVEN:
        return picture, ("light left alone: it is even",)
    paper = choose_paper(patches, field)
    if paper is None:
        return picture, ("light left alone: no paper to go by",)
    shift = field.colours[paper] - np.log(PAPER_LIGHT)
    map_ = LightMap(
        (light + shift).astype(np.float32),
        (field.colours[field.group] - shift)[patches.label].astype(np.float32),
        field.step,
        shade.covered[patches.label] if shade is not None else None,
    )
    notes = (_what_was_done(spread, field, shade),)
    rgb = divided(picture.rgb, map_)
    # A scanner's lamp is even: shadows and strong falls of light are a camera's.
    by_camera = picture.by_camera or shade is not None or spread > _CAMERA_SPREAD
    return replace(picture, rgb=rgb, notes=(*picture.notes, *notes), by_camera=by_camera), notes


def _spread(light: NDArray[np.float32], core: NDArray[np.bool_]) -> float:
    """Return the range of the light over the picture, natural log, without its extreme 2 %."""
    low, high = np.percentile(light[core & _every_third(core.shape)].mean(axis=1), [1, 99])
    return float(high - low)


def _what_was_done(spread: float, field: LightField, shade: Shade | None) -> str:
    words = [f"light evened: it varied by {100 * (np.exp(spread) - 1):.0f} %"]
    if shade is not None and field.step is not None:
        left = 100 * float(np.exp(field.step.mean()))
        words.append(f"a hard shadow that left {left:.0f} % of the light was taken out")
    words.append("white balance from the paper")
    return "; ".join(words)
