"""Takes a photo of a drawing: table, light, shadows, cast, noise and JPEG, with the truth kept."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from tests.photos.camera import View, view_of_sheet
from tests.photos.drawings import Drawing

TABLES = ("wood", "cloth", "dark")
SHADOWS = ("none", "soft", "hard")
GRID_PX = 8


@dataclass(frozen=True)
class Scene:
    """What the photo suffers from."""

    table: str = "wood"
    shadow: str = "soft"
    tilt_deg: float = 15.0
    bulge: float = 0.0
    vignette: float = 0.3
    cast: tuple[float, float, float] = (1.0, 0.93, 0.8)
    noise: float = 0.006
    jpeg: int = 90


@dataclass(frozen=True, eq=False)
class Photo:
    """A photo (H, W, 3) uint8 sRGB, how it was seen, and the sheet's corners in it (4, 2)."""

    rgb: np.ndarray
    drawing: Drawing
    view: View
    scene: Scene
    corners_px: np.ndarray

    def photo_points(self, sheet_mm: np.ndarray) -> np.ndarray:
        return self.view.photo_points(sheet_mm)


def linear(srgb: np.ndarray) -> np.ndarray:
    """Return linear light of sRGB values 0..255 (IEC 61966-2-1)."""
    value = np.asarray(srgb, np.float64) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encoded(light: np.ndarray) -> np.ndarray:
    """Return sRGB 0..255 of linear light."""
    value = np.clip(light, 0, 1)
    return 255 * np.where(
        value <= 0.0031308, 12.92 * value, 1.055 * np.maximum(value, 1e-9) ** (1 / 2.4) - 0.055
    )


def take_photo(
    drawing: Drawing,
    scene: Scene,
    seed: int,
    size_px: tuple[int, int] = (1400, 1050),
    samples: int = 2,
) -> Photo:
    """Return the photo of `drawing` under `scene`; the same arguments give the same pixels."""
    rng = np.random.default_rng(seed)
    view = view_of_sheet(rng, drawing.size_mm, size_px, tilt_deg=scene.tilt_deg, bulge=scene.bulge)
    width, height = drawing.size_mm
    corners = view.photo_points(np.array([[0, 0], [width, 0], [width, height], [0, height]]))
    light = _table(scene.table, size_px, rng)
    _lay_sheet(light, drawing, view, samples)
    light *= _illumination(scene, size_px, rng)[..., None] ** _shadow_tint(scene, rng)
    light *= np.array(scene.cast, np.float32) * 0.8
    light = cv2.GaussianBlur(light, (0, 0), 0.6)
    light += rng.standard_normal(light.shape, np.float32) * (
        scene.noise * np.sqrt(np.maximum(light, 0) + 0.02)
    )
    steps = np.clip(light * 65535, 0, 65535).astype(np.uint16)
    rgb = np.round(encoded((np.arange(65536) + 0.5) / 65535)).astype(np.uint8)[steps]
    _, data = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, scene.jpeg])
    decoded = cv2.imdecode(data, cv2.IMREAD_COLOR)
    return Photo(np.ascontiguousarray(decoded[..., ::-1]), drawing, view, scene, corners)


def _lay_sheet(light: np.ndarray, drawing: Drawing, view: View, samples: int) -> None:
    """Paint the sheet over the table in place; each pixel is the mean of samples^2 points."""
    height, width = light.shape[:2]
    px_per_mm = samples * max(view.size_px) / max(drawing.size_mm)
    labels = drawing.label_image(px_per_mm)
    scale = np.array(labels.shape[::-1]) / np.array(drawing.size_mm)
    inks = (linear(np.array(drawing.colours)) * 0.88).astype(np.float32)
    table_label = len(inks)
    inks = np.vstack([inks, np.zeros((1, 3), np.float32)])
    for top in range(0, height, 64):
        rows = min(64, height - top)
        spots = _sheet_points(view, (top, rows), width, samples) * scale.astype(np.float32) - 0.5
        seen = cv2.remap(
            labels,
            np.asarray(spots, np.float32),
            None,
            cv2.INTER_NEAREST,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=table_label,
        )
        # Over whole blocks of samples this is their mean.
        layered = cv2.resize(inks[seen], (width, rows), interpolation=cv2.INTER_AREA)
        off = (seen == table_label).astype(np.float32)
        bare = cv2.resize(off, (width, rows), interpolation=cv2.INTER_AREA)
        light[top : top + rows] = layered + light[top : top + rows] * bare[..., None]


