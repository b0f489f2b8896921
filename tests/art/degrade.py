"""What paper, lenses, sensors and JPEG do to a clean picture. Seeded."""

from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.art.raster import to_bytes

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]


def png(picture: Bytes) -> bytes:
    out = BytesIO()
    Image.fromarray(picture).save(out, "PNG", compress_level=1)
    return out.getvalue()


def jpeg(picture: Bytes, quality: int = 85, dpi: int | None = None) -> bytes:
    """Return a JPEG file, colours at half resolution as most programs write it."""
    out = BytesIO()
    tags = {} if dpi is None else {"dpi": (dpi, dpi)}
    Image.fromarray(picture).save(out, "JPEG", quality=quality, **tags)
    return out.getvalue()


def blurred(picture: Floats, sigma_px: float) -> Floats:
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma_px), np.float64)


def noised(picture: Floats, sigma: float, seed: int) -> Floats:
    noise = np.random.default_rng(seed).standard_normal(picture.shape, np.float32)
    return picture + sigma * noise


def paper(height: int, width: int, seed: int) -> Floats:
    """Return a factor per pixel: fibres of 1.5 and 6 px and slow clouds, about 1.3 % in all."""
    rng = np.random.default_rng(seed)
    total = np.zeros((height, width))
    for grain_px, weight in ((1.5, 0.008), (6.0, 0.006), (60.0, 0.008)):
        small = max(2, round(height / grain_px)), max(2, round(width / grain_px))
        coarse = rng.standard_normal(small, np.float32)
        total += weight * cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    return 1 + total


def scan_pixels(picture: Floats, seed: int) -> Bytes:
    """Return the pixels of a scan before they are compressed: paper, blur 0.7 px, noise 2.5."""
    on_paper = picture * paper(*picture.shape[:2], seed)[:, :, None]
    return to_bytes(noised(blurred(on_paper, 0.7), 2.5, seed + 1))


def scan(picture: Floats, seed: int) -> bytes:
    """Return a scan as a JPEG of quality 85."""
    return jpeg(scan_pixels(picture, seed))


def noisy(picture: Floats, seed: int) -> bytes:
    """Return blur 1 px, noise 4 and JPEG 85."""
    return jpeg(to_bytes(noised(blurred(picture, 1.0), 4.0, seed)))


def clean(picture: Floats, seed: int = 0) -> bytes:
    """Return the picture as it is, as a PNG."""
    return png(to_bytes(picture))


STATES = {"clean": clean, "scan": scan, "noisy": noisy}
