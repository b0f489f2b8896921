"""Read a picture file into upright sRGB pixels.

The work in order: guards on the bytes, the header and its size, decoding, the colour profile,
transparency, orientation. Nothing is decoded before the guards have passed.
"""

import hashlib
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.errors import ImageError
from img2pour.imagefile import decode, open_header, upright_size
from img2pour.profile import to_srgb

Bytes = NDArray[np.uint8]
DEFAULT_MAX_MEGAPIXELS = 200.0
DEFAULT_MAX_MEGABYTES = 1500.0
# The longest side, so that pixel indices of the region map stay within 32 bits.
_LONGEST_SIDE_PX = 65_000
_SHORTEST_SIDE_PX = 2
# How far the artwork's colours are continued outside; windows of later steps are smaller.
_SPREAD_PX = 8


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture as the rest of img2pour sees it.

    Attributes
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        sRGB, upright, C-contiguous. Transparency is not multiplied in: a half transparent
        edge pixel keeps its own colour. Up to 8 px from the artwork, outside pixels continue
        the colours beside them, so that no foreign colour gets into windows along that edge.
    outside : ndarray of bool, shape (H, W), or None
        True where alpha is below half; None when no pixel is.
    dpi : float or None
        Dots per inch as the file says, when it says the same for both directions.
    sha256 : str
        Of the input bytes.
    notes : tuple of str
        What a person should know about the file, in plain words.
    by_camera : bool
        True once a later step has seen that a camera or scanner took it: its pixels then blend in
        linear light.
    """

    rgb: Bytes
    outside: NDArray[np.bool_] | None
    dpi: float | None
    sha256: str
    notes: tuple[str, ...] = ()
    by_camera: bool = False


def read_picture(
    source: Path | bytes,
    *,
    max_megapixels: float = DEFAULT_MAX_MEGAPIXELS,
    max_megabytes: float = DEFAULT_MAX_MEGABYTES,
) -> Picture:
    """Read JPEG, PNG, TIFF, WebP, BMP, GIF (first frame) or HEIC.

    Parameters
    ----------
    source : Path or bytes
        A file, or its contents.
    max_megapixels, max_megabytes : float
        Larger pictures and files are refused before any pixel is decoded.

    Returns
    -------
    Picture
        Upright sRGB pixels.

    Raises
    ------
    ImageError
        When the source is missing, too large, cut short, or no picture of these kinds.
    """
    name, data = _load_bytes(source, max_megabytes)
    header = open_header(data, name)
    _check_size(header.size, name, max_megapixels)
    decoded = decode(header, data, name)
    rgb, profile_notes = to_srgb(decoded.colours, decoded.icc_profile)
    rgb = _upright(rgb, decoded.orientation)
    outside = None if decoded.alpha is None else _outside(decoded.alpha, name)
    if outside is not None:
        outside = _upright(outside, decoded.orientation)
        rgb = _spread_into(rgb, outside)
    return Picture(
        rgb=np.ascontiguousarray(rgb),
        outside=None if outside is None else outside.view(np.bool_),
        dpi=decoded.dpi,
        sha256=hashlib.sha256(data).hexdigest(),
        notes=decoded.notes + profile_notes,
    )


def look_at_header(
    source: Path | bytes,
    *,
    max_megapixels: float = DEFAULT_MAX_MEGAPIXELS,
    max_megabytes: float = DEFAULT_MAX_MEGABYTES,
) -> tuple[int, int]:
    """Return width and height of the upright picture from its header; no pixel is decoded.

    Raises
    ------
    ImageError
        When :func:`read_picture` would refuse the file before it decodes it.
    """
    name, data = _load_bytes(source, max_megabytes)
    header = open_header(data, name)
    _check_size(header.size, name, max_megapixels)
    return upright_size(header)


def _load_bytes(source: Path | bytes, max_megabytes: float) -> tuple[str, bytes]:
    if isinstance(source, bytes):
        name, size = "the picture", len(source)
    else:
        name = source.name or str(source)
        size = _file_size(source, name)
    if size == 0:
        raise ImageError(f"{name} is empty (0 bytes); choose another file")
    if size > max_megabytes * 1e6:
        raise ImageError(
            f"{name} holds {size / 1e6:.0f} MB, more than the {max_megabytes:g} MB allowed; "
            "save it smaller or as JPEG or PNG"
        )
    if isinstance(source, bytes):
        return name, source
    try:
        return name, source.read_bytes()
    except OSError as error:
        raise ImageError(f"{name} cannot be read: {error.strerror or error}") from error


def _file_size(path: Path, name: str) -> int:
    try:
        status = path.stat()
    except FileNotFoundError:
        raise ImageError(f"{name} does not exist; check the path {str(path)!r}") from None
    except (OSError, ValueError) as error:
        raise ImageError(f"{name!r} cannot be read: {error}") from error
    if not path.is_file():
        raise ImageError(f"{name} is not a file; give the picture itself")
    return status.st_size


def _check_size(size: tuple[int, int], name: str, max_megapixels: float) -> None:
    width, height = size
    if width < _SHORTEST_SIDE_PX or height < _SHORTEST_SIDE_PX:
        raise ImageError(
            f"{name} is {width} x {height} px, too small to show anything; choose another file"
        )
    megapixels = width * height / 1e6
    if megapixels > max_megapixels:
        raise ImageError(
            f"{name} is {width} x {height} px ({megapixels:.3g} megapixels), more than the "
            f"{max_megapixels:g} allowed; make it smaller or raise the limit "
            "with --max-megapixels"
        )
    if max(width, height) > _LONGEST_SIDE_PX:
        raise ImageError(
            f"{name} is {width} x {height} px; no side may be longer than {_LONGEST_SIDE_PX} px"
        )


def _outside(alpha: Bytes, name: str) -> Bytes | None:
    """Return 1 where alpha is below half, else 0; None when it is nowhere."""
    outside = (alpha < 128).view(np.uint8)
    if outside.all():
        raise ImageError(f"{name} is transparent everywhere; there is nothing to trace")
    return outside if outside.any() else None


def _upright(pixels: Bytes, orientation: int) -> Bytes:
    """Turn stored pixels upright by the EXIF orientation 1..8."""
    if orientation >= 5:
        pixels = cv2.transpose(pixels).astype(np.uint8, copy=False)
    flip = {2: 1, 3: -1, 4: 0, 6: 1, 7: -1, 8: 0}.get(orientation)
    return pixels if flip is None else cv2.flip(pixels, flip).astype(np.uint8, copy=False)


def _spread_into(rgb: Bytes, outside: Bytes) -> Bytes:
    """Give outside pixels near the artwork the colour of the pixels beside them.

    Ring by ring, each pixel takes the mean of its neighbours in the ring before: what windows
    of a few pixels see past the edge is then the artwork's own colour.
    """
    rgb = rgb if rgb.flags.writeable else rgb.copy()
    height, width = outside.shape
    known = outside == 0
    window = np.ones((2 * _SPREAD_PX + 1,) * 2, dtype=np.uint8)
    rows, columns = np.nonzero(np.asarray(cv2.erode(outside, window)) < outside)
    steps = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
    for _ in range(_SPREAD_PX):
        total = np.zeros((len(rows), 3))
        count = np.zeros(len(rows))
        for down, right in steps:
            row, column = rows + down, columns + right
            near = (row >= 0) & (row < height) & (column >= 0) & (column < width)
            row, column = np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)
            near &= known[row, column]
            total += np.where(near[:, None], rgb[row, column], 0)
            count += near
        ready = count > 0
        rgb[rows[ready], columns[ready]] = np.rint(total[ready] / count[ready, None])
        known[rows[ready], columns[ready]] = True
        rows, columns = rows[~ready], columns[~ready]
    return rgb


def picture_from_array(rgb: NDArray[np.uint8], outside: NDArray[np.bool_] | None = None) -> Picture:
    """Make a Picture of pixels that are at hand already.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (H, W, 3)
        sRGB, upright.
    outside : ndarray of bool, shape (H, W), optional
        True for pixels that are no part of the artwork.

    Raises
    ------
    ImageError
        When the shapes or the type do not fit.
    """
    if rgb.dtype != np.uint8 or rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.size == 0:
        raise ImageError(f"pixels must be uint8 of shape (H, W, 3), not {rgb.dtype} {rgb.shape}")
    if outside is not None and outside.shape != rgb.shape[:2]:
        raise ImageError(f"outside must have the shape {rgb.shape[:2]}, not {outside.shape}")
    digest = hashlib.sha256(np.ascontiguousarray(rgb).data).hexdigest()
    return Picture(np.ascontiguousarray(rgb), outside, None, digest)
