"""Draw the sample pictures: `python -m tests.art.samples FOLDER`."""

import sys
from pathlib import Path

from PIL import Image

from tests.art.kingfisher import kingfisher
from tests.art.raster import to_bytes


def draw_flat_art(folder: Path) -> None:
    Image.fromarray(to_bytes(kingfisher().render())).save(folder / "kingfisher.png", optimize=True)


if __name__ == "__main__":
    draw_flat_art(Path(sys.argv[1]))
