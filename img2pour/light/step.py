"""The light step: from an unevenly lit sheet to one paper colour and flat drawn colours."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.drawn import looks_drawn
from img2pour.errors import SettingsError
from img2pour.light.apply import LightMap, divided
from img2pour.light.detail import detailed_light
from img2pour.light.field import LightField, solve_field
from img2pour.light.paper import choose_paper
from img2pour.light.patches import Patches, find_patches, patch_ranges
from img2pour.light.shade import Shade, find_shade
from img2pour.picture import Picture

REDUCED_PX = 800
# Linear light of paper in the result: sRGB 250, with some room above it for noise.
PAPER_LIGHT = 0.96
# Light that varies by less over the picture (natural log) is even: nothing is done. Light that
# varies by more within one patch is a lamp's, so that a hard shadow may be looked for.
_EVEN = 0.05
_UNEVEN = 0.03
# A drawing on paper is mostly flat: share of core pixels, and of them in its 24 main colours.
_MIN_CORE_SHARE = 0.45
_MIN_MAIN_SHARE = 0.9
_MAIN_COLOURS = 24


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
    if looks_drawn(picture.rgb):
        return picture, ("light left alone: clean digital artwork",)
    small, ignore = _reduced(picture)
    patches = find_patches(small, ignore)
    if patches is None or patches.core.mean() < _MIN_CORE_SHARE:
        return picture, ("light left alone: the picture is not a flat drawing",)
    shade = find_shade(patches, uneven=float(patch_ranges(patches).max()) > _UNEVEN)
    field = solve_field(patches, shade)
    if _main_share(patches, field) < _MIN_MAIN_SHARE:
        return picture, ("light left alone: the picture has too many colours for a flat drawing",)
    return _evened(picture, patches, field, shade)


def _reduced(picture: Picture) -> tuple[NDArray[np.uint8], NDArray[np.bool_] | None]:
    height, width = picture.rgb.shape[:2]
    scale = max(1.0, max(height, width) / REDUCED_PX)
    size = (max(2, round(width / scale)), max(2, round(height / scale)))
    small = cv2.resize(picture.rgb, size, interpolation=cv2.INTER_AREA)
    if picture.outside is None:
        return np.asarray(small, np.uint8), None
    mask = cv2.resize(picture.outside.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(small, np.uint8), np.asarray(mask) > 0


def _main_share(patches: Patches, field: LightField) -> float:
    areas = np.bincount(field.group, patches.areas.astype(np.float64))
    return float(np.sort(areas)[-_MAIN_COLOURS:].sum() / patches.core.sum())


def _evened(
    picture: Picture, patches: Patches, field: LightField, shade: Shade | None
) -> tuple[Picture, tuple[str, ...]]:
    light = detailed_light(patches, field, shade)
    spread = _spread(light, patches.core)
    if shade is None and spread < _EVEN:
        return picture, ("light left alone: it is even",)
    paper = choose_paper(patches, field)
    # Without paper there is no white: the mean light is kept.
    level = field.colours[paper] if paper is not None else -light.mean(axis=(0, 1))
    shift = level - (np.log(PAPER_LIGHT) if paper is not None else 0.0)
    map_ = LightMap(
        (light + shift).astype(np.float32),
        (field.colours[field.group] - shift)[patches.label].astype(np.float32),
        field.step,
        shade.covered[patches.label] if shade is not None else None,
    )
    notes = (_what_was_done(spread, field, shade, found_paper=paper is not None),)
    rgb = divided(picture.rgb, map_)
    return replace(picture, rgb=rgb, notes=(*picture.notes, *notes)), notes


def _spread(light: NDArray[np.float32], core: NDArray[np.bool_]) -> float:
    """Return the range of the light over the picture, natural log, without its extreme 2 %."""
    low, high = np.percentile(light.mean(axis=2)[core], [1, 99])
    return float(high - low)


def _what_was_done(
    spread: float, field: LightField, shade: Shade | None, *, found_paper: bool
) -> str:
    words = [f"light evened: it varied by {100 * (np.exp(spread) - 1):.0f} %"]
    if shade is not None and field.step is not None:
        left = 100 * float(np.exp(field.step.mean()))
        words.append(f"a hard shadow that left {left:.0f} % of the light was taken out")
    words.append("white balance from the paper" if found_paper else "no paper: hue kept")
    return "; ".join(words)
