"""Resins against arithmetic done by hand, and every fault of a user's table with its message."""

import pytest

from img2pour.errors import SettingsError
from img2pour.pours.resins import (
    DATA_SHEET_NOTICE,
    find_resin,
    read_resins,
    standard_resins,
)

NEW = """
[[resin]]
name = "mine"
parts_by_volume = [2, 1]
density_a_g_per_ml = 1.15
density_b_g_per_ml = 0.98
pot_life_min = 30
pot_life_c = 21
pot_life_g = 100
least_depth_mm = 1
greatest_depth_mm = 10
cure_hours = 48
price_per_litre = 20
pigment_share = 0.03
"""


def test_parts_by_weight_of_a_worked_example() -> None:
    # By hand: 2 x 1.15 = 2.30 g to 1 x 0.98 = 0.98 g, and 98 / 2.30 = 42.6087 g to 100 g.
    # Mixed density: (2.30 + 0.98) / 3 = 1.09333 g/ml.
    resin = find_resin(read_resins(NEW), "mine")
    assert resin.parts_b_by_weight == pytest.approx(42.6087, abs=1e-4)
    assert resin.mixed_density_g_per_ml == pytest.approx(1.093333, abs=1e-6)
    assert resin.share_a == pytest.approx(2 / 3, abs=1e-12)


def test_pot_life_halves_for_each_ten_degrees_more() -> None:
    # Common practice, no source: 30 min at 21 C are 15 min at 31 C and 60 min at 11 C.
    resin = find_resin(read_resins(NEW), "mine")
    assert [resin.pot_life_at_min(t) for t in (11, 21, 31)] == pytest.approx([60, 30, 15])


def test_the_standard_table_is_plain_and_within_the_usual_ranges() -> None:
    resins = standard_resins()
    assert {"table-top 1:1", "casting 2:1", "thin laminating 3:1"} <= {r.name for r in resins}
    for resin in resins:
        # Mixed unfilled epoxy: 1.05 - 1.15 g/ml is usual (makers' pages).
        assert 1.05 <= resin.mixed_density_g_per_ml <= 1.15
        assert resin.least_depth_mm < resin.greatest_depth_mm
    assert "data sheet governs" in DATA_SHEET_NOTICE


def test_a_known_name_changes_only_what_is_given() -> None:
    text = '[[resin]]\nname = "casting 2:1"\nprice_per_litre = 44\n'
    before, after = standard_resins(), read_resins(text)
    assert [r.name for r in before] == [r.name for r in after]
    changed = find_resin(after, "casting 2:1")
    assert changed.price_per_litre == 44
    assert changed.parts_a == 2
    assert changed.cure_hours == find_resin(before, "casting 2:1").cure_hours


def test_parts_by_weight_are_turned_into_volume() -> None:
    # By hand: 100 g / 1.15 = 86.957 ml to 43 g / 0.98 = 43.878 ml: 1.98179 : 1 by volume.
    text = NEW.replace("parts_by_volume = [2, 1]", "parts_by_weight = [100, 43]")
    resin = find_resin(read_resins(text), "mine")
    assert resin.parts_a / resin.parts_b == pytest.approx(1.98179, abs=1e-5)
    assert resin.parts_b_by_weight == pytest.approx(43.0, abs=1e-9)


def test_both_ratios_may_be_given_when_they_agree() -> None:
    text = NEW.replace(
        "parts_by_volume = [2, 1]", "parts_by_volume = [2, 1]\nparts_by_weight = [100, 43]"
    )
    assert find_resin(read_resins(text), "mine").parts_a == 2


FAULTS = [
    ("[[resin]]\nname = 3\n", "line 2: each [[resin]] needs a name"),
    ("[[resin]]\nname = 'glue'\n", "line 2: 'glue' is new, so it also needs: parts_by_volume"),
    (
        "[[resin]]\nname = 'casting 2:1'\ncolour = 'red'\n",
        "line 3: 'colour' is not known; known are:",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\n\npot_life_min = -4\n",
        "line 4: pot_life_min is '-4'; write a number from 1 to 1440",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\npigment_share = 0.5\n",
        "line 3: pigment_share is '0.5'; write a number from 0 to 0.1",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\ncure_hours = nan\n",
        "line 3: cure_hours is 'nan'",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\ncure_hours = true\n",
        "line 3: cure_hours is 'True'",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\nparts_by_volume = '2:1'\n",
        "line 3: parts_by_volume is '2:1'; write two numbers above 0",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\nparts_by_volume = [2, 0]\n",
        "line 3: parts_by_volume is '[2, 0]'",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\nparts_by_volume = [2, 1]\nparts_by_weight = [2, 1]\n",
        "line 4: parts by weight and by volume differ by 14%",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\nleast_depth_mm = 80\n",
        "the least depth (80 mm) is more than the greatest (50 mm)",
    ),
    (
        "[[resin]]\nname = 'casting 2:1'\n[[resin]]\nname = 'casting 2:1'\n",
        "line 4: 'casting 2:1' is there twice",
    ),
    ("[resin]\nname = 'casting 2:1'\n", "write each resin below a line [[resin]]"),
    ("[[glue]]\nname = 'x'\n", "it has 'glue'"),
    ("[[resin]\n", "not readable as TOML"),
]


@pytest.mark.parametrize(("text", "message"), FAULTS)
def test_each_fault_has_its_place_and_its_cure(text: str, message: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_resins(text, source="mine.toml")
    assert message in str(caught.value)
    assert str(caught.value).startswith("mine.toml")


def test_all_faults_are_told_at_once() -> None:
    text = NEW + '[[resin]]\nname = "casting 2:1"\ncure_hours = 0\nglitter = 1\n'
    with pytest.raises(SettingsError) as caught:
        read_resins(text.replace("pot_life_c = 21", "pot_life_c = 90"))
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "resins.toml, line 8",
        "resins.toml, line 17",
        "resins.toml, line 18",
    ]


def test_an_unknown_name_says_which_there_are() -> None:
    with pytest.raises(SettingsError, match="there is no resin 'gold'; there are: table-top 1:1"):
        find_resin(standard_resins(), "gold")
