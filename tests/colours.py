"""CIELAB and CIEDE2000, written for the checks from the published formulas."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# IEC 61966-2-1, linear sRGB to XYZ, D65.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = np.array([0.9505, 1.0, 1.0890])


def lab(srgb: Floats) -> Floats:
    """Return CIELAB (D65, 2 degrees) of sRGB 0..255, (..., 3)."""
    share = np.asarray(srgb, float) / 255
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    ratio = light @ TO_XYZ.T / WHITE
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1
    )


def ciede2000(first: Floats, second: Floats) -> Floats:
    """Return the CIEDE2000 difference of CIELAB colours, (...,) (ISO/CIE 11664-6)."""
    l1, a1, b1 = np.moveaxis(np.asarray(first, float), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(second, float), -1, 0)
    mean_c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1 + 0.5 * (1 - np.sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1 = np.degrees(np.arctan2(b1, stretch * a1)) % 360
    h2 = np.degrees(np.arctan2(b2, stretch * a2)) % 360
    grey = c1 * c2 == 0
    turn = np.where(grey, 0, (h2 - h1 + 180) % 360 - 180)
    # A difference of exactly 180 degrees keeps its sign, as in the formula.
    turn = np.where(~grey & (h2 - h1 == 180), 180, turn)
    far = np.abs(h1 - h2) > 180
    mean_h = np.where(
        grey, h1 + h2, (h1 + h2) / 2 + np.where(far, np.where(h1 + h2 < 360, 180, -180), 0)
    )
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    mean_l, mean_c = (l1 + l2) / 2, (c1 + c2) / 2
    cosine = [
        np.cos(np.radians(k * mean_h - shift)) for k, shift in ((1, 30), (2, 0), (3, -6), (4, 63))
    ]
    t = 1 - 0.17 * cosine[0] + 0.24 * cosine[1] + 0.32 * cosine[2] - 0.20 * cosine[3]
    s_l = 1 + 0.015 * (mean_l - 50) ** 2 / np.sqrt(20 + (mean_l - 50) ** 2)
    s_c, s_h = 1 + 0.045 * mean_c, 1 + 0.015 * mean_c * t
    swing = 2 * np.sqrt(mean_c**7 / (mean_c**7 + 25.0**7))
    turned = -swing * np.sin(np.radians(60 * np.exp(-(((mean_h - 275) / 25) ** 2))))
    parts = (dl / s_l) ** 2 + (dc / s_c) ** 2 + (dh / s_h) ** 2
    difference: Floats = np.sqrt(parts + turned * (dc / s_c) * (dh / s_h))
    return difference


def palette_errors(found: Floats, true: Floats) -> Floats:
    """Return, for each true colour, the CIEDE2000 difference to the nearest found colour."""
    nearest: Floats = ciede2000(lab(true)[:, None], lab(found)[None]).min(axis=1)
    return nearest
