"""The verdict's advice as changes: rounded up, the proportions kept, and it really helps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from img2pour.advising import Offer, offers_of, rounded_up, width_changes
from img2pour.job.build import make_job
from img2pour.job.model import Job
from img2pour.picture import picture_from_array
from img2pour.pipeline import convert
from img2pour.results import Result
from img2pour.units import parse_board, parse_length
from img2pour.web.edits import Change, changed
from img2pour.write.values import Board


@given(st.floats(1.0, 5000.0))
def test_widths_are_rounded_up_to_what_is_easy_to_measure(length_mm: float) -> None:
    inches, mm = (
        parse_length(rounded_up(length_mm, "in")),
        parse_length(rounded_up(length_mm, "mm")),
    )
    assert -1e-5 < inches.mm - length_mm <= 25.4 / 8
    assert (inches.mm / 25.4 * 8) == pytest.approx(round(inches.mm / 25.4 * 8))
    assert -1e-5 < mm.mm - length_mm <= 1.0
    assert mm.mm == round(mm.mm)


@pytest.mark.parametrize(
    ("mm", "text"), [(25.4, "1 in"), (25.5, "1 1/8 in"), (12.7, "1/2 in"), (362.0, "14 3/8 in")]
)
def test_inches_are_spelt_as_they_are_typed(mm: float, text: str) -> None:
    assert rounded_up(mm, "in") == text


def test_a_board_grows_with_its_margin() -> None:
    job = make_job(size={"board": "200 mm x 100 mm", "margin": "10 mm"})
    changes = dict(width_changes(300.0, job, Board(200.0, 100.0)))
    assert [side.mm for side in parse_board(changes["size.board"])] == [300.0, 150.0]
    assert parse_length(changes["size.margin"]).mm == 15.0


def judged(job: Job) -> Result:
    """Return the verdict on a square with two thin stems on wood."""
    rgb = np.full((300, 400, 3), (233, 216, 166), np.uint8)
    rgb[60:240, 60:200] = (11, 31, 58)
    rgb[100:103, 200:330] = (11, 31, 58)
    rgb[180:186, 200:330] = (11, 31, 58)
    return convert(picture_from_array(rgb), job, extent="judged")


def taken(job: Job, offer: Offer) -> Job:
    return changed(job, [Change(path, value) for path, value in offer.changes], 200)


def test_every_offer_can_be_taken_and_keeps_more() -> None:
    job = make_job(size={"width": "150 mm"}, bits={"use": ["flat 1/8 in"]})
    before = judged(job)
    assert before.verdict is not None
    assert before.verdict.lost_share > 0
    offers = [offer for offer in offers_of(before.verdict, job, before.board) if offer.changes]
    assert {offer.changes[0][0] for offer in offers} >= {"size.width", "bits.use", "carving.small"}
    for offer in offers:
        after = judged(taken(job, offer))
        assert after.verdict is not None
        assert after.verdict.lost_share < before.verdict.lost_share, offer.words
    whole = judged(taken(job, offers[0])).verdict
    assert whole is not None
    assert whole.lost_share == pytest.approx(0.0, abs=1e-6)


def test_where_nothing_is_lost_nothing_is_offered_to_take() -> None:
    job = make_job(size={"width": "2000 mm"}, bits={"use": ["flat 1/8 in"]})
    result = judged(job)
    assert result.verdict is not None
    assert not any(offer.changes for offer in offers_of(result.verdict, job, result.board))
