"""Reading of picture files: formats, orientation, profiles, alpha, guards."""

import hashlib
import io
import struct
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from img2pour.errors import ImageError
from img2pour.picture import look_at_header, picture_from_array, read_picture

Bytes = NDArray[np.uint8]


def quarters(width: int = 64, height: int = 32) -> Bytes:
    """Four flat quarters; their sizes are multiples of 16, so that JPEG keeps the colours."""
    rgb = np.empty((height, width, 3), dtype=np.uint8)
    rgb[: height // 2, : width // 2] = (200, 30, 40)
    rgb[: height // 2, width // 2 :] = (30, 120, 60)
    rgb[height // 2 :, : width // 2] = (20, 40, 160)
    rgb[height // 2 :, width // 2 :] = (240, 235, 220)
    return rgb


def encode(image: Image.Image, kind: str, **options: object) -> bytes:
    target = io.BytesIO()
    image.save(target, kind, **options)
    return target.getvalue()


KINDS = {
    "PNG": {},
    "TIFF": {},
    "BMP": {},
    "GIF": {},
    "WEBP": {"lossless": True},
    "JPEG": {"quality": 95, "subsampling": 0},
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_format_gives_its_pixels(kind: str, tmp_path: Path) -> None:
    rgb = quarters()
    data = encode(Image.fromarray(rgb), kind, **KINDS[kind])
    path = tmp_path / "art.bin"
    path.write_bytes(data)
    for source in (data, path):
        picture = read_picture(source)
        gap = np.abs(picture.rgb.astype(int) - rgb)
        assert gap.max() <= (3 if kind == "JPEG" else 0)
        assert picture.rgb.flags.c_contiguous
        assert picture.outside is None
        assert picture.sha256 == hashlib.sha256(data).hexdigest()
        assert picture.notes == ()


def test_heic_is_read_through_its_extra() -> None:
    heif = pytest.importorskip("pillow_heif")
    rgb = quarters(64, 64)
    target = io.BytesIO()
    heif.from_bytes("RGB", (64, 64), rgb.tobytes()).save(target, quality=100)
    picture = read_picture(target.getvalue())
    assert np.abs(picture.rgb.astype(int) - rgb)[4:28, 4:28].max() <= 3


def test_heic_without_the_extra_says_which_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(ImageError, match=r"img2pour\[heic\]"):
        read_picture(b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(64))


# Where a mark stored at row 0, column 0 of a picture 3 wide and 2 high is shown: EXIF 2.32,
# tag 274, checked against Pillow's exif_transpose.
MARK_SHOWN_AT = {
    1: (0, 0),
    2: (0, 2),
    3: (1, 2),
    4: (1, 0),
    5: (0, 0),
    6: (0, 1),
    7: (2, 1),
    8: (2, 0),
}


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", MARK_SHOWN_AT)
def test_orientation_turns_the_picture_upright(orientation: int, kind: str) -> None:
    cell = 16
    stored = np.full((2 * cell, 3 * cell, 3), 255, dtype=np.uint8)
    stored[:cell, :cell] = (200, 30, 40)
    exif = Image.Exif()
    exif[274] = orientation
    options = {"exif": exif} | ({"lossless": True} if kind == "WEBP" else {})
    picture = read_picture(encode(Image.fromarray(stored), kind, **options))
    shown = picture.rgb[cell // 2 :: cell, cell // 2 :: cell, 1] < 128
    assert shown.shape == ((2, 3) if orientation < 5 else (3, 2))
    assert [tuple(at) for at in np.argwhere(shown)] == [MARK_SHOWN_AT[orientation]]


@pytest.mark.parametrize("kind", ["JPEG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", MARK_SHOWN_AT)
def test_the_header_tells_the_upright_size(orientation: int, kind: str) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    data = encode(Image.fromarray(quarters()), kind, exif=exif)
    height, width = read_picture(data).rgb.shape[:2]
    assert look_at_header(data) == (width, height)


def test_the_header_is_looked_at_as_strictly_as_the_picture() -> None:
    with pytest.raises(ImageError, match=r"more than the 0\.001 allowed"):
        look_at_header(encode(Image.fromarray(quarters()), "PNG"), max_megapixels=0.001)
    with pytest.raises(ImageError):
        look_at_header(b"no picture at all")


def test_orientation_turns_the_outside_too() -> None:
    rgba = np.full((20, 30, 4), 255, dtype=np.uint8)
    rgba[:10, :10, 3] = 0
    exif = Image.Exif()
    exif[274] = 6
    picture = read_picture(encode(Image.fromarray(rgba), "PNG", exif=exif))
    assert picture.outside is not None
    assert picture.outside.shape == (30, 20)
    assert picture.outside[:10, 10:].all()
    assert picture.outside.sum() == 100


def display_p3_profile() -> bytes:
    """Write a matrix profile (ICC.1:2001-04) with the primaries of Display P3.

    Primaries .680/.320, .265/.690, .150/.060 and D65 (CSS Color 4), adapted to D50 by Bradford.
    """
    chromaticity = np.array([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])
    to_xyz = np.array([[x / y, 1, (1 - x - y) / y] for x, y in chromaticity]).T
    white = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290])
    to_xyz = to_xyz * np.linalg.solve(to_xyz, white)
    bradford = np.array(
        [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
    )
    d50 = np.array([0.9642, 1.0, 0.8249])
    scale = np.diag((bradford @ d50) / (bradford @ white))
    columns = (np.linalg.inv(bradford) @ scale @ bradford @ to_xyz).T

    def xyz(values: NDArray[np.float64]) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    levels = np.arange(1024) / 1023
    light = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)
    curve = b"curv\0\0\0\0" + struct.pack(">I", 1024)
    curve += np.rint(light * 65535).astype(">u2").tobytes()
    text = b"wide\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78),
        b"wtpt": xyz(d50),
        b"rXYZ": xyz(columns[0]),
        b"gXYZ": xyz(columns[1]),
        b"bXYZ": xyz(columns[2]),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    table, body = struct.pack(">I", len(tags)), b""
    start = 128 + 4 + 12 * len(tags)
    for tag, value in tags.items():
        table += tag + struct.pack(">II", start + len(body), len(value))
        body += value + bytes(-len(value) % 4)
    size = start + len(body)
    header = struct.pack(">I4sI4s4s4s", size, b"none", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    header += bytes(12) + b"acsp" + bytes(28)
    header += b"".join(struct.pack(">i", round(v * 65536)) for v in d50)
    return header.ljust(128, b"\0") + table + body


# web-platform-tests, css/css-color: display-p3 colours and the same in sRGB.
@pytest.mark.parametrize(
    ("p3", "srgb"),
    [
        ((0.21604, 0.49418, 0.13151), (0.0, 128 / 255, 0.0)),
        ((0.465377, 0.532768, 0.317713), (0.448436, 0.53537, 0.288113)),
        ((1.0, 1.0, 1.0), (1.0, 1.0, 1.0)),
    ],
)
@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF", "WEBP"])
def test_display_p3_becomes_srgb(p3: tuple[float, ...], srgb: tuple[float, ...], kind: str) -> None:
    stored = np.tile(np.rint(np.array(p3) * 255).astype(np.uint8), (32, 32, 1))
    options = {"icc_profile": display_p3_profile()} | KINDS[kind]
    picture = read_picture(encode(Image.fromarray(stored), kind, **options))
    assert picture.notes == ()
    # One level for the 8 bits of the input, which the steep dark part of the curve widens.
    off = np.abs(picture.rgb[16, 16] - np.array(srgb) * 255)
    assert off.max() <= (8 if min(srgb) == 0 else 2)
    assert off[1] <= 2


def test_an_srgb_profile_changes_nothing() -> None:
    rgb = np.random.default_rng(1).integers(0, 256, (20, 30, 3), dtype=np.uint8)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    picture = read_picture(encode(Image.fromarray(rgb), "PNG", icc_profile=profile))
    np.testing.assert_array_equal(picture.rgb, rgb)


@pytest.mark.parametrize("profile", [b"no profile at all", display_p3_profile()[:200]])
def test_a_broken_profile_is_a_note(profile: bytes) -> None:
    rgb = quarters()
    picture = read_picture(encode(Image.fromarray(rgb), "PNG", icc_profile=profile))
    np.testing.assert_array_equal(picture.rgb, rgb)
    assert len(picture.notes) == 1
    assert "profile" in picture.notes[0]


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_sixteen_bit_grey_keeps_its_levels(kind: str) -> None:
    levels = np.arange(256, dtype=np.uint16).reshape(16, 16) * 257
    picture = read_picture(encode(Image.fromarray(levels), kind))
    np.testing.assert_array_equal(picture.rgb[..., 0].ravel(), np.arange(256))
    assert (picture.rgb == picture.rgb[..., :1]).all()


def png(width: int, height: int, depth: int, colour_type: int, rows: bytes) -> bytes:
    """Write a PNG by hand (ISO/IEC 15948), for kinds that Pillow does not write."""

    def chunk(name: bytes, body: bytes) -> bytes:
        checksum = zlib.crc32(name + body)
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", checksum)

    head = struct.pack(">IIBBBBB", width, height, depth, colour_type, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


def test_sixteen_bit_colour_keeps_its_levels() -> None:
    rgb = np.random.default_rng(2).integers(0, 256, (5, 7, 3), dtype=np.uint8)
    rows = b"".join(b"\0" + (row.astype(np.uint32) * 257).astype(">u2").tobytes() for row in rgb)
    np.testing.assert_array_equal(read_picture(png(7, 5, 16, 2, rows)).rgb, rgb)


@pytest.mark.parametrize("mode", ["L", "1", "P", "LA", "RGBA"])
def test_other_modes_agree_with_their_rgb(mode: str) -> None:
    image = Image.fromarray(quarters()).convert(mode)
    for kind in ("PNG", "TIFF"):
        picture = read_picture(encode(image, kind))
        np.testing.assert_array_equal(picture.rgb, np.asarray(image.convert("RGB")))
        assert picture.outside is None


@pytest.mark.parametrize("kind", ["TIFF", "JPEG"])
def test_ink_without_a_profile_is_converted_plainly(kind: str) -> None:
    ink = np.zeros((32, 32, 4), dtype=np.uint8)
    ink[:, 16:] = (0, 255, 255, 0)
    picture = read_picture(encode(Image.fromarray(ink, mode="CMYK"), kind))
    assert picture.rgb[8, 4].min() >= 252
    np.testing.assert_allclose(picture.rgb[8, 28], (255, 0, 0), atol=3)


def test_alpha_below_half_is_outside() -> None:
    rgba = np.zeros((4, 256, 4), dtype=np.uint8)
    rgba[..., :3] = (200, 30, 40)
    rgba[..., 3] = np.arange(256)
    picture = read_picture(encode(Image.fromarray(rgba), "PNG"))
    assert picture.outside is not None
    np.testing.assert_array_equal(picture.outside, np.tile(np.arange(256) < 128, (4, 1)))


def test_a_transparent_edge_leaves_no_dark_fringe() -> None:
    y, x = np.mgrid[0:60, 0:60] + 0.5
    cover = np.clip(20.5 - np.hypot(x - 30, y - 30), 0, 1)
    rgba = np.zeros((60, 60, 4), dtype=np.uint8)
    rgba[..., 3] = np.rint(cover * 255)
    rgba[rgba[..., 3] > 0, :3] = (240, 200, 60)
    picture = read_picture(encode(Image.fromarray(rgba), "PNG"))
    assert picture.outside is not None
    near = np.hypot(x - 30, y - 30) < 28
    assert (picture.rgb[near] == (240, 200, 60)).all()
    assert picture.outside.sum() == pytest.approx(3600 - np.pi * 400, rel=0.01)


def test_a_transparent_palette_colour_is_outside() -> None:
    image = Image.fromarray(quarters()).convert("P", palette=Image.Palette.ADAPTIVE, colors=4)
    clear = int(np.asarray(image)[0, 0])
    for kind in ("GIF", "PNG"):
        picture = read_picture(encode(image, kind, transparency=clear))
        assert picture.outside is not None
        assert picture.outside[:16, :32].all()
        assert picture.outside.sum() == 16 * 32


def test_only_the_first_frame_is_read() -> None:
    frames = [Image.fromarray(np.full((8, 8, 3), level, dtype=np.uint8)) for level in (50, 200)]
    for kind in ("GIF", "TIFF", "WEBP"):
        data = encode(frames[0], kind, save_all=True, append_images=frames[1:])
        picture = read_picture(data)
        assert abs(int(picture.rgb[4, 4, 0]) - 50) <= 4
        assert picture.notes == ("The file holds 2 pictures; the first one is used.",)


@pytest.mark.parametrize(
    ("kind", "options", "dpi"),
    [
        ("PNG", {"dpi": (300, 300)}, 300.0),
        ("PNG", {"dpi": (150, 150)}, 150.0),
        ("PNG", {}, None),
        ("JPEG", {"dpi": (72, 72)}, 72.0),
        ("JPEG", {"dpi": (300, 150)}, None),
        ("JPEG", {}, None),
        ("TIFF", {"dpi": (600, 600)}, 600.0),
        ("BMP", {"dpi": (96, 96)}, 96.0),
    ],
)
def test_dots_per_inch_are_those_of_the_file(
    kind: str, options: dict[str, object], dpi: float | None
) -> None:
    found = read_picture(encode(Image.fromarray(quarters()), kind, **options)).dpi
    assert found == (None if dpi is None else pytest.approx(dpi, abs=0.02))


def test_jpeg_takes_dots_per_centimetre_from_exif() -> None:
    exif = Image.Exif()
    exif[282], exif[283], exif[296] = 100.0, 100.0, 3
    data = encode(Image.fromarray(quarters()), "JPEG", exif=exif)
    assert read_picture(data).dpi == pytest.approx(254.0)


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_short_is_one_clear_line(kind: str) -> None:
    noisy = np.random.default_rng(3).integers(0, 256, (64, 64, 3), dtype=np.uint8)
    data = encode(Image.fromarray(noisy), kind, **KINDS[kind])
    for length in (9, 20, len(data) // 2, len(data) * 9 // 10):
        with pytest.raises(ImageError) as caught:
            read_picture(data[:length])
        assert "\n" not in str(caught.value)


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_bytes_never_raise_anything_else(kind: str) -> None:
    random = np.random.default_rng(4)
    data = encode(Image.fromarray(quarters()), kind, **KINDS[kind])
    for _ in range(60):
        spoilt = bytearray(data)
        for at in random.integers(0, len(data), 4):
            spoilt[at] = random.integers(0, 256)
        outcome = ""
        try:
            shape = read_picture(bytes(spoilt), max_megapixels=1).rgb.shape
        except ImageError as error:
            outcome = str(error)
        else:
            outcome = "read" if len(shape) == 3 else ""
        assert outcome
        assert "\n" not in outcome


def test_missing_empty_and_foreign_files_say_what_is_wrong(tmp_path: Path) -> None:
    empty, text, folder = tmp_path / "empty.png", tmp_path / "text.png", tmp_path / "folder.png"
    empty.touch()
    text.write_text("a text renamed\n" * 20)
    folder.mkdir()
    for path, words in [
        (tmp_path / "none.png", "none.png does not exist"),
        (empty, "empty.png is empty"),
        (text, "text.png is no picture that img2pour reads"),
        (folder, "folder.png is not a file"),
        (text / "below.png", "below.png"),
    ]:
        with pytest.raises(ImageError, match=words) as caught:
            read_picture(path)
        assert "\n" not in str(caught.value)
    with pytest.raises(ImageError, match="no picture that img2pour reads"):
        read_picture(b"%PDF-1.7 a page")


def test_a_huge_picture_is_refused_by_its_header() -> None:
    bomb = png(20_000, 20_000, 8, 2, b"")
    with pytest.raises(
        ImageError, match=r"20000 x 20000 px \(400 megapixels\).* 200 allowed.*--max-megapixels"
    ):
        read_picture(bomb)
    with pytest.raises(ImageError, match="damaged or cut short"):
        read_picture(bomb[:-20], max_megapixels=500)


def test_limits_can_be_moved() -> None:
    data = encode(Image.fromarray(quarters(100, 100)), "BMP")
    assert read_picture(data, max_megapixels=0.01).rgb.shape == (100, 100, 3)
    with pytest.raises(ImageError, match=r"\(0.01 megapixels\)"):
        read_picture(data, max_megapixels=0.0099)
    with pytest.raises(ImageError, match="MB"):
        read_picture(data, max_megabytes=0.01)


def test_nothing_but_transparency_is_refused() -> None:
    with pytest.raises(ImageError, match="transparent everywhere"):
        read_picture(encode(Image.new("RGBA", (5, 5)), "PNG"))


def test_one_pixel_is_no_picture() -> None:
    with pytest.raises(ImageError, match="too small to show anything"):
        read_picture(encode(Image.new("RGB", (1, 1), (1, 2, 3)), "PNG"))


def test_arrays_are_checked() -> None:
    assert picture_from_array(quarters()).rgb.shape == (32, 64, 3)
    with pytest.raises(ImageError, match="uint8"):
        picture_from_array(np.zeros((3, 3, 3)))
    with pytest.raises(ImageError, match="outside"):
        picture_from_array(quarters(), np.zeros((3, 3), dtype=bool))
