"""The cautions name the usual hazards and defer to better sources."""

import pytest

from img2pour.pours.cautions import CAUTIONS

USUAL_HAZARDS = (
    "gloves",
    "eye protection",
    "fresh air",
    "dust of wood",
    "half-cured resin",
    "hearing",
    "deep cup",
    "clamp",
    "spinning",
)


@pytest.mark.parametrize("hazard", USUAL_HAZARDS)
def test_every_usual_hazard_is_named(hazard: str) -> None:
    words = " ".join(f"{caution.title} {caution.text}" for caution in CAUTIONS).lower()
    assert hazard in words


@pytest.mark.parametrize("source", ["data sheets", "local rules", "trained practice"])
def test_the_first_caution_defers_to_better_sources(source: str) -> None:
    assert source in CAUTIONS[0].text.lower()


def test_they_are_short_and_told_apart() -> None:
    assert len({caution.title for caution in CAUTIONS}) == len(CAUTIONS)
    assert all(len(caution.text) <= 300 for caution in CAUTIONS)
    assert all(caution.text.endswith(".") for caution in CAUTIONS)
