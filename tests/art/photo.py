"""A photo of a sheet lying on a wooden table: perspective, uneven light, blur and noise. Seeded."""

from itertools import pairwise
from math import cos, radians, sin

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SIZE = (1600, 1200)
SHEET_MM = (297.0, 210.0)
FINER = 2


def photograph(sheet: NDArray[np.uint8], px_per_mm: float, seed: int) -> Floats:
    """Return the photo, (1200, 1600, 3), 0..255, of a sheet drawn at `px_per_mm`."""
    view = camera()
    size = (SIZE[0] * FINER, SIZE[1] * FINER)
    finer = np.diag([FINER, FINER, 1.0])
    table, table_px_per_mm = planks(seed), 3.0
    to_table = np.array([[1 / table_px_per_mm, 0, -150], [0, 1 / table_px_per_mm, -200], [0, 0, 1]])
    to_sheet = np.diag([1 / px_per_mm, 1 / px_per_mm, 1.0])
    scene = cv2.warpPerspective(
        table, finer @ view @ to_table, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )
    on_sheet = finer @ view @ _lying() @ to_sheet
    paper = cv2.warpPerspective(_light(sheet), on_sheet, size, flags=cv2.INTER_AREA)
    ones = np.ones(sheet.shape[:2], np.float64)
    mask = cv2.warpPerspective(ones, on_sheet, size, flags=cv2.INTER_LINEAR)
    scene = scene * _shadow(mask)[:, :, None]
    scene += mask[:, :, None] * (paper - scene)
    scene *= _lamp(size)[:, :, None] * np.array([1.03, 1.0, 0.93])
    small = cv2.resize(cv2.GaussianBlur(scene, (0, 0), 1.5), SIZE, interpolation=cv2.INTER_AREA)
    noise = np.random.default_rng(seed).standard_normal((*SIZE[::-1], 3))
    return _srgb(small) + 2.2 * noise


def camera() -> Floats:
    """Return the 3x3 from millimetres on the table (x right, y down) to pixels of the photo."""
    focal_px, distance_mm, tilt = 1720.0, 435.0, radians(24)
    across = np.array([1.0, 0, 0])
    down = np.array([0.0, cos(tilt), -sin(tilt)])
    start = np.array([-148.0, -97 * cos(tilt), distance_mm + 97 * sin(tilt)])
    lens = np.array([[focal_px, 0, SIZE[0] / 2], [0, focal_px, SIZE[1] / 2 - 25], [0, 0, 1]])
    view: Floats = lens @ np.column_stack([across, down, start])
    return view


def _lying() -> Floats:
    """Return the sheet's place on the table: turned by 4 degrees about its middle."""
    c, s = cos(radians(-4)), sin(radians(-4))
    mx, my = SHEET_MM[0] / 2, SHEET_MM[1] / 2
    return np.array([[c, -s, mx - c * mx + s * my], [s, c, my - s * mx - c * my], [0, 0, 1]])


def corners_px() -> Floats:
    """Return the sheet's true corners in the photo, (4, 2), from the upper left clockwise."""
    w, h = SHEET_MM
    corners = np.array([[0, 0, 1], [w, 0, 1], [w, h, 1], [0, h, 1.0]]) @ (camera() @ _lying()).T
    flat: Floats = corners[:, :2] / corners[:, 2:]
    return flat


def planks(seed: int) -> Floats:
    """Return a table top, 600 x 650 mm at 3 px a millimetre, in linear light."""
    rng = np.random.default_rng(seed)
    height, width = 1950, 1800
    wood = np.empty((height, width, 3))
    edges = [0, 330, 690, 1040, 1390, 1720, height]
    for top, bottom in pairwise(edges):
        wood[top:bottom] = _plank(bottom - top, width, rng)
        wood[top : top + 4] *= 0.35
        wood[top + 4 : top + 7] *= 0.75
    return wood


def _plank(height: int, width: int, rng: np.random.Generator) -> Floats:
    tone = _light(np.array([[[142, 98, 62]]], np.uint8))[0, 0] * rng.uniform(0.75, 1.15)
    rows = np.arange(height)[:, None] + 14 * _clouds((height, width), (90, 500), rng)
    rings = np.sin(rows / 11 + 5 * _clouds((height, width), (60, 900), rng))
    fibres = _clouds((height, width), (1.5, 60), rng) + 0.6 * _clouds(
        (height, width), (4, 220), rng
    )
    figure = 1 + 0.10 * rings + 0.09 * fibres + 0.10 * _clouds((height, width), (120, 700), rng)
    plank: Floats = tone * np.clip(figure, 0.4, 1.6)[:, :, None] ** np.array([1.0, 1.25, 1.5])
    return plank


def _clouds(size: tuple[int, int], grain: tuple[float, float], rng: np.random.Generator) -> Floats:
    """Return smooth noise of unit spread whose grains are so many pixels high and wide."""
    coarse = rng.standard_normal([max(2, round(n / g)) for n, g in zip(size, grain, strict=True)])
    return cv2.resize(coarse, size[::-1], interpolation=cv2.INTER_CUBIC)


def _shadow(mask: Floats) -> Floats:
    """Return the darkening that the sheet casts on the table, to the lower right."""
    near = cv2.GaussianBlur(np.roll(mask, (10, 8), (0, 1)), (0, 0), 9)
    wide = cv2.GaussianBlur(np.roll(mask, (22, 20), (0, 1)), (0, 0), 30)
    darkening: Floats = (1 - 0.5 * near) * (1 - 0.25 * wide)
    return darkening


def _lamp(size: tuple[int, int]) -> Floats:
    """Return uneven light: a lamp at the upper left, and the lens darker at its corners."""
    x = np.linspace(-1, 1, size[0])[None, :]
    y = np.linspace(-0.75, 0.75, size[1])[:, None]
    lamp = 0.66 + 0.36 * np.exp(-((x + 0.55) ** 2 + (y + 0.5) ** 2) / 1.3)
    corners = 1 - 0.16 * (x**2 + y**2)
    light: Floats = lamp * corners * 0.98
    return light


def _light(srgb: NDArray[np.uint8]) -> Floats:
    share = srgb.astype(np.float64) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def _srgb(light: Floats) -> Floats:
    light = np.clip(light, 0, 1)
    return 255 * np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
