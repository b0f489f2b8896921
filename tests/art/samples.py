"""Draw the sample pictures: `python -m tests.art.samples FOLDER`."""

import sys
from pathlib import Path

from PIL import Image

from tests.art.degrade import jpeg, scan_pixels
from tests.art.kingfisher import kingfisher
from tests.art.koi import PX_PER_MM, koi_pond
from tests.art.lighthouse import lighthouse
from tests.art.photo import photograph
from tests.art.raster import to_bytes


def draw_flat_art(folder: Path) -> None:
    """Write flat art as a drawing program would: no noise, six colours, edges antialiased."""
    picture = Image.fromarray(to_bytes(kingfisher().render()))
    picture.save(folder / "kingfisher.png", optimize=True)


def draw_scan(folder: Path) -> None:
    """Write a print on paper as a scanner gives it: paper, blur, noise, 300 dpi, JPEG."""
    pixels = scan_pixels(lighthouse().render(linear=True), 7)
    (folder / "lighthouse-scan.jpg").write_bytes(jpeg(pixels, 85, dpi=300))


def draw_photo(folder: Path) -> None:
    """Write a photo of a drawing that lies on a table."""
    photo = photograph(to_bytes(koi_pond().render()), PX_PER_MM, 11)
    (folder / "koi-photo.jpg").write_bytes(jpeg(to_bytes(photo), 88))


if __name__ == "__main__":
    out = Path(sys.argv[1])
    draw_flat_art(out)
    draw_scan(out)
    draw_photo(out)
