"""Colour arithmetic: sRGB, OKLab, CIELAB, CIEDE2000 and hex codes.

Sources of the formulas: IEC 61966-2-1:1999 (sRGB), Ottosson 2020 (OKLab), ISO/CIE 11664-4
(CIELAB, D65, 2 degrees), Sharma, Wu and Dalal, Color Res. Appl. 30(1), 2005 (CIEDE2000).
"""

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from img2pour.errors import SettingsError

Floats = NDArray[np.float64]

_SRGB_TO_XYZ = np.array(
    [
        [0.41239079926595934, 0.357584339383878, 0.1804807884018343],
        [0.21263900587151027, 0.715168678767756, 0.07219231536073371],
        [0.01933081871559182, 0.11919477979462598, 0.9505321522496607],
    ]
)
_D65 = _SRGB_TO_XYZ.sum(axis=1)
_LINEAR_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_CONES_TO_OKLAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_HEX = re.compile(r"#?([0-9a-fA-F]{3}|[0-9a-fA-F]{6})")


def linear_from_srgb(rgb: ArrayLike) -> Floats:
    """Decode sRGB values of 0..255 to linear light of 0..1.

    Parameters
    ----------
    rgb : array_like
        Encoded values, any shape.

    Returns
    -------
    ndarray of float64
        The same shape.
    """
    encoded = np.asarray(rgb, dtype=np.float64) / 255.0
    above = ((np.maximum(encoded, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, encoded / 12.92, above)


def srgb_from_linear(linear: ArrayLike) -> Floats:
    """Encode linear light of 0..1 as sRGB values of 0..255 (not rounded)."""
    light = np.asarray(linear, dtype=np.float64)
    above = 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055
    return 255.0 * np.where(light <= 0.0031308, light * 12.92, above)


def oklab_from_srgb(rgb: ArrayLike) -> Floats:
    """Turn sRGB values of 0..255, shape (..., 3), into OKLab (lightness 0..1)."""
    cones = linear_from_srgb(rgb) @ _LINEAR_TO_CONES.T
    oklab: Floats = np.cbrt(cones) @ _CONES_TO_OKLAB.T
    return oklab


def lab_from_srgb(rgb: ArrayLike) -> Floats:
    """Turn sRGB values of 0..255, shape (..., 3), into CIELAB under D65."""
    ratio = linear_from_srgb(rgb) @ _SRGB_TO_XYZ.T / _D65
    break_point = (6 / 29) ** 3
    curved = np.where(ratio > break_point, np.cbrt(ratio), ratio * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = np.moveaxis(curved, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def ciede2000(lab_1: ArrayLike, lab_2: ArrayLike) -> Floats:
    """Return the CIEDE2000 difference between CIELAB colours.

    Parameters
    ----------
    lab_1, lab_2 : array_like, shape (..., 3)
        Colours that broadcast against each other.

    Returns
    -------
    ndarray of float64, shape (...)
        Differences with all weights at 1. About 2 is just visible side by side.
    """
    first, second = np.broadcast_arrays(
        np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64)
    )
    l_1, chroma_1, hue_1, l_2, chroma_2, hue_2 = _adjusted_polar(first, second)
    l_mean, chroma_mean = (l_1 + l_2) / 2, (chroma_1 + chroma_2) / 2
    grey = chroma_1 * chroma_2 == 0
    turn = _signed_turn(hue_2 - hue_1)
    turn = np.where(grey, 0.0, turn)
    hue_mean = np.where(grey, hue_1 + hue_2, _mean_hue(hue_1, hue_2))

    lightness = (l_2 - l_1) / _lightness_weight(l_mean)
    chroma = (chroma_2 - chroma_1) / (1 + 0.045 * chroma_mean)
    hue_weight = 1 + 0.015 * chroma_mean * _hue_shape(hue_mean)
    hue = 2 * np.sqrt(chroma_1 * chroma_2) * np.sin(np.radians(turn) / 2) / hue_weight
    rotation = _rotation(chroma_mean, hue_mean)
    squared = lightness**2 + chroma**2 + hue**2 + rotation * chroma * hue
    return np.sqrt(np.maximum(squared, 0.0))


def _adjusted_polar(first: Floats, second: Floats) -> tuple[Floats, ...]:
    """Return L, adjusted chroma and hue (degrees) of both colours, in that order."""
    chroma_mean = (np.hypot(first[..., 1], first[..., 2]) + np.hypot(*_ab(second))) / 2
    seventh = chroma_mean**7
    stretch = 1.5 - 0.5 * np.sqrt(seventh / (seventh + 25.0**7))
    polar: list[Floats] = []
    for lab in (first, second):
        a, b = lab[..., 1] * stretch, lab[..., 2]
        polar += [lab[..., 0], np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360]
    return tuple(polar)


def _ab(lab: Floats) -> tuple[Floats, Floats]:
    return lab[..., 1], lab[..., 2]


def _signed_turn(difference: Floats) -> Floats:
    return np.where(
        difference > 180,
        difference - 360,
        np.where(difference < -180, difference + 360, difference),
    )


def _mean_hue(hue_1: Floats, hue_2: Floats) -> Floats:
    total = hue_1 + hue_2
    across = np.where(total < 360, total + 360, total - 360)
    return np.where(np.abs(hue_1 - hue_2) <= 180, total, across) / 2


def _lightness_weight(l_mean: Floats) -> Floats:
    square = (l_mean - 50) ** 2
    return 1 + 0.015 * square / np.sqrt(20 + square)


def _hue_shape(hue: Floats) -> Floats:
    return (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )


def _rotation(chroma: Floats, hue: Floats) -> Floats:
    angle = 30 * np.exp(-(((hue - 275) / 25) ** 2))
    seventh = chroma**7
    reach = np.sqrt(seventh / (seventh + 25.0**7))
    return np.asarray(-2 * reach * np.sin(np.radians(2 * angle)))


def srgb_difference(rgb_1: ArrayLike, rgb_2: ArrayLike) -> Floats:
    """Return the CIEDE2000 difference between sRGB colours of 0..255."""
    return ciede2000(lab_from_srgb(rgb_1), lab_from_srgb(rgb_2))


def hex_from_rgb(rgb: ArrayLike) -> str:
    """Write an sRGB colour of 0..255 as ``#rrggbb``."""
    red, green, blue = np.clip(np.rint(np.asarray(rgb, dtype=np.float64)), 0, 255).astype(int)
    return f"#{red:02x}{green:02x}{blue:02x}"


def rgb_from_hex(text: str) -> tuple[float, float, float]:
    """Read ``#rrggbb``, ``#rgb`` or the same without the mark.

    Raises
    ------
    SettingsError
        When the text is no such code.
    """
    match = _HEX.fullmatch(text.strip())
    if match is None:
        raise SettingsError(
            f"{text!r} is no colour code; write six hexadecimal digits such as #0b1f3a",
            name="colours",
            value=text,
        )
    digits = match.group(1)
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    red, green, blue = (float(int(digits[at : at + 2], 16)) for at in (0, 2, 4))
    return red, green, blue
