"""The finished piece as it will look, pixel by pixel at places that are known."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from img2pour import convert
from img2pour.results import Extent
from img2pour.write.finished import finished_picture
from img2pour.write.make_pours import wet_hex
from img2pour.write.pictures import RIM_PX
from tests.pond import HEIGHT_PX, WIDTH_PX, pond_bytes, pond_job

SIDE_PX = 4 * 120 + 2 * RIM_PX  # 4 px for each mm of a board of 120 x 90 mm


def picture(extent: Extent = "planned", **sections: Any) -> NDArray[np.uint8]:
    result = convert(pond_bytes(), pond_job(**sections), extent=extent)
    return np.asarray(Image.open(BytesIO(finished_picture(result, SIDE_PX))).convert("RGB"))


def tone(seen: NDArray[np.uint8], x_px: float, y_px: float) -> str:
    """Return the colour at a pixel of the artwork, which has 4 px for each mm too."""
    assert (WIDTH_PX, HEIGHT_PX) == (480, 360)
    return "#" + "".join(f"{v:02x}" for v in seen[round(y_px) + RIM_PX, round(x_px) + RIM_PX])


def test_clear_that_stays_visible_looks_like_wet_wood() -> None:
    """A border of 0.8 mm, 3.2 px, around the sea, whose left edge stands at 60 px."""
    sealed = picture(seal={"kind": "band", "bit": "flat 1/4 in"}, bits={"use": ["flat 1/8 in"]})
    assert tone(sealed, 58.0, 180) == wet_hex("#ecd6a9")
    assert tone(sealed, 54.0, 180) == "#ecd6a9"
    assert tone(sealed, 64.0, 180) == "#153c78"
    bare = picture(seal={"kind": "none"}, bits={"use": ["flat 1/8 in"]})
    assert tone(bare, 58.0, 180) == "#ecd6a9"


def test_corners_are_as_the_bit_rounds_them() -> None:
    """A flat bit of 12 mm leaves (1 - 1/sqrt 2) r = 1.76 mm, 7 px, of each of the sea's corners."""
    seen = picture(seal={"kind": "none"}, bits={"use": ["flat 12 mm"]}, carving={"small": "keep"})
    inwards = 7.0 / np.sqrt(2)
    assert tone(seen, 60 + inwards / 2, 60 + inwards / 2) == "#ecd6a9"
    assert tone(seen, 60 + 2 * inwards, 60 + 2 * inwards) == "#153c78"


def test_colours_of_one_resin_look_alike() -> None:
    seen = picture(resin=[{"colours": ["sea", "sun"], "name": "ink"}], seal={"kind": "none"})
    assert tone(seen, 190, 180) == tone(seen, 300, 100) == "#153c78"


def test_without_a_plan_it_is_the_design() -> None:
    seen = picture("design", resin=[{"colours": ["sea", "sun"], "name": "ink"}])
    assert tone(seen, 190, 180) == "#f0c030"
    assert tone(seen, 58.0, 180) == "#ecd6a9"
