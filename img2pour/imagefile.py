"""Picture files: which format, what the header says, and the pixels.

The formats are tried one by one by their first bytes, through the reader of each, so that the
limits on size are img2pour's own. JPEG and PNG of the plain kinds go through OpenCV, which
decodes into the array itself: half the time and half the memory.
"""

import struct
import warnings
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import (
    BmpImagePlugin,
    GifImagePlugin,
    Image,
    ImageFile,
    JpegImagePlugin,
    PngImagePlugin,
    TiffImagePlugin,
    WebPImagePlugin,
)

from img2pour.errors import ImageError

Bytes = NDArray[np.uint8]
Reader = Callable[[BytesIO, str], ImageFile.ImageFile]

FORMATS = "JPEG, PNG, TIFF, WebP, BMP, GIF or HEIC"
_HEIC_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
_READERS: tuple[tuple[str, tuple[bytes, ...], Reader], ...] = (
    ("JPEG", (b"\xff\xd8\xff",), JpegImagePlugin.JpegImageFile),
    ("PNG", (b"\x89PNG\r\n\x1a\n",), PngImagePlugin.PngImageFile),
    (
        "TIFF",
        (b"II\x2a\x00", b"MM\x00\x2a", b"II\x2b\x00", b"MM\x00\x2b"),
        TiffImagePlugin.TiffImageFile,
    ),
    ("BMP", (b"BM",), BmpImagePlugin.BmpImageFile),
    ("GIF", (b"GIF87a", b"GIF89a"), GifImagePlugin.GifImageFile),
)
# What the decoders raise on files that are cut short or damaged.
_DAMAGE = (
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    IndexError,
    KeyError,
    TypeError,
    OverflowError,
    ZeroDivisionError,
    AttributeError,
    RuntimeError,
    struct.error,
    Image.DecompressionBombError,
)
_END_OF_JPEG = b"\xff\xd9"
_PNG_MARKS = (b"eXIf", b"Raw profile type", b"XML:com.adobe.xmp")
_PNG_DEPTH_AT = 24
_PIXEL_CHUNKS = (b"IHDR", b"PLTE", b"IDAT", b"IEND")
_ORIENTATION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 274, 282, 283, 296


@dataclass(frozen=True, eq=False)
class Decoded:
    """The first picture of a file as it is stored.

    Attributes
    ----------
    colours : ndarray of uint8, shape (H, W, 3), or Pillow image
        RGB in the file's own colour space; a Pillow image when that space is not RGB.
    alpha : ndarray of uint8, shape (H, W), or None
        Opacity, 255 opaque; None when all is opaque.
    orientation : int
        EXIF orientation of the stored pixels, 1..8.
    dpi : float or None
        Dots per inch, when the file states the same ones in both directions.
    icc_profile : bytes or None
        The embedded profile.
    notes : tuple of str
        What was left out.
    """

    colours: Image.Image | Bytes
    alpha: Bytes | None
    orientation: int
    dpi: float | None
    icc_profile: bytes | None
    notes: tuple[str, ...]


def open_header(data: bytes, name: str) -> ImageFile.ImageFile:
    """Read the header only.

    Raises
    ------
    ImageError
        When the bytes are no picture of a known format, or its header is damaged.
    """
    reader = _reader_for(data, name)
    try:
        with _quiet():
            return reader(BytesIO(data), "")
    except _DAMAGE as error:
        raise _damaged(name) from error


def _reader_for(data: bytes, name: str) -> Reader:
    for _, starts, reader in _READERS:
        if data.startswith(starts):
            return reader
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return WebPImagePlugin.WebPImageFile
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        return _heic_reader(name)
    raise ImageError(f"{name} is no picture that img2pour reads; save it as {FORMATS}")


def _heic_reader(name: str) -> Reader:
    try:
        from pillow_heif import HeifImageFile
    except ImportError:
        raise ImageError(
            f"{name} is a HEIC picture; install the extra that reads it: "
            "pip install 'img2pour[heic]'"
        ) from None
    reader: Reader = HeifImageFile
    return reader


def _damaged(name: str) -> ImageError:
    return ImageError(f"{name} is damaged or cut short; copy or save the picture again")


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep Pillow's warnings about odd tags away from people; real damage raises."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def _may_be_turned(header: ImageFile.ImageFile, data: bytes) -> bool:
    """Return whether a file may state an orientation.

    Pillow decodes a whole PNG to look for it, as it may stand behind the pixels.
    """
    return header.format != "PNG" or any(mark in data for mark in _PNG_MARKS)


def upright_size(header: ImageFile.ImageFile) -> tuple[int, int]:
    """Return width and height of the upright picture, of a PNG as stored.

    Its turn may stand behind its pixels, which are not looked at; the size of a TIFF is told
    upright already.
    """
    width, height = header.size
    is_turned = header.format in {"JPEG", "MPO", "WEBP"} and _orientation(header) >= 5
    return (height, width) if is_turned else (width, height)


def _orientation(header: ImageFile.ImageFile) -> int:
    """Return the EXIF orientation, 1..8; 1 when there is none or it is damaged."""
    try:
        value = int(header.getexif().get(_ORIENTATION, 1))
    except _DAMAGE:
        return 1
    return value if 1 <= value <= 8 else 1


