"""Settings that cannot be are told when they are built: what is wrong, and what to give."""

import math

import pytest

from img2pour.errors import SettingsError
from img2pour.pours.mixes import MixSettings
from img2pour.pours.order_rules import OrderSettings
from img2pour.pours.schedule import ScheduleSettings
from img2pour.pours.seals import SealSettings
from img2pour.pours.stages import StageSettings
from img2pour.pours.underlap import UnderlapSettings

FAULTS = [
    (MixSettings, {"overfill_mm": -0.1}, "overfill_mm is -0.1; give 0 to 20"),
    (MixSettings, {"waste_share": 1.5}, "waste_share is 1.5; give 0 to 1"),
    (MixSettings, {"soak_mm": math.nan}, "soak_mm is nan; give 0 to 5"),
    (MixSettings, {"greatest_cup_g": 0.0}, "greatest_cup_g is 0; give 10 to 100000"),
    (UnderlapSettings, {"width_mm": -1.0}, "width_mm is -1; give 0 to 100"),
    (UnderlapSettings, {"least_core_mm": math.inf}, "least_core_mm is inf; give 0 to 100"),
    (StageSettings, {"shallower_mm": -0.4}, "shallower_mm is -0.4; give 0 to 10"),
    (
        StageSettings,
        {"depth_mm": 0.5, "surface_mm": 0.5},
        "depth 0.5 mm must be more than the 0.5 mm that are taken off the surface",
    ),
    (
        StageSettings,
        {"depth_mm": 14.0, "face_below_top_mm": 6.0},
        "depth 14 mm goes through the blank, which is 13.05 mm thick at the carved face",
    ),
    (ScheduleSettings, {"shop_c": -5.0}, "shop_c is -5; give 0 to 50"),
    (ScheduleSettings, {"slow_factor": 0.5}, "slow_factor is 0.5; give 1 to 10"),
    (ScheduleSettings, {"mix_hours": -1.0}, "mix_hours is -1; give 0 to 1000"),
    (SealSettings, {"coat_mm": 0.0}, "coat_mm is 0; give 0.001 to 5"),
    (SealSettings, {"bit_diameter_mm": -3.0}, "bit_diameter_mm is -3; give 0.1 to 100"),
    (OrderSettings, {"gap_mm": -3.0}, "gap_mm is -3; give 0 to 100"),
    (
        OrderSettings,
        {"rules": ("dark", "luck")},
        "order rule 'luck' is not known; the rules are: asked, enclosing, lines",
    ),
    (OrderSettings, {"rules": ("dark", "dark")}, "order rule 'dark' is there twice"),
]


@pytest.mark.parametrize(("settings", "values", "message"), FAULTS)
def test_what_cannot_be_is_told(settings: type, values: dict[str, object], message: str) -> None:
    with pytest.raises(SettingsError) as caught:
        settings(**values)
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "settings",
    [MixSettings, UnderlapSettings, StageSettings, ScheduleSettings, SealSettings, OrderSettings],
)
def test_the_defaults_are_sound(settings: type) -> None:
    assert settings() == settings()
