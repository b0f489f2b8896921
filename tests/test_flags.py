"""Truth: national flags whose laws fix their geometry, and closed forms, drawn and converted."""

import numpy as np
import pytest

from tests.art.flags import FLAGS, GREECE, Flag
from tests.art.known import KnownArt

FLAG_PX = 1000.0
NAMES = [flag.country for flag in FLAGS]


def areas(art: KnownArt) -> dict[tuple[int, int, int], float]:
    found = dict.fromkeys(art.palette, 0.0)
    for colour, shape in art.regions:
        found[art.palette[colour]] += shape.area
    return found


@pytest.mark.parametrize("flag", FLAGS, ids=NAMES)
def test_the_drawing_has_the_shares_of_the_law(flag: Flag):
    assert sum(flag.shares.values()) == pytest.approx(1)
    art = flag.draw(FLAG_PX)
    flag_area = FLAG_PX**2 * flag.height / flag.length
    for colour, share in flag.shares.items():
        assert areas(art)[colour] / flag_area == pytest.approx(share, abs=2e-6)


@pytest.mark.parametrize("flag", FLAGS, ids=NAMES)
def test_the_drawing_has_the_regions_of_the_law(flag: Flag):
    art = flag.draw(300, turn_deg=11)
    colours = [art.palette[colour] for colour, _ in art.regions]
    assert {colour: colours.count(colour) for colour in flag.regions} == flag.regions


def test_the_picture_holds_the_same_areas():
    """Exact antialiasing keeps areas: the mean of a channel gives them back."""
    art = GREECE.draw(FLAG_PX)
    picture = art.render()
    mean = picture.reshape(-1, 3).mean(axis=0)
    expected = sum(np.array(colour) * area for colour, area in areas(art).items())
    assert np.allclose(mean, expected / (art.width * art.height), atol=1e-9)