def _sheet_points(view: View, band: tuple[int, int], width: int, samples: int) -> np.ndarray:
    """Return where on the sheet (mm) the samples of a band of rows lie, float32.

    The map is smooth: it is exact every 8 px and drawn out linearly between them.
    """
    top, rows = band
    across, down = -(-width // GRID_PX) + 2, -(-rows // GRID_PX) + 2
    x = (np.arange(across) - 0.5) * GRID_PX
    y = (np.arange(down) - 0.5) * GRID_PX + top
    coarse = view.sheet_points(np.stack(np.meshgrid(x, y), axis=-1)).astype(np.float32)
    step = GRID_PX * samples
    fine = cv2.resize(coarse, (across * step, down * step), interpolation=cv2.INTER_LINEAR)
    return fine[step : step + rows * samples, step : step + width * samples]


def _waves(
    rng: np.random.Generator, shape: tuple[int, int], grain: tuple[float, float]
) -> np.ndarray:
    """Return smooth random texture of unit deviation; `grain` is its (x, y) size in pixels."""
    height, width = shape
    small = (max(2, int(width / grain[0])), max(2, int(height / grain[1])))
    field = rng.standard_normal((small[1], small[0]), np.float32)
    return cv2.resize(field, (width, height), interpolation=cv2.INTER_CUBIC)


def _table(kind: str, size_px: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    width, height = size_px
    unit = max(size_px) / 1400
    if kind == "wood":
        veins = _waves(rng, (height, width), (300 * unit, 7 * unit))
        fine = _waves(rng, (height, width), (60 * unit, 1.5 * unit))
        tone = np.exp(0.22 * veins + 0.1 * fine)
        base = np.array(linear(np.array([156, 110, 70])), np.float32)
    elif kind == "cloth":
        x = np.arange(width, dtype=np.float32)[None] / (3.1 * unit)
        y = np.arange(height, dtype=np.float32)[:, None] / (3.1 * unit)
        folds = _waves(rng, (height, width), (180 * unit, 220 * unit))
        tone = np.exp(0.12 * (np.sin(2 * x) + np.sin(2 * y)) + 0.15 * folds)
        base = np.array(linear(np.array([92, 112, 128])), np.float32)
    else:
        tone = np.exp(0.15 * _waves(rng, (height, width), (90 * unit, 90 * unit)))
        base = np.array(linear(np.array([46, 42, 40])), np.float32)
    return (tone[..., None] * base).astype(np.float32)


def _illumination(scene: Scene, size_px: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """Return the light that falls on each pixel, 0 to 1 (H, W)."""
    width, height = size_px
    x = (np.arange(width, dtype=np.float32)[None] + 0.5 - width / 2) / max(size_px)
    y = (np.arange(height, dtype=np.float32)[:, None] + 0.5 - height / 2) / max(size_px)
    field = 1 - scene.vignette * (x**2 + y**2) / 0.39
    slope = rng.uniform(-0.35, 0.35, 2)
    field = field * np.exp(slope[0] * x + slope[1] * y)
    if scene.shadow == "none":
        return field / field.max()
    turn = rng.uniform(0, 2 * np.pi)
    along = x * np.cos(turn) + y * np.sin(turn) - rng.uniform(-0.12, 0.2)
    across = -x * np.sin(turn) + y * np.cos(turn)
    along = along + rng.uniform(-0.25, 0.25) * across + rng.uniform(-0.5, 0.5) * across**2
    width_of_edge = (
        rng.uniform(0.05, 0.15) if scene.shadow == "soft" else rng.uniform(0.6, 2) / 1400
    )
    covered = 1 / (1 + np.exp(-np.clip(along / width_of_edge * 2, -30, 30)))
    depth = rng.uniform(0.35, 0.6)
    return (field / field.max()) * (1 - depth * covered)


def _shadow_tint(scene: Scene, rng: np.random.Generator) -> np.ndarray:
    """Return exponents a channel: shade is a little bluer than light."""
    tint = rng.uniform(0.0, 0.1) if scene.shadow != "none" else 0.0
    return np.array([1 + tint, 1.0, 1 - tint], np.float32)