def _dpi(header: ImageFile.ImageFile) -> float | None:
    """Return the dots per inch, when the file states the same ones in both directions.

    JFIF densities without a unit are a shape of pixel, no resolution, and are left out.
    """
    pair = _exif_dpi(header) if header.format == "JPEG" else header.info.get("dpi")
    if header.format == "JPEG" and header.info.get("jfif_unit") in (1, 2):
        pair = header.info.get("dpi")
    try:
        across, down = (float(value) for value in pair or ())
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    # A density of 0 or 1 is a filler that some programs write, never a resolution.
    if not 1 < across < 1e5 or abs(across - down) > 0.005 * across:
        return None
    return (across + down) / 2


def _exif_dpi(header: ImageFile.ImageFile) -> tuple[float, float] | None:
    try:
        exif = header.getexif()
        factor = {2: 1.0, 3: 2.54}[int(exif.get(_RESOLUTION_UNIT, 2))]
        return float(exif[_X_RESOLUTION]) * factor, float(exif[_Y_RESOLUTION]) * factor
    except _DAMAGE:
        return None


def decode(header: ImageFile.ImageFile, data: bytes, name: str) -> Decoded:
    """Decode the first picture of the file.

    Raises
    ------
    ImageError
        When the pixels are damaged, cut short or of a kind that is not supported.
    """
    try:
        with _quiet():
            notes = _frame_notes(header)
            dpi = _dpi(header)
            icc_profile = header.info.get("icc_profile")
            colours, alpha = _pixels(header, data, name)
            # Pillow turns some formats itself while loading, and drops the tag then.
            orientation = _orientation(header) if _may_be_turned(header, data) else 1
    except ImageError:
        raise
    except (*_DAMAGE, cv2.error) as error:
        raise _damaged(name) from error
    return Decoded(colours, alpha, orientation, dpi, icc_profile, notes)


def _pixels(
    header: ImageFile.ImageFile, data: bytes, name: str
) -> tuple[Image.Image | Bytes, Bytes | None]:
    fast = _decode_fast(header, data, name)
    if fast is None:
        header.load()
        return _split(header, name)
    if fast.shape[2] == 3:
        return fast, None
    alpha = _bytes(cv2.extractChannel(fast, 3))
    return _bytes(cv2.cvtColor(fast, cv2.COLOR_BGRA2RGB)), _unless_opaque(alpha)


def _frame_notes(header: ImageFile.ImageFile) -> tuple[str, ...]:
    frames = int(getattr(header, "n_frames", 1))
    if frames == 1:
        return ()
    return (f"The file holds {frames} pictures; the first one is used.",)


def _decode_fast(header: ImageFile.ImageFile, data: bytes, name: str) -> Bytes | None:
    """Decode plain JPEG and PNG with OpenCV, to RGB or to BGR and alpha; None for other kinds."""
    if "transparency" in header.info:
        return None
    flags = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
    if header.format == "JPEG" and header.mode in ("RGB", "L"):
        if data.find(_END_OF_JPEG, _first_scan(data)) < 0:
            raise _damaged(name)
    elif (
        header.format == "PNG" and header.mode in ("RGB", "L", "RGBA") and data[_PNG_DEPTH_AT] == 8
    ):
        data = _pixel_chunks(data)
        flags = cv2.IMREAD_UNCHANGED if header.mode == "RGBA" else flags
    else:
        return None
    pixels = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), flags)
    if pixels is None or pixels.shape[:2] != (header.size[1], header.size[0]):
        raise _damaged(name)
    return _bytes(pixels)


def _pixel_chunks(data: bytes) -> bytes:
    """Return a PNG without the chunks that do not hold pixels, every checksum verified.

    Otherwise the decoder's own complaints, about profiles for example, reach the terminal.
    """
    kept, at, name = [data[:8]], 8, b""
    while name != b"IEND":
        length, name = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        (checksum,) = struct.unpack_from(">I", data, end - 4)
        if zlib.crc32(memoryview(data)[at + 4 : end - 4]) != checksum:
            raise ValueError(f"checksum of {name!r}")
        if name in _PIXEL_CHUNKS:
            kept.append(data[at:end])
        at = end
    return b"".join(kept)


def _first_scan(data: bytes) -> int:
    """Return where the first scan of a JPEG begins, past thumbnails kept in its segments."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF and data[at + 1] != 0xDA:
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return at


def _split(image: Image.Image, name: str) -> tuple[Image.Image | Bytes, Bytes | None]:
    """Return the colours and the alpha of a decoded picture of any mode."""
    mode = image.mode
    if mode.startswith("I;16"):
        return _grey_from_16_bit(image), None
    if mode in ("I", "F"):
        raise ImageError(f"{name} has 32-bit pixels; save it with 8 or 16 bits a channel")
    if mode == "RGBa":
        image, mode = image.convert("RGBA"), "RGBA"
    if mode in ("P", "PA", "LA", "La", "1") or "transparency" in image.info:
        image = image.convert("RGBA")
        mode = "RGBA"
    if mode == "RGBA":
        stacked = np.asarray(image)
        colours, alpha = np.ascontiguousarray(stacked[..., :3]), stacked[..., 3]
        return colours, _unless_opaque(np.ascontiguousarray(alpha))
    if mode in ("CMYK", "LAB"):
        return image, None
    return np.asarray(image if mode == "RGB" else image.convert("RGB")), None


def _grey_from_16_bit(image: Image.Image) -> Bytes:
    wide = np.asarray(image).astype(np.uint16, copy=False)
    grey = ((wide.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


def _unless_opaque(alpha: Bytes) -> Bytes | None:
    return None if int(alpha.min()) == 255 else alpha


def _bytes(image: object) -> Bytes:
    return np.asarray(image, dtype=np.uint8)
