"""A strip of the colours of a picture: a bar for each, as wide as its share, named below."""

from __future__ import annotations

import os
import unicodedata
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw, ImageFont
from PIL.PngImagePlugin import PngInfo

from img2pour.errors import OutputError
from img2pour.units import quoted
from img2pour.write.text import one_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from img2pour.palette import Palette

WIDTH_PX = 1200
LEAST_BAR_PX = 60
BAR_HEIGHT_PX = 200
LINE_HEIGHT_PX = 30
TEXT_PX = 18
_MARK = "img2pour palette"


def strip_png(palette: Palette) -> bytes:
    """Return the strip as PNG: bars by share, and a line with name, hex and share for each."""
    height = BAR_HEIGHT_PX + LINE_HEIGHT_PX * len(palette.colours) + LINE_HEIGHT_PX // 2
    edges = bar_edges_px([colour.share for colour in palette.colours])
    picture = Image.new("RGB", (edges[-1], height), "white")
    draw = ImageDraw.Draw(picture)
    font = ImageFont.load_default(TEXT_PX)
    for i, colour in enumerate(palette.colours):
        draw.rectangle((edges[i], 0, edges[i + 1] - 1, BAR_HEIGHT_PX - 1), fill=colour.hex)
        top = BAR_HEIGHT_PX + LINE_HEIGHT_PX * i + LINE_HEIGHT_PX // 2
        draw.rectangle((8, top, 48, top + TEXT_PX + 2), fill=colour.hex, outline="#808080")
        label = f"{_drawable(colour.name)}   {colour.hex}   {100 * colour.share:.1f} %"
        draw.text((60, top), label, fill="black", font=font)
    mark = PngInfo()
    mark.add_text("Software", _MARK)
    data = BytesIO()
    picture.save(data, "PNG", pnginfo=mark)
    return data.getvalue()


def _drawable(name: str) -> str:
    """Return a name in the letters that the font has; accents are left off, the rest is "?"."""
    letters = unicodedata.normalize("NFKD", one_line(name))
    plain = "".join(c for c in letters if not unicodedata.combining(c))
    return plain.encode("ascii", "replace").decode()


def bar_edges_px(shares: Sequence[float]) -> list[int]:
    """Return where each bar begins, and where the last ends; no bar is too thin to see."""
    total = sum(shares)
    widths = [max(LEAST_BAR_PX, round(WIDTH_PX * share / total)) for share in shares]
    return [sum(widths[:i]) for i in range(len(widths) + 1)]


def write_strip(palette: Palette, path: Path) -> None:
    """Write the strip; only a strip of ours is ever replaced.

    Raises
    ------
    OutputError
        When another file has that name, or it cannot be written.
    """
    if path.exists() and not _is_ours(path):
        raise OutputError(
            f"{quoted(path, 120)} is not a strip of ours; choose another name with -o"
        )
    new = path.with_name(f".{path.name}.new")
    try:
        new.write_bytes(strip_png(palette))
        os.replace(new, path)
    except OSError as error:
        with suppress(OSError):
            new.unlink()
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"{quoted(path, 120)} cannot be written: {reason}") from error


def _is_ours(path: Path) -> bool:
    try:
        with Image.open(path) as picture:
            return picture.info.get("Software") == _MARK
    except (OSError, ValueError):
        return False
